"""A hindcast as JSON values and as text."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from alertd.core import in_unit, instant_text, threshold_text
from alertd.weather import freeze_dates

from .score import score

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Alert, Announcement, Garden
    from alertd.messages import Letter
    from alertd.weather import Series

    from .engine import Hindcast


def hindcast_facts(hindcast: Hindcast, record: Series) -> dict[str, object]:
    """Return a hindcast as JSON values.

    Parameters
    ----------
    hindcast : Hindcast
        What was played.
    record : Series
        The record, for its freeze dates.

    Returns
    -------
    dict
        ``alerts``, ``messages`` and ``summary``. Temperatures in the configuration's unit, times RFC 3339 in UTC.
        An alert's own fields are those of its first message; ``later`` holds the messages that followed.
    """
    return {
        "unit": hindcast.garden.units.value,
        "alerts": [alert_facts(alert, hindcast.garden) for alert in hindcast.alerts],
        "messages": [_letter(letter) for letter in hindcast.letters],
        "summary": _summary(hindcast, record),
    }


def alert_facts(alert: Alert, garden: Garden) -> dict[str, object]:
    """Return an alert as JSON values, in the reader's unit.

    Parameters
    ----------
    alert : Alert
        The alert.
    garden : Garden
        Gives the unit.

    Returns
    -------
    dict
        Names, what the first message said, later messages, how it ended.
    """
    return {
        "id": alert.alert_id,
        "group": alert.group,
        "action": alert.action.value,
        "rule": alert.rule.value,
        "state": alert.state.value,
        **_told(alert.opened, garden),
        "ended": _instant(alert.ended),
        "outcome": None if alert.outcome is None else alert.outcome.value,
        "later": [_told(told, garden) for told in alert.history[1:]],
    }


def _told(told: Announcement, garden: Garden) -> dict[str, object]:
    """Return what one message said of an alert."""
    return {
        "message_type": told.message_type.value,
        "response_type": told.response_type.value,
        "severity": told.severity.value,
        "urgency": told.urgency.value,
        "certainty": told.certainty.value,
        "sent": instant_text(told.sent),
        "onset": _instant(told.onset),
        "start_by": _instant(told.start_by),
        "minimum": _temperature(told.minimum, garden),
        "probability": None if told.probability is None else round(told.probability, 4),
    }


def _letter(letter: Letter) -> dict[str, object]:
    """Return a letter as JSON values."""
    return {
        "reference": letter.reference,
        "recipient": letter.recipient,
        "sent": instant_text(letter.composed),
        "subject": letter.subject,
        "alerts": list(letter.threads),
        "text": letter.text,
    }


def _summary(hindcast: Hindcast, record: Series) -> dict[str, object]:
    """Return the counts of a hindcast."""
    garden, table = hindcast.garden, score(hindcast)
    return {
        "from": instant_text(hindcast.start),
        "to": instant_text(hindcast.end),
        "evaluations": hindcast.evaluations,
        "alerts": len(hindcast.alerts),
        "messages": len(hindcast.letters),
        "hours_below": [
            {
                "group": each.group,
                "rule": each.threshold.rule.value,
                "threshold": _temperature(each.threshold.critical.temperature, garden),
                "hours": each.hours,
            }
            for each in hindcast.hours_below
        ],
        "harmful_spells": len(hindcast.harmful),
        "harmful": [
            {
                "group": each.group,
                "onset": instant_text(each.onset),
                "end": instant_text(each.end),
                "minimum": _temperature(each.minimum, garden),
                "rules": [rule.value for rule in each.rules],
            }
            for each in hindcast.harmful
        ],
        "hits": table.hits,
        "protected": table.protected,
        "misses": table.misses,
        "false_alarms": table.false_alarms,
        "freeze_dates": [
            {
                "season_start": instant_text(dates.season_start),
                "first_freeze": _instant(dates.first),
                "last_freeze": _instant(dates.last),
            }
            for dates in freeze_dates(record, garden.site.latitude)
        ],
    }


def hindcast_text(hindcast: Hindcast, record: Series) -> str:
    """Return a hindcast for reading.

    Parameters
    ----------
    hindcast : Hindcast
        What was played.
    record : Series
        The record.

    Returns
    -------
    str
        Messages in order with their local times, then the counts.
    """
    garden, table = hindcast.garden, score(hindcast)
    lines = _letter_lines(hindcast)
    lines += [
        "",
        f"{hindcast.evaluations} evaluations from {_local(hindcast.start, garden)} to {_local(hindcast.end, garden)}",
        f"{len(hindcast.alerts)} alerts, {len(hindcast.letters)} messages",
        f"harmful spells: {len(hindcast.harmful)}{_by_rule(hindcast)}",
        f"  told to act before it began: {table.hits}",
        f"  found the protection in place: {table.protected}",
        f"  missed: {table.misses}",
        f"calls to act without harm: {table.false_alarms}",
        "hours past each threshold, by the air or by the rule's model:",
    ]
    lines += [
        f"  {each.group}, {each.threshold.rule.value} "
        f"{threshold_text(each.threshold.critical.temperature, garden.units)}: {each.hours}"
        for each in hindcast.hours_below
    ]
    for dates in freeze_dates(record, garden.site.latitude):
        first = "none" if dates.first is None else _local(dates.first, garden)
        last = "none" if dates.last is None else _local(dates.last, garden)
        lines.append(f"cold season from {dates.season_start:%Y-%m}: first freeze {first}, last freeze {last}")
    return "\n".join(lines) + "\n"


def _by_rule(hindcast: Hindcast) -> str:
    """Return how many spells did harm by each rule."""
    counts = Counter(rule.value for spell in hindcast.harmful for rule in spell.rules)
    return f" ({', '.join(f'{rule} {count}' for rule, count in counts.items())})" if counts else ""


def _letter_lines(hindcast: Hindcast) -> list[str]:
    """Return each letter with its local time; a letter that several people get stands once, with their names."""
    readers: dict[tuple[str, str], list[str]] = {}
    for letter in hindcast.letters:
        readers.setdefault((_local(letter.composed, hindcast.garden), letter.subject), []).append(letter.recipient)
    everybody = {letter.recipient for letter in hindcast.letters}
    return [
        f"{when}  {subject}" if len(everybody) == 1 else f"{when}  {subject} (to {', '.join(names)})"
        for (when, subject), names in readers.items()
    ]


def _local(instant: datetime, garden: Garden) -> str:
    """Return an instant in local time."""
    return garden.site.local(instant).strftime("%Y-%m-%d %H:%M")


def _instant(instant: datetime | None) -> str | None:
    """Return an instant as RFC 3339 text."""
    return None if instant is None else instant_text(instant)


def _temperature(temperature: float | None, garden: Garden) -> float | None:
    """Return a temperature in the reader's unit."""
    return None if temperature is None else round(in_unit(temperature, garden.units), 2)
