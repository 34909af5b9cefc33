"""How the demo counts cold that met trees."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from alertd.alerts import Outcome
from alertd.alerts.lifecycle import Event
from alertd.alerts.moves import Facts, Matter, open_alert
from alertd.config import load
from alertd.core import to_datetime64
from alertd.hindcast import demo
from alertd.hindcast.demo.tally import Met, meetings, summary
from alertd.hindcast.truth import harmful_spells_of
from alertd.plan import Action
from alertd.risk import ColdSpell, Rule
from alertd.site import Condition, Cover, Stage
from alertd.weather import Series

START = datetime(2026, 1, 10, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def garden():
    return load(Path(demo.__file__).with_name("demo.toml"), {}).garden


def group_of(garden, group_id):
    return next(group for group in garden.groups if group.group_id == group_id)


def series_of(temperatures, start=START):
    times = to_datetime64(start) + np.arange(len(temperatures)) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": np.array([temperatures], dtype=np.float64)})


def test_a_bare_group_is_hurt_from_the_first_cold_hour_to_the_last(garden):
    series = series_of([0.0, -13.0, -14.0, -12.5, 0.0])
    (harm,) = harmful_spells_of(garden, group_of(garden, "wall-figs"), series, [(START, Condition())])
    assert (harm.onset, harm.end, harm.minimum) == (START + HOUR, START + 3 * HOUR, -14.0)


def test_a_cover_keeps_as_much_cold_off_as_it_is_credited(garden):
    wrapped = [(START, Condition(Cover.IN_PLACE))]
    wall_figs = group_of(garden, "wall-figs")
    assert harmful_spells_of(garden, wall_figs, series_of([0.0, -14.5, 0.0]), wrapped) == ()
    assert len(harmful_spells_of(garden, wall_figs, series_of([0.0, -15.5, 0.0]), wrapped)) == 1


def test_cold_counts_for_how_a_group_stood_at_the_time(garden):
    stood = [(START, Condition()), (START + 2 * HOUR, Condition(Cover.IN_PLACE))]
    (harm,) = harmful_spells_of(garden, group_of(garden, "lemon-tubs"), series_of([-5.0, -5.0, -5.0, -5.0]), stood)
    assert harm.end == START + HOUR


def test_cold_nights_apart_are_two(garden):
    series = series_of([-20.0, *([0.0] * 40), -20.0])
    assert len(harmful_spells_of(garden, group_of(garden, "wall-figs"), series, [(START, Condition())])) == 2


def test_buds_and_the_last_freeze_date_make_a_light_frost_count(garden):
    series, persimmons = series_of([-2.0]), group_of(garden, "persimmons")
    assert harmful_spells_of(garden, persimmons, series, [(START, Condition())]) == ()
    assert len(harmful_spells_of(garden, persimmons, series, [(START, Condition(stage=Stage.BUDBREAK))])) == 1
    may = datetime(2026, 5, 10, tzinfo=UTC)
    assert len(harmful_spells_of(garden, persimmons, series_of([-2.0], may), [(may, Condition())])) == 1


def conditions_of(garden, **stood):
    bare = {group.group_id: [(START, Condition())] for group in garden.groups}
    return bare | {group.replace("_", "-"): value for group, value in stood.items()}


def alert_for(group, action, outcome):
    spell = ColdSpell(START, START + 3 * HOUR, 0.9, -19.0, -20.0, -18.0, -1.0)
    matter = Matter(f"{group}-2026-01-10", group, action, Rule.WOOD)
    after = open_alert(matter, Event.DUE, Facts(spell), START - 24 * HOUR).after
    return replace(after, outcome=outcome)


def met_of(garden, group, series, alerts=(), conditions=None):
    met = meetings(garden, series, alerts, conditions or conditions_of(garden))
    return [each.met for each in met if each.spell.group == group]


COLD = series_of([0.0, -19.0, 0.0])


@pytest.mark.parametrize(
    ("outcome", "met"),
    [(Outcome.DONE, Met.TENDED), (Outcome.DECLINED, Met.SET_ASIDE), (Outcome.EXPIRED, Met.UNMET)],
)
def test_cold_is_met_as_people_answered(garden, outcome, met):
    alerts = [alert_for("hardy-figs", Action.SHIELD, outcome)]
    assert met_of(garden, "hardy-figs", COLD, alerts) == [met]


def test_cold_that_nobody_was_told_of_is_unmet(garden):
    assert met_of(garden, "hardy-figs", COLD, [alert_for("wall-figs", Action.WRAP, Outcome.DONE)]) == [Met.UNMET]


def test_an_alert_of_another_time_does_not_count(garden):
    later = series_of([0.0] * 90 + [-19.0])
    alerts = [alert_for("hardy-figs", Action.SHIELD, Outcome.DONE)]
    assert met_of(garden, "hardy-figs", later, alerts) == [Met.UNMET]


def test_what_stands_in_store_was_in_place(garden):
    stood = conditions_of(garden, lemon_tubs=[(START, Condition(Cover.IN_PLACE))])
    assert met_of(garden, "lemon-tubs", COLD, conditions=stood) == [Met.IN_PLACE]


def test_the_summary_counts_what_is_alike_together(garden):
    series = series_of([-19.0, *([0.0] * 40), -20.0, *([0.0] * 40)])
    stood = conditions_of(garden, lemon_tubs=[(START, Condition(Cover.IN_PLACE))])
    text = summary(garden, (), (), meetings(garden, series, (), stood))
    assert "- the lemon tubs, 2 times from 9 Jan to 11 Jan, down to -4 °F: in store" in text
    assert (
        "- the hardy figs, 2 times from 9 Jan to 11 Jan, down to -4 °F: bare, as planned, and nothing was done" in text
    )
