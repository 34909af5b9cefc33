"""Alerts and conditions in their tables."""

from __future__ import annotations

import json
from types import MappingProxyType
from typing import TYPE_CHECKING

from alertd.alerts import Alert, State
from alertd.audit import canonical_json
from alertd.core import ReportError, StoreError

from .codec import alert_document, alert_from, condition_document, condition_from, sortable_text
from .database import Database
from .trouble import explained

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Mapping
    from datetime import datetime
    from pathlib import Path

    from alertd.site import Condition

_VERSION_KEY = "state_version"

_UPSERT_ALERT = """
    INSERT INTO alerts (alert_id, group_id, action, state, revision, opened, ended, document)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (alert_id) DO UPDATE SET group_id = excluded.group_id, action = excluded.action,
        state = excluded.state, revision = excluded.revision, opened = excluded.opened, ended = excluded.ended,
        document = excluded.document
"""

_UPSERT_CONDITION = """
    INSERT INTO conditions (group_id, document) VALUES (?, ?)
    ON CONFLICT (group_id) DO UPDATE SET document = excluded.document
"""

_SEASON_ALERTS = """
    SELECT alert_id, document FROM alerts
    WHERE ended IS NULL OR ended >= :start OR opened >= :start
    ORDER BY opened, alert_id
"""

#: Candidates that are named when a prefix fits several alerts. Assumed.
_NAMED_CANDIDATES = 5


class AlertTables(Database):
    """The part of a store that holds alerts and conditions.

    What was read is kept. It is given out again only while SQLite says that no other connection has committed
    (``PRAGMA data_version``) and this one has not changed alerts or conditions either; decoded alerts are kept with
    the very text that they were decoded from.
    """

    def __init__(self, connection: sqlite3.Connection, name: str, path: Path | None = None) -> None:
        super().__init__(connection, name, path)
        self._decoded: dict[str, tuple[str, Alert]] = {}
        self._state: tuple[tuple[int, str], State] | None = None

    def load_state(self, season_start: datetime) -> State:
        """Return what the next evaluation has to know.

        Parameters
        ----------
        season_start : datetime
            Aware.

        Returns
        -------
        State
            All conditions; all open alerts and those that opened or ended at `season_start` or later, in the order
            in which they opened.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        start = sortable_text(season_start)
        with self._lock, explained(self.name):
            if self._state is not None and self._state[0] == (self._data_version(), start):
                return self._state[1]
            with self._reading() as connection:
                version = self._data_version()
                alerts = self._decode_alerts(connection.execute(_SEASON_ALERTS, {"start": start}))
                conditions = dict(connection.execute("SELECT group_id, document FROM conditions ORDER BY group_id"))
            decoded = {group: self._decode_condition(group, document) for group, document in conditions.items()}
            state = State(conditions=MappingProxyType(decoded), alerts=alerts)
            self._state = ((version, start), state)
            return state

    def state_version(self) -> int:
        """Return a number that grows with every change of alerts or conditions.

        Read it before `load_state` and give it to `Commit` as ``based_on``: then a report that a person makes in
        between is never overwritten.

        Returns
        -------
        int
            From 0.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            return self._state_version()

    def all_alerts(self) -> tuple[Alert, ...]:
        """Return every alert there ever was.

        Returns
        -------
        tuple of Alert
            In the order in which they opened.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            rows = self._connection.execute("SELECT alert_id, document FROM alerts ORDER BY opened, alert_id")
            return self._decode_alerts(rows)

    def alert(self, alert_id: str) -> Alert | None:
        """Return one alert.

        Parameters
        ----------
        alert_id : str
            In full.

        Returns
        -------
        Alert or None
            ``None`` if there is none of this name.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            rows = self._connection.execute("SELECT alert_id, document FROM alerts WHERE alert_id = ?", (alert_id,))
            return next(iter(self._decode_alerts(rows)), None)

    def find_alert(self, prefix: str) -> Alert:
        """Return the alert that a person means.

        Parameters
        ----------
        prefix : str
            An alert id, or enough of its beginning. Among several that fit, the only open one is meant.

        Returns
        -------
        Alert
            The one meant.

        Raises
        ------
        ReportError
            If no alert fits, or several do and not exactly one of them is open.
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            rows = self._connection.execute(
                "SELECT alert_id, document FROM alerts WHERE substr(alert_id, 1, length(:prefix)) = :prefix "
                "ORDER BY opened DESC, alert_id",
                {"prefix": prefix},
            )
            fitting = self._decode_alerts(rows)
        exact = [alert for alert in fitting if alert.alert_id == prefix]
        opened = [alert for alert in fitting if alert.is_open]
        for candidates in (exact, fitting, opened):
            if len(candidates) == 1:
                return candidates[0]
        raise ReportError(_not_found_text(prefix, fitting))

    def _forget_decoded(self) -> None:
        """Read everything anew from now on."""
        self._state = None
        self._decoded.clear()

    def _state_version(self) -> int:
        return int(self._meta(_VERSION_KEY) or 0)

    def _data_version(self) -> int:
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def _write_state(self, alerts: Iterable[Alert], conditions: Mapping[str, Condition]) -> None:
        """Write alerts and conditions, within the transaction of the caller."""
        alert_rows = [_alert_row(alert) for alert in alerts]
        condition_rows = [
            (group, canonical_json(condition_document(condition))) for group, condition in conditions.items()
        ]
        if alert_rows or condition_rows:
            self._state = None
            self._connection.executemany(_UPSERT_ALERT, alert_rows)
            self._connection.executemany(_UPSERT_CONDITION, condition_rows)
            self._set_meta(_VERSION_KEY, str(self._state_version() + 1))

    def _decode_alerts(self, rows: Iterable[tuple[str, str]]) -> tuple[Alert, ...]:
        return tuple(self._decode_alert(alert_id, document) for alert_id, document in rows)

    def _decode_alert(self, alert_id: str, document: str) -> Alert:
        known = self._decoded.get(alert_id)
        if known is not None and known[0] == document:
            return known[1]
        try:
            alert = alert_from(json.loads(document))
        except ValueError as error:
            raise StoreError(self._spoilt_text(f"alert {alert_id}", error)) from error
        self._decoded[alert_id] = (document, alert)
        return alert

    def _decode_condition(self, group: str, document: str) -> Condition:
        try:
            return condition_from(json.loads(document))
        except ValueError as error:
            raise StoreError(self._spoilt_text(f"the condition of {group}", error)) from error

    def _spoilt_text(self, what: str, error: ValueError) -> str:
        return f"database {self.name}: {what} is spoilt ({error}); put a copy of the database in its place"


def _alert_row(alert: Alert) -> tuple[object, ...]:
    return (
        alert.alert_id,
        alert.group,
        alert.action.value,
        alert.state.value,
        alert.revision,
        sortable_text(alert.opened.sent),
        None if alert.ended is None else sortable_text(alert.ended),
        canonical_json(alert_document(alert)),
    )


def _not_found_text(prefix: str, fitting: tuple[Alert, ...]) -> str:
    if not fitting:
        return f"no alert is called {prefix!r} or begins so; `alertd status` lists them"
    names = ", ".join(alert.alert_id for alert in fitting[:_NAMED_CANDIDATES])
    more = "" if len(fitting) <= _NAMED_CANDIDATES else f" and {len(fitting) - _NAMED_CANDIDATES} more"
    return f"{prefix!r} fits several alerts: {names}{more}; give the whole name of one"
