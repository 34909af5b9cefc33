"""Channels that take letters, and sending through them."""

from .channel import Channel, ChannelKind
from .check import check_channel
from .judge import judging_apart
from .remarks import SENT_AGAIN, SENT_LATE, is_report, not_taken, put_at_end, put_in_front, report_unreached
from .retries import RelaySettings, retry_delay
from .send import SendResult, send
from .verdict import Outcome, Phrase

__all__ = [
    "SENT_AGAIN",
    "SENT_LATE",
    "Channel",
    "ChannelKind",
    "Outcome",
    "Phrase",
    "RelaySettings",
    "SendResult",
    "check_channel",
    "is_report",
    "judging_apart",
    "not_taken",
    "put_at_end",
    "put_in_front",
    "report_unreached",
    "retry_delay",
    "send",
]
