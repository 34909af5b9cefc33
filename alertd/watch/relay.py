"""Carry letters from the outbox to the channels.

::

    accepted ──► accept
    unavailable, unknown ──► postpone, longer each time
        └─► after the last try, if the recipient has a next channel: give up
    refused ──► give up
    too old to be of use ──► expire

    give up ──► the same letter by the recipient's next channel
            └─► none left: report
    expire ──► report

    report ──► a short letter to everybody, the recipient too, which is tried for days, refused or not
           └─► if there is nobody else, or a report itself expires: the audit log and the daemon's log

Each channel carries one letter at a time and each send has a deadline, so a hung channel delays its own letters
only. A send that is stopped leaves its letter claimed: when the lease runs out the letter is sent again under the
same reference. So a letter may arrive twice, but none is lost. What became of a try is kept in memory while the
database cannot be written, so that a full disk does not make a letter arrive again and again. A line that is down for
hours loses nothing either: what waited is sent when it is back, with a line that says so, and what has been overtaken
meanwhile is named.
"""

from __future__ import annotations

import logging
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.core import AlertdError, StoreError
from alertd.delivery import (
    SENT_AGAIN,
    SENT_LATE,
    Outcome,
    Phrase,
    RelaySettings,
    SendResult,
    is_report,
    not_taken,
    put_at_end,
    put_in_front,
    report_unreached,
    retry_delay,
    send,
)
from alertd.store import Addressed

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from random import Random

    from alertd.delivery import Channel
    from alertd.store import OutboxItem, Store

__all__ = ["Relay", "RelaySettings"]

_logger = logging.getLogger(__name__)

#: How long stopping waits for sends in flight to end [s]; each looks every 0.1 s whether it shall stop.
_STOP_PATIENCE = 1.0

#: A letter that is sent so long after it was written says so. Assumed: longer than a few retries, shorter than the time
#: in which a forecast changes.
_LATE_AFTER = timedelta(hours=2)


def _system_clock() -> datetime:
    return datetime.now(UTC)


class Relay:
    """Carries letters from the outbox to the channels.

    Parameters
    ----------
    store : Store
        Holds the outbox; used from several threads.
    channels : mapping of str to Channel
        By name.
    settings : RelaySettings
        How hard to try.
    site_slug : str
        Short name of the site, for the threads of mails.
    others : mapping of str to tuple of str
        Every recipient with the channels, first choice first: all are told when one cannot be reached.
    random : random.Random
        For the jitter.
    clock : callable
        Returns the present as aware UTC, for the times at which sends end.
    """

    def __init__(
        self,
        store: Store,
        channels: Mapping[str, Channel],
        settings: RelaySettings,
        site_slug: str,
        *,
        random: Random,
        others: Mapping[str, tuple[str, ...]] | None = None,
        clock: Callable[[], datetime] = _system_clock,
    ) -> None:
        self._store = store
        self._channels = dict(channels)
        self._settings = settings
        self._site_slug = site_slug
        self._random = random
        self._others = dict(others or {})
        self._clock = clock
        self._stop = threading.Event()
        self._changed = threading.Condition()
        self._busy: set[str] = set()
        self._unrecorded: dict[int, tuple[int, SendResult]] = {}
        self._pool = ThreadPoolExecutor(settings.parallel, thread_name_prefix="relay")

    def use(
        self,
        channels: Mapping[str, Channel],
        settings: RelaySettings,
        site_slug: str,
        others: Mapping[str, tuple[str, ...]],
    ) -> None:
        """Send by other channels from the next letter on; letters in flight go on by the way that they have taken.

        Parameters
        ----------
        channels, settings, site_slug, others
            As at the start. How many letters go at the same time stays as it was.
        """
        with self._changed:
            self._channels = dict(channels)
            self._settings = replace(settings, parallel=self._settings.parallel)
            self._site_slug = site_slug
            self._others = dict(others)

    def run_once(self, now: datetime) -> int:
        """Start sending what is due; do not wait for it.

        A channel that has finished a letter takes its next one by itself.

        Parameters
        ----------
        now : datetime
            Aware UTC.

        Returns
        -------
        int
            Letters that were started.

        Raises
        ------
        StoreError
            If the database cannot be used; letters that were started go on.
        """
        with self._changed:
            room = self._settings.parallel - len(self._busy)
            if self._stop.is_set() or room <= 0:
                return 0
            items = self._store.claim(
                now,
                self._settings.lease,
                busy_channels=frozenset(self._busy),
                limit=room,
                longest_wait=self._settings.longest_wait,
            )
            for item in items:
                self._busy.add(item.channel)
                self._pool.submit(self._carry, item)
            return len(items)

    def wait(self, timeout: timedelta) -> bool:
        """Wait until no letter is in flight.

        Parameters
        ----------
        timeout : timedelta
            At most so long.

        Returns
        -------
        bool
            Whether none is.
        """
        with self._changed:
            return self._changed.wait_for(lambda: not self._busy, timeout.total_seconds())

    def stop(self) -> bool:
        """End all sends in flight and start no more; their letters stay claimed.

        Returns
        -------
        bool
            Whether all ended within a second. A write to a hung disk cannot be ended.
        """
        with self._changed:
            self._stop.set()
        has_ended = self.wait(timedelta(seconds=_STOP_PATIENCE))
        self._pool.shutdown(wait=False, cancel_futures=True)
        return has_ended

    def _carry(self, item: OutboxItem) -> None:
        is_settled = False
        try:
            kept = self._unrecorded.pop(item.item_id, None)
            attempt, result = (item.attempts, self._send(item)) if kept is None else kept
            if result.reason != Phrase.STOPPED:
                self._settle_or_keep(item, attempt, result)
                is_settled = True
        except AlertdError as error:  # the lease brings the letter back
            _logger.error("letter %s by channel %s: %s", item.reference, item.channel, error)  # noqa: TRY400
        except Exception as error:  # noqa: BLE001 - a thread must not end in silence
            _logger.error("letter %s by channel %s: %s", item.reference, item.channel, type(error).__name__)  # noqa: TRY400
        with self._changed:  # until the next letter is claimed, so that nobody who waits sees a gap between two letters
            self._busy.discard(item.channel)
            self._changed.notify_all()
            if is_settled:
                self._go_on()

    def _go_on(self) -> None:
        try:
            self.run_once(self._clock())
        except AlertdError as error:
            _logger.error("outbox: %s", error)  # noqa: TRY400

    def _send(self, item: OutboxItem) -> SendResult:
        if self._has_expired(item):
            return SendResult(Outcome.EXPIRED, Phrase.TOO_OLD.value, None, timedelta(0))
        channel = self._channels.get(item.channel)
        if channel is None:
            return SendResult(Outcome.REFUSED, Phrase.NO_CHANNEL.value, None, timedelta(0))
        letter = put_at_end(item.letter, SENT_AGAIN) if item.is_resend else item.letter
        if self._clock() - letter.composed >= _LATE_AFTER:
            letter = put_in_front(letter, SENT_LATE)
        try:
            return send(channel, letter, site_slug=self._site_slug, deadline=self._settings.deadline, stop=self._stop)
        except Exception as error:  # noqa: BLE001 - a fault of ours is tried again and given up like any other
            _logger.error("letter %s by channel %s: %s", item.reference, item.channel, type(error).__name__)  # noqa: TRY400
            return SendResult(Outcome.UNKNOWN, Phrase.OWN_FAULT.value, None, timedelta(0))

    def _has_expired(self, item: OutboxItem) -> bool:
        lasts = self._settings.reports_last if is_report(item.letter) else self._settings.lasts
        return self._clock() - item.letter.composed >= lasts

    def _settle_or_keep(self, item: OutboxItem, attempt: int, result: SendResult) -> None:
        try:
            self._settle(item, attempt, result)
        except StoreError:
            self._unrecorded[item.item_id] = attempt, result
            raise

    def _settle(self, item: OutboxItem, attempt: int, result: SendResult) -> None:
        now = self._clock()
        event = _send_event(item, attempt, result, now)
        if result.outcome is Outcome.ACCEPTED:
            self._store.accept(item, now, event)
            return
        _logger.warning(
            "letter %s to %s by channel %s, try %d: %s",
            item.reference,
            item.recipient,
            item.channel,
            attempt,
            result.reason,
        )
        is_refused = result.outcome is Outcome.REFUSED
        if result.outcome is Outcome.EXPIRED:
            self._report(item, result.reason, event, now)
        elif item.fallback_channels and (is_refused or item.attempts >= self._settings.max_tries):
            letter = put_in_front(item.letter, not_taken(item.channel, result.reason))
            instead = Addressed(letter, item.fallback_channels, item.published_head)
            self._store.bury(item, now, result.reason, event, instead)
        elif is_refused and is_report(item.letter):
            self._store.postpone(item, now, now + self._settings.reports_pause, result.reason, event)
        elif is_refused:
            self._report(item, result.reason, event, now)
        else:
            delay = retry_delay(self._settings, item.attempts, result.retry_after, self._random)
            is_unknown = result.outcome is Outcome.UNKNOWN
            self._store.postpone(item, now, now + delay, result.reason, event, is_outcome_unknown=is_unknown)

    def _report(self, item: OutboxItem, reason: str, event: AuditEvent, now: datetime) -> None:
        """Give a letter up for good, and tell those who can be told."""
        reports = [] if is_report(item.letter) else self._reports(item, reason, now)
        further = [_letter_event(report, item, now) for report in reports]
        is_told = any(report.letter.recipient != item.recipient for report in reports)
        if not is_told:
            body = {"problem": "unreached", "reference": item.reference, "recipient": item.recipient, "reason": reason}
            further.append(AuditEvent(now, "problem", body))
        if self._store.bury(item, now, reason, event, *reports, further=further) and not is_told:
            _logger.error(
                "letter %s: %s could not be reached, and there is nobody else to tell; mend the channel %s (%s)",
                item.reference,
                item.recipient,
                item.channel,
                reason,
            )

    def _reports(self, item: OutboxItem, reason: str, now: datetime) -> list[Addressed]:
        reports = []
        for recipient, names in self._others.items():
            channels = tuple(name for name in dict.fromkeys(names) if name in self._channels)
            if channels:
                letter = report_unreached(
                    item.letter, recipient, number=item.item_id, channel=item.channel, reason=reason, now=now
                )
                reports.append(Addressed(letter, channels))
        return reports


def _send_event(item: OutboxItem, attempt: int, result: SendResult, now: datetime) -> AuditEvent:
    body = {
        "reference": item.reference,
        "recipient": item.recipient,
        "channel": item.channel,
        "attempt": attempt,
        "outcome": result.outcome.value,
        "reason": result.reason,
        "elapsed_s": round(result.elapsed.total_seconds(), 1),
    }
    return AuditEvent(now, "send", body)


def _letter_event(report: Addressed, item: OutboxItem, now: datetime) -> AuditEvent:
    body = {
        "reference": report.letter.reference,
        "recipient": report.letter.recipient,
        "subject": report.letter.subject,
        "channels": list(report.channels),
        "reports": item.reference,
    }
    return AuditEvent(now, "letter", body)
