"""Past weather, played: steps, answers, truth and score."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.alerts import AlertState, Outcome
from alertd.core import SourceUnavailable, to_datetime64
from alertd.hindcast import (
    HindcastSettings,
    RecordSource,
    harmful_spells,
    hindcast_facts,
    hindcast_text,
    hours_below,
    run_hindcast,
    score,
)
from alertd.messages import Reader
from alertd.site import Cover
from alertd.watch import Readership
from alertd.weather import Series
from tests.fakes.garden import FIGS, POTS, make_garden

START = datetime(2026, 1, 1, 5, tzinfo=UTC)
READERSHIP = Readership((Reader("keeper"),), {"keeper": ("paper",)})
EXACT = HindcastSettings(is_exact=True)


def record(*lowest: float, mild: float = 3.0) -> Series:
    """Return hourly weather: each local day from midnight on mild, but 03:00 to 07:00 at its lowest [°C]."""
    hours = np.arange(24 * len(lowest))
    values = np.where((hours % 24 >= 3) & (hours % 24 <= 7), np.repeat(lowest, 24), mild + hours % 5 / 10.0)
    times = to_datetime64(START) + hours * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": values[None, :].astype(float)})


GARDEN = make_garden(POTS, FIGS)

COLD_NIGHT = record(0, 0, 0, 0, -14, 0, 0, 0, 0, 0)


def test_a_record_is_cut_to_what_a_forecast_would_have_covered() -> None:
    source = RecordSource("record", COLD_NIGHT, timedelta(hours=48))
    forecast, findings = source.get(START + timedelta(hours=10))
    assert forecast.series.n_times == 10 + 48, "with the days before"
    assert forecast.series.times[10] == to_datetime64(START + timedelta(hours=10))
    assert findings == ()
    with pytest.raises(SourceUnavailable, match="ends before"):
        source.get(START + timedelta(days=30))


def test_nobody_answers_unless_told_so() -> None:
    played = run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, EXACT)
    assert {alert.outcome for alert in played.alerts} == {Outcome.EXPIRED}
    assert played.stood_at("pots", played.end).cover is Cover.OFF


def test_assumed_answers_put_each_group_s_protection_in_place_at_its_latest_start() -> None:
    played = run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, replace(EXACT, assumes_done=True))
    assert {alert.outcome for alert in played.alerts} == {Outcome.DONE}
    assert played.stood_at("pots", played.end).cover is Cover.IN_PLACE
    for alert in played.alerts:
        assert not alert.called or alert.announced.start_by is not None


def test_reminders_come_at_their_minute_and_the_grid_goes_on_after_them() -> None:
    played = run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, replace(EXACT, every=timedelta(hours=6)))
    start_by = next(alert for alert in played.alerts if alert.group == "pots").opened.start_by
    assert start_by is not None
    sent = {letter.composed for letter in played.letters}
    assert start_by in sent
    assert any((moment - START) % timedelta(hours=6) == timedelta(0) for moment in sent)
    assert played.evaluations < 10 * 4 + 12


def test_a_span_outside_the_record_is_refused() -> None:
    with pytest.raises(ValueError, match="no time between"):
        run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, replace(EXACT, start=START + timedelta(days=99)))


def test_an_ensemble_is_no_record() -> None:
    two = Series(COLD_NIGHT.times, {"air_temperature": np.repeat(COLD_NIGHT.air_temperature, 2, axis=0)})
    with pytest.raises(ValueError, match="one realization"):
        run_hindcast(GARDEN, READERSHIP, two, EXACT)


def test_hours_are_counted_by_each_threshold() -> None:
    hours = {(each.group, each.threshold.rule.value): each.hours for each in hours_below(GARDEN, COLD_NIGHT)}
    assert hours[("pots", "container_roots")] == 5
    assert hours[("figs", "wood")] == 5


def test_harmful_nights_closer_than_the_gap_are_one_spell() -> None:
    spells = [each for each in harmful_spells(GARDEN, record(-14, -14, 0, 0, 0, -14)) if each.group == "pots"]
    assert [(spell.onset.day, spell.end.day) for spell in spells] == [(1, 2), (6, 6)]
    assert spells[0].minimum == -14.0


def test_mild_weather_does_no_harm() -> None:
    assert harmful_spells(GARDEN, record(0, 0, 0)) == ()


def test_a_warned_spell_is_a_hit() -> None:
    table = score(run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, EXACT))
    assert (table.hits, table.protected, table.misses, table.false_alarms) == (2, 0, 0, 0)


def test_a_spell_that_finds_the_pots_in_store_is_neither_hit_nor_miss() -> None:
    cold = record(0, 0, 0, 0, -14, 0, 0, 0, 0, 0, -14, 0, 0, 0)
    table = score(run_hindcast(GARDEN, READERSHIP, cold, replace(EXACT, assumes_done=True)))
    assert table.hits == 2
    assert table.protected == 2
    assert table.misses == 0


def test_cold_that_comes_with_the_first_hours_is_missed() -> None:
    table = score(
        run_hindcast(GARDEN, READERSHIP, record(-14, 0, 0, 0), replace(EXACT, start=START + timedelta(hours=4)))
    )
    assert table.misses == 2


def test_a_call_to_act_without_harm_is_a_false_alarm() -> None:
    dressed = HindcastSettings(every=timedelta(hours=3))
    table = score(run_hindcast(GARDEN, READERSHIP, record(1, 1, 1, 1, -8.8, 1, 1, 1, 1), dressed))
    assert table.hits == table.misses == 0
    assert table.false_alarms == 1


def test_alerts_left_open_at_the_end_are_listed_as_open() -> None:
    played = run_hindcast(GARDEN, READERSHIP, record(0, 0, 0, 0, -14), replace(EXACT, end=START + timedelta(days=4)))
    (pots,) = [alert for alert in played.alerts if alert.group == "pots"]
    assert pots.state is AlertState.EXECUTE
    facts = hindcast_facts(played, COLD_NIGHT)
    assert isinstance(facts["alerts"], list)
    assert facts["alerts"][0]["ended"] is None
    assert facts["alerts"][0]["outcome"] is None


def test_a_hindcast_reads_as_a_list_of_messages_and_counts() -> None:
    played = run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, EXACT)
    text = hindcast_text(played, COLD_NIGHT)
    assert "Get ready to move the patio pots into store" in text
    assert "told to act before it began: 2" in text
    assert "first freeze none" in hindcast_text(played, record(1, 1, 1))


def test_the_same_hindcast_twice_is_the_same() -> None:
    first, second = (run_hindcast(GARDEN, READERSHIP, COLD_NIGHT, EXACT) for _ in range(2))
    assert hindcast_facts(first, COLD_NIGHT) == hindcast_facts(second, COLD_NIGHT)
