"""Evaluations that fail: logged each time, recorded, told to everybody once, and their end too."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.core import AlertdError, instant_text, parse_instant
from alertd.store import Commit

from .logs import error_text
from .notices import Notice, Notices

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.site import Site
    from alertd.store import Store
    from alertd.watch import Readership

_logger = logging.getLogger(__name__)

#: So many failures in a row are told. Assumed: one may be a passing lock or a full disk that somebody is mending.
TOLD_AFTER = 3

#: Under this the store remembers that people were told, and when the failures began.
_NOTE = "watch_fails_since"

_FAILS = "The watch itself fails: look at the forecast yourself"
_WORKS = "The watch works again"
_TOPIC = "watch"


class Failures:
    """Follows whether evaluations work.

    Parameters
    ----------
    store : Store
        Takes the record and the letters, and remembers over a restart what was told.
    readership : Readership
        Who is told.
    site : Site
        Whose.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """

    def __init__(self, store: Store, readership: Readership, site: Site) -> None:
        self._store = store
        self._notices = Notices(store, readership, site)
        self._began: datetime | None = None
        self._told_since = _noted(store.get_note(_NOTE))
        self.in_a_row = 0

    def use(self, readership: Readership, site: Site) -> None:
        """Tell others from now on.

        Parameters
        ----------
        readership : Readership
            Who is told.
        site : Site
            Whose.
        """
        self._notices.use(readership, site)

    def failed(self, error: Exception, now: datetime) -> None:
        """Take note of an evaluation that failed.

        Parameters
        ----------
        error : Exception
            Why.
        now : datetime
            Aware UTC.
        """
        self.in_a_row += 1
        self._began = self._began or now
        _logger.error("evaluation failed, %d in a row: %s", self.in_a_row, error_text(error))
        body = {"problem": "evaluation failed", "error": error_text(error), "in_a_row": self.in_a_row}
        try:
            self._record(AuditEvent(now, "problem", body), self._began, now)
        except AlertdError as second:
            _logger.error("the failure could not be recorded: %s", error_text(second))  # noqa: TRY400 - one line

    def worked(self, now: datetime) -> None:
        """Take note of an evaluation that worked.

        Parameters
        ----------
        now : datetime
            Aware UTC.
        """
        if self.in_a_row:
            _logger.info("evaluation works again, %d in a row had failed", self.in_a_row)
        self.in_a_row = 0
        self._began = None
        if self._told_since is None:
            return
        lines = (
            f"The evaluations that had failed since {self._notices.when(self._told_since)} work again.",
            "What has changed in the meantime is told in a message of its own, if anything has.",
        )
        notice = Notice(_WORKS, lines, _TOPIC, _thread(self._told_since), "None")
        try:
            self._notices.tell(notice, now, {_NOTE: ""})
            self._told_since = None
        except AlertdError as error:
            _logger.error("that the watch works again could not be told: %s", error_text(error))  # noqa: TRY400

    def _record(self, event: AuditEvent, began: datetime, now: datetime) -> None:
        if self.in_a_row < TOLD_AFTER or self._told_since is not None:
            self._store.commit(Commit(now, events=(event,)))
            return
        lines = (
            f"{self.in_a_row} evaluations in a row have ended with an error; the first at {self._notices.when(began)}.",
            "Until they work again nothing is judged and no new danger is told.",
            "Look at the forecast yourself, and at the log of alertd on its machine, which names the error.",
        )
        notice = Notice(_FAILS, lines, _TOPIC, _thread(began), "Assess")
        self._notices.tell(notice, now, {_NOTE: instant_text(began)}, before=(event,))
        self._told_since = began


def _thread(began: datetime) -> str:
    return f"watch-fails-{began:%Y%m%dT%H%M%SZ}"


def _noted(text: str | None) -> datetime | None:
    """Return when the failures began that people were told of; a spoilt note counts as none."""
    try:
        return parse_instant(text or "")
    except ValueError:
        return None
