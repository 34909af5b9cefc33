"""The command status: what is watched, what is open, what is next, what is wrong."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import click

from alertd.alerts import next_call
from alertd.core import instant_text
from alertd.hindcast import alert_facts
from alertd.messages import condition_text, when_text
from alertd.site import Condition
from alertd.store import OutboxState
from alertd.watch import age_text, health, read_cycle, wrongs

from .common import config_option, json_option, load_configuration, now_utc, open_store_to_read, print_json
from .tell import alert_line

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime
    from pathlib import Path

    from alertd.alerts import Alert, Garden, State
    from alertd.config import Loaded
    from alertd.store import Store
    from alertd.watch import CycleNote, Health


#: Ways by which messages wait are named up to so many; the others are counted. Assumed: one line is read.
_WAYS_NAMED = 4


@dataclass(frozen=True, slots=True)
class _Situation:
    """All that the command tells."""

    garden: Garden
    now: datetime
    note: CycleNote | None
    conditions: Mapping[str, Condition]
    open_alerts: tuple[Alert, ...]
    call: datetime | None
    start_by: datetime | None
    letters: Mapping[str, int]
    waiting: Mapping[tuple[str, str], int]
    wrongs: tuple[str, ...]
    health: Health
    record: str

    @classmethod
    def read(cls, loaded: Loaded, store: Store, now: datetime) -> _Situation:
        """Return how things stand, by the database alone."""
        garden, every = loaded.garden, loaded.polling.every
        state = store.load_state(garden.site.season_start(now))
        counts = store.outbox_summary().counts
        open_alerts = sorted((alert for alert in state.alerts if alert.is_open), key=_urgency)
        starts = (alert.announced.start_by for alert in open_alerts)
        return cls(
            garden=garden,
            now=now,
            note=read_cycle(store),
            conditions=_conditions(garden, state, now),
            open_alerts=tuple(open_alerts),
            call=next_call(garden, state, now),
            start_by=min((start for start in starts if start is not None and start > now), default=None),
            letters={each.value: counts[each] for each in OutboxState},
            waiting=_waiting(store),
            wrongs=tuple(wrongs(store, every, now)),
            health=health(store, every, now),
            record=str(store.head()),
        )


@click.command()
@config_option
@json_option
@click.option(
    "--healthy",
    "asks_health",
    is_flag=True,
    help="Print one line; exit 0 if the last good look is recent and messages move, else 1 with the reason.",
)
def status(config_path: Path | None, *, as_json: bool, asks_health: bool) -> None:
    """Tell what is watched, what is open, what is next and what is wrong."""
    loaded = load_configuration(config_path)
    now = now_utc()
    with open_store_to_read(loaded) as store:
        if asks_health:
            found = health(store, loaded.polling.every, now)
        else:
            situation = _Situation.read(loaded, store, now)
    if asks_health:
        if as_json:
            print_json({"is_healthy": found.is_healthy, "line": found.line})
        else:
            click.echo(found.line)
        sys.exit(0 if found.is_healthy else 1)
    if as_json:
        print_json(_facts(situation))
    else:
        click.echo("\n".join(_lines(situation)))


def _waiting(store: Store) -> dict[tuple[str, str], int]:
    """Count the messages that wait or are in flight, by recipient and channel, most first."""
    items = [*store.outbox_items(OutboxState.WAITING), *store.outbox_items(OutboxState.CLAIMED)]
    return dict(Counter((item.recipient, item.channel) for item in items).most_common())


def _conditions(garden: Garden, state: State, now: datetime) -> dict[str, Condition]:
    return {
        group.group_id: state.conditions.get(group.group_id, Condition()).in_season(garden.site, now)
        for group in garden.groups
    }


def _urgency(alert: Alert) -> tuple[float, str]:
    start_by = alert.announced.start_by
    return float("inf") if start_by is None else start_by.timestamp(), alert.alert_id


def _lines(situation: _Situation) -> list[str]:
    garden, now = situation.garden, situation.now
    letters = situation.letters
    waiting = letters[OutboxState.WAITING] + letters[OutboxState.CLAIMED]
    return [
        f"{garden.site.name}: {_counted(len(garden.groups), 'group')} watched, {_last_look(situation)}",
        *_group_lines(situation),
        *_source_lines(situation),
        "no alert is open" if not situation.open_alerts else f"{_counted(len(situation.open_alerts), 'alert')} open",
        *(f"  {alert_line(alert, garden, now)}" for alert in situation.open_alerts),
        f"next: {_next_text(situation)}",
        (
            f"messages: {waiting} waiting, {letters[OutboxState.ACCEPTED]} accepted, "
            f"{letters[OutboxState.DEAD]} given up; record {situation.record}"
        ),
        *_waiting_line(situation.waiting),
        *([f"wrong: {each}" for each in situation.wrongs] or ["nothing is wrong"]),
    ]


def _last_look(situation: _Situation) -> str:
    note, now = situation.note, situation.now
    if note is None:
        return "last look never yet"
    return f"last look {when_text(note.began, now, situation.garden.site)} ({_ago(note.began, now)})"


def _group_lines(situation: _Situation) -> list[str]:
    """Return the groups, those that stand alike in one line."""
    standing: dict[str, list[str]] = {}
    for group in situation.garden.groups:
        text = condition_text(group, situation.conditions[group.group_id])
        standing.setdefault(text, []).append(f"{group.group_id} ({group.name})")
    return [f"  {text}: {', '.join(names)}" for text, names in standing.items()]


def _source_lines(situation: _Situation) -> list[str]:
    """Return what the last look went by, with the credits that sources ask for."""
    now, site = situation.now, situation.garden.site
    if situation.note is None:
        return []
    return [
        f"source {each.name}: made {when_text(each.made, now, site)}, {age_text(_age(each.made, now))} old. "
        f"{each.credits}".rstrip()
        for each in situation.note.used
    ]


def _waiting_line(waiting: Mapping[tuple[str, str], int]) -> list[str]:
    """Return for whom messages wait, in one line at most."""
    ways = [f"{number} to {recipient} by {channel}" for (recipient, channel), number in waiting.items()]
    others = sum([*waiting.values()][_WAYS_NAMED:])
    named = ways[:_WAYS_NAMED] + ([f"{others} by other ways"] if others else [])
    return [f"  waiting: {', '.join(named)}"] if named else []


def _next_text(situation: _Situation) -> str:
    now, site = situation.now, situation.garden.site
    parts = []
    if situation.note is not None and situation.note.stopped is None and situation.note.next_look > now:
        parts.append(f"look {when_text(situation.note.next_look, now, site)}")
    if situation.call is not None and situation.call != situation.start_by:
        parts.append(f"reminder {when_text(situation.call, now, site)}")
    if situation.start_by is not None:
        parts.append(f"work starts by {when_text(situation.start_by, now, site)} at the latest")
    return ", ".join(parts) or "nothing is due"


def _facts(situation: _Situation) -> dict[str, object]:
    """Return the same as JSON values."""
    note, garden, now = situation.note, situation.garden, situation.now
    used, refused = (note.used, note.refused) if note is not None else ((), ())
    return {
        "site": garden.site.name,
        "now": instant_text(now),
        "version": None if note is None else note.version,
        "last_evaluation": None if note is None else instant_text(note.began),
        "last_evaluation_s": None if note is None else round(note.duration.total_seconds(), 3),
        "last_good_evaluation": _instant(None if note is None else note.last_good),
        "is_blind": None if note is None else note.is_blind,
        "sources": [
            {
                "source": each.name,
                "forecast_reference_time": instant_text(each.made),
                "retrieved": instant_text(each.retrieved),
                "age_s": round(_age(each.made, now).total_seconds()),
                "credits": each.credits,
            }
            for each in used
        ],
        "refused": [{"source": each.source, "reason": each.reason, "is_used": each.is_used} for each in refused],
        "groups": {name: condition.cover.value for name, condition in situation.conditions.items()},
        "open_alerts": [alert_facts(alert, garden) for alert in situation.open_alerts],
        "next": {
            "look": None if note is None or note.stopped is not None else instant_text(note.next_look),
            "reminder_or_final_call": _instant(situation.call),
            "start_by": _instant(situation.start_by),
        },
        "outbox": dict(situation.letters),
        "waiting": [
            {"recipient": recipient, "channel": channel, "messages": number}
            for (recipient, channel), number in situation.waiting.items()
        ],
        "wrong": list(situation.wrongs),
        "is_healthy": situation.health.is_healthy,
        "record": situation.record,
    }


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant_text(instant)


def _age(instant: datetime, now: datetime) -> timedelta:
    return max(now - instant, timedelta(0))


def _ago(instant: datetime, now: datetime) -> str:
    return f"{age_text(_age(instant, now))} ago"


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
