"""Alerts: what opens, changes and ends them."""

from .alert import Alert, AlertState, Announcement, Outcome
from .changes import changes_between
from .decision import SITE, Decision, State, decide, model_reach, next_call
from .garden import Garden
from .lifecycle import TABLE, Event, NoticeKind, Step, step
from .notice import Change, Notice, Standing, Transition
from .outlook import Outlook, Refusal, outlook, reason_to_refuse
from .reports import COVER_AFTER, Report, can_be_reported, report_declined, report_done

__all__ = [
    "COVER_AFTER",
    "SITE",
    "TABLE",
    "Alert",
    "AlertState",
    "Announcement",
    "Change",
    "Decision",
    "Event",
    "Garden",
    "Notice",
    "NoticeKind",
    "Outcome",
    "Outlook",
    "Refusal",
    "Report",
    "Standing",
    "State",
    "Step",
    "Transition",
    "can_be_reported",
    "changes_between",
    "decide",
    "model_reach",
    "next_call",
    "outlook",
    "reason_to_refuse",
    "report_declined",
    "report_done",
    "step",
]
