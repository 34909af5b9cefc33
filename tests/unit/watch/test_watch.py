"""One evaluation over sources that fail, and people who report in between."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time, timedelta
from typing import TYPE_CHECKING

import pytest

from alertd.core import SourceUnavailable, StoreError
from alertd.messages import Reader
from alertd.site import Cover, QuietHours
from alertd.store import Store
from alertd.watch import Readership, Watch, mark
from tests.fakes.garden import FIGS, POTS, local, make_forecast, make_garden, nights

if TYPE_CHECKING:
    from alertd.weather import Forecast

TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)
GARDEN = make_garden(POTS, FIGS)
COLD = nights(TUESDAY.date(), [0.0, -14.0, *[0.0] * 7])


@dataclass
class Told:
    """A source that gives what it was told, and fails when it was told nothing."""

    name: str = "north"
    forecast: Forecast | None = None

    def get(self, now):
        """Return the forecast."""
        if self.forecast is None:
            message = f"north: nothing at {now:%H:%M}"
            raise SourceUnavailable(message)
        return self.forecast, ()


class Interrupted(dict):
    """Channels by recipient; looking them up, as writing letters does, lets somebody report."""

    def __init__(self, report, times: int) -> None:
        super().__init__(keeper=("paper",))
        self.report, self.times = report, times

    def __getitem__(self, key):
        if self.times:
            self.times -= 1
            self.report()
        return super().__getitem__(key)


@dataclass
class Case:
    """A watch over one source and a store in memory."""

    source: Told = field(default_factory=lambda: Told(forecast=make_forecast(TUESDAY, COLD)))
    channels: dict = field(default_factory=lambda: {"keeper": ("paper",)})

    def __enter__(self) -> Watch:
        self.store = Store.open(None)
        return Watch(GARDEN, [self.source], Readership((Reader("keeper"),), self.channels), self.store)

    def __exit__(self, *_failure) -> None:
        self.store.close()


def test_a_source_that_fails_is_used_with_its_last_good_answer_until_it_is_stale() -> None:
    case = Case()
    with case as watch:
        watch.evaluate(TUESDAY)
        case.source.forecast = None
        decision = watch.evaluate(TUESDAY + HOUR)
        assert decision.outlook.series is not None
        (refusal,) = decision.outlook.refused
        assert refusal.is_used
        assert watch.evaluate(TUESDAY + 13 * HOUR).outlook.series is None


def test_an_answer_older_than_the_one_before_does_not_take_its_place() -> None:
    case = Case()
    with case as watch:
        watch.evaluate(TUESDAY)
        case.source.forecast = make_forecast(TUESDAY - 88 * HOUR, COLD)
        decision = watch.evaluate(TUESDAY + HOUR)
        (used,) = decision.outlook.used
        assert used.forecast_reference_time == TUESDAY
        assert "older forecast than before, made 2026-01-16T21:00:00Z" in decision.outlook.refused[0].reason


def test_an_answer_that_breaks_off_too_soon_leaves_the_one_before_in_use_until_that_is_stale() -> None:
    case = Case()
    with case as watch:
        watch.evaluate(TUESDAY)
        short = COLD.window(TUESDAY - HOUR, TUESDAY + 20 * HOUR)
        for hours in (1, 2):
            case.source.forecast = make_forecast(TUESDAY + hours * HOUR, short)
            decision = watch.evaluate(TUESDAY + hours * HOUR)
            (used,) = decision.outlook.used
            assert used.forecast_reference_time == TUESDAY
            assert "the newest answer cannot be used, incomplete: " in decision.outlook.refused[0].reason
        case.source.forecast = make_forecast(TUESDAY + 13 * HOUR, short)
        decision = watch.evaluate(TUESDAY + 13 * HOUR)
        assert decision.outlook.series is None
        assert decision.outlook.refused[0].reason.startswith("incomplete: ")
        case.source.forecast = make_forecast(TUESDAY + 14 * HOUR, COLD)
        assert watch.evaluate(TUESDAY + 14 * HOUR).outlook.refused == ()


def test_a_source_that_never_answered_leaves_the_watch_blind() -> None:
    with Case(source=Told()) as watch:
        assert watch.evaluate(TUESDAY).outlook.series is None


def test_a_report_made_while_it_is_judged_is_seen_and_not_overwritten() -> None:
    case = Case()
    case.channels = Interrupted(lambda: mark(GARDEN, case.store, "pots", "in-place", TUESDAY), times=1)
    with case as watch:
        decision = watch.evaluate(TUESDAY)
        assert decision.conditions["pots"].cover is Cover.IN_PLACE
        assert {notice.alert.group for notice in decision.notices} == {"figs"}
        assert case.store.verify_audit() == []


def test_reports_that_never_cease_leave_the_evaluation_to_the_next_look() -> None:
    case = Case()
    words = iter(["in-place", "off"] * 20)
    case.channels = Interrupted(lambda: mark(GARDEN, case.store, "pots", next(words), TUESDAY), times=99)
    with case as watch, pytest.raises(StoreError, match="reports keep changing the state"):
        watch.evaluate(TUESDAY)


def test_assessing_changes_nothing() -> None:
    case = Case()
    with case as watch:
        assert watch.assess(TUESDAY).notices
        assert case.store.head().sequence == 0
        assert case.store.outbox_items() == []


def test_reports_since_the_last_evaluation_are_noticed() -> None:
    case = Case()
    with case as watch:
        assert not watch.has_reports()
        watch.evaluate(TUESDAY)
        assert not watch.has_reports()
        mark(GARDEN, case.store, "pots", "in-place", TUESDAY)
        assert watch.has_reports()
        watch.evaluate(TUESDAY)
        assert not watch.has_reports()


def test_the_next_letter_that_waits_is_a_call_like_any_other() -> None:
    case = Case()
    with case as watch:
        watch.readership = Readership((Reader("keeper", digest=time(9)),), case.channels)
        watch.evaluate(TUESDAY)
        assert watch.next_call(TUESDAY) == TUESDAY + HOUR
        watch.evaluate(TUESDAY + HOUR)
        assert case.store.outbox_items()[-1].letter.subject.startswith("Tue 20 Jan: ")
        call = watch.next_call(TUESDAY + HOUR)
        assert call is not None
        assert call > TUESDAY + HOUR


def test_what_ended_just_before_midsummer_is_still_told_to_who_slept() -> None:
    case = Case(source=Told())
    evening, morning = local("2026-07-23 23:30"), local("2026-07-24 06:30")
    with case as watch:
        sleeper = Reader("keeper", quiet_hours=QuietHours(time(22), time(6, 30)))
        watch.readership = Readership((sleeper,), case.channels)
        watch.evaluate(evening - 3 * HOUR)
        case.source.forecast = make_forecast(evening, nights(evening.date(), [15.0] * 9, by_day=25.0))
        watch.evaluate(evening)
        assert watch.next_call(evening) == morning
        watch.evaluate(morning)
        subjects = [item.letter.subject for item in case.store.outbox_items()]
        assert subjects == ["The watch is blind: read a forecast yourself", "The watch sees again"]
