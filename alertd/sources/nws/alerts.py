"""Watches, warnings and advisories that are active at a position."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from alertd.core import SourceMalformed, as_utc
from alertd.sources.position import coordinate_text
from alertd.sources.request import Request

from .problems import explain
from .reading import (
    as_instant,
    as_list,
    as_object,
    as_text,
    objects,
    optional_instant,
    optional_text,
    quoted,
    read_object,
)
from .service import BASE_URL, HEADERS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher

#: Assumed: watches come a day ahead, warnings hours ahead.
PAUSE = timedelta(minutes=15)

#: Primary VTEC: product class, action, office, phenomenon, significance, number and time of the event, like
#: ``/O.NEW.KZZQ.FZ.W.0003.240112T0600Z-240112T1500Z/``. Source: NWS Instruction 10-1703, from memory.
_VTEC = re.compile(
    r"/[OTEX]\.([A-Z]{3})\.([A-Z]{4}\.[A-Z]{2}\.[A-Z]\.\d{4})\.(\d{6}T\d{4}Z)-(\d{6}T\d{4}Z)/", flags=re.ASCII
)

#: Actions by which an event ends: cancelled, or upgraded to another one. Source: as above.
_ENDING_ACTIONS = frozenset({"CAN", "UPG"})


@dataclass(frozen=True, slots=True)
class NwsAlert:
    """One watch, warning or advisory. Its texts are the service's own, unchanged.

    Parameters
    ----------
    identifier : str
        New with each update of the same event.
    event : str
        Like ``Freeze Warning``.
    headline : str
        ``""`` if it has none.
    sent : datetime
        Aware UTC.
    onset, ends : datetime or None
        Aware UTC: when the event itself begins and ends, ``None`` if it does not say. The message's own expiry is
        often earlier than the event's end, and is not used.
    severity, certainty, urgency : str
        CAP tokens.
    area, description, instruction : str
        Texts; ``""`` where there is none.
    events : frozenset of str
        Office, phenomenon, significance and number of the events that it speaks of, by which updates of one event
        are known; empty if it has none.
    references : frozenset of str
        Identifiers of the messages that it replaces.
    """

    identifier: str
    event: str
    headline: str
    sent: datetime
    onset: datetime | None
    ends: datetime | None
    severity: str
    certainty: str
    urgency: str
    area: str
    description: str
    instruction: str
    events: frozenset[str]
    references: frozenset[str]

    def has_ended(self, now: datetime) -> bool:
        """Return whether the event is over at `now`, by its own word."""
        return self.ends is not None and self.ends <= now


@dataclass(frozen=True, slots=True)
class NwsAlerts:
    """What is active at a position.

    Parameters
    ----------
    alerts : tuple of NwsAlert
        In the order of their onsets; none if nothing is active.
    retrieved : datetime
        Aware UTC.
    problem : str
        Why this is the stored last good answer and not a new one; ``""`` if it is new.
    """

    alerts: tuple[NwsAlert, ...]
    retrieved: datetime
    problem: str = ""


class NwsAlertSource:
    """Asks what is active at a site.

    Parameters
    ----------
    name : str
        As in the configuration.
    site : Site
        Whose position is asked.
    fetcher : Fetcher
        Asks politely.
    base_url : str or None
        Of the service.
    """

    def __init__(self, name: str, site: Site, fetcher: Fetcher, *, base_url: str | None = None) -> None:
        self.name = name
        self._fetcher = fetcher
        position = f"{coordinate_text(site.latitude)},{coordinate_text(site.longitude)}"
        self._request = Request(
            key=f"{name}/alerts/{position}",
            url=f"{(base_url or BASE_URL).rstrip('/')}/alerts/active",
            parameters=(("point", position), ("status", "actual")),
            headers=HEADERS,
            pause=PAUSE,
            explain=explain,
        )

    def get(self, now: datetime) -> NwsAlerts:
        """Return what is active.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        NwsAlerts
            Without events that have ended, which a stored answer may still hold.

        Raises
        ------
        SourceUnavailable
            If the service cannot be reached and nothing is stored.
        SourceMalformed
            If its answer cannot be trusted and nothing is stored.
        """
        alerts, answer = self._fetcher.fetch_and_parse(self._request, now, parse_alerts)
        instant = as_utc(now)
        active = tuple(alert for alert in alerts if not alert.has_ended(instant))
        return NwsAlerts(active, answer.retrieved, answer.problem)


def parse_alerts(body: bytes) -> tuple[NwsAlert, ...]:
    """Return the alerts in an answer of ``/alerts/active``, each event once.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``.

    Returns
    -------
    tuple of NwsAlert
        In the order of their onsets, without tests, cancellations and messages that a later one replaces.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, or an alert lacks its identifier, event or time of sending.
    """
    document = read_object(body)
    if document.get("type", "FeatureCollection") != "FeatureCollection":
        message = f"the answer is {quoted(document['type'])} and no list of alerts"
        raise SourceMalformed(message)
    messages = []
    for feature in objects(as_list(document.get("features"), "features"), "features"):
        properties = as_object(feature.get("properties"), "an alert's properties")
        if properties.get("status", "Actual") == "Actual":
            messages.append((_alert(properties), _is_over(properties)))
    return without_repetitions(messages)


def without_repetitions(messages: Iterable[tuple[NwsAlert, bool]]) -> tuple[NwsAlert, ...]:
    """Return each event once: what its last message says.

    Parameters
    ----------
    messages : iterable of (NwsAlert, bool)
        Alerts, and whether the message only says that its event is over.

    Returns
    -------
    tuple of NwsAlert
        In the order of their onsets.

    Notes
    -----
    A message that a later one refers to is replaced, as is one of whose events later ones speak, all of them.
    Identifiers do not tell, for each update has a new one. Of messages sent at once, one by which an event goes on
    counts as the later: a cancellation may mean another part of the area.
    """
    newest_first = sorted(messages, key=_age, reverse=True)
    replaced: set[str] = set()
    events: set[str] = set()
    kept = []
    for alert, is_over in newest_first:
        is_known = alert.identifier in replaced or (bool(alert.events) and alert.events <= events)
        replaced |= alert.references | {alert.identifier}
        events |= alert.events
        if not is_known and not is_over:
            kept.append(alert)
    return tuple(sorted(kept, key=lambda alert: (alert.onset or alert.sent, alert.identifier)))


def _age(message: tuple[NwsAlert, bool]) -> tuple[datetime, bool, str]:
    """Return what puts messages in the order in which they count, the oldest first."""
    alert, is_over = message
    return alert.sent, not is_over, alert.identifier


def _alert(properties: dict[str, Any]) -> NwsAlert:
    """Return the alert of one feature."""
    onset = optional_instant(properties.get("onset"), "an alert's onset")
    references = objects(as_list(properties.get("references") or [], "an alert's references"), "references")
    return NwsAlert(
        identifier=as_text(properties.get("id"), "an alert's id"),
        event=as_text(properties.get("event"), "an alert's event"),
        headline=optional_text(properties.get("headline"), "an alert's headline"),
        sent=as_instant(properties.get("sent"), "an alert's sent"),
        onset=onset,
        ends=_ends(properties),
        severity=optional_text(properties.get("severity"), "an alert's severity") or "Unknown",
        certainty=optional_text(properties.get("certainty"), "an alert's certainty") or "Unknown",
        urgency=optional_text(properties.get("urgency"), "an alert's urgency") or "Unknown",
        area=optional_text(properties.get("areaDesc"), "an alert's areaDesc"),
        description=optional_text(properties.get("description"), "an alert's description"),
        instruction=optional_text(properties.get("instruction"), "an alert's instruction"),
        events=frozenset(match[2] for match in _vtec(properties)),
        references=frozenset(as_text(item.get("identifier"), "a reference's identifier") for item in references),
    )


def _ends(properties: dict[str, Any]) -> datetime | None:
    """Return when the event ends: ``ends``, or else the parameter that says so."""
    if properties.get("ends") is not None:
        return as_instant(properties["ends"], "an alert's ends")
    times = _parameter(properties, "eventEndingTime")
    return as_instant(times[0], "an alert's eventEndingTime") if times else None


def _is_over(properties: dict[str, Any]) -> bool:
    """Return whether a message only says that its event is over."""
    actions = [match[1] for match in _vtec(properties)]
    return properties.get("messageType") == "Cancel" or (bool(actions) and _ENDING_ACTIONS.issuperset(actions))


def _vtec(properties: dict[str, Any]) -> list[re.Match[str]]:
    """Return the events that a message speaks of."""
    texts = [as_text(text, "an alert's VTEC") for text in _parameter(properties, "VTEC")]
    return [match for text in texts for match in _VTEC.finditer(text)]


def _parameter(properties: dict[str, Any], name: str) -> list[Any]:
    """Return the values of a parameter, none if it is absent."""
    parameters = as_object(properties.get("parameters") or {}, "an alert's parameters")
    return as_list(parameters.get(name) or [], f"an alert's {name}")
