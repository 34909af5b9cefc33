"""What models said is taken again while it holds, and computed anew when it may not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.site import Growing, Protection, TreeGroup
from alertd.thermal import Model, ModelMemory, Models, ModelWeather, Tissue
from alertd.thermal.felt import DRAWS, felt_bound, felt_of
from alertd.thermal.forcing import forcing_of
from alertd.thermal.memory import colder_by, is_much_the_same
from alertd.weather import Series
from tests.fakes.cold_nights import HOUR, LATITUDE, LONGITUDE, air_of_nights, felt_in, pot_with, series_of
from tests.fakes.garden import make_garden

REACH = timedelta(days=3)
GROUP = TreeGroup("pots", "the pots", Growing.CONTAINER, 12, "fig", "fig", Protection.CLUSTER, 25.0)
BEGIN = 11 * 24
#: Hour by hour from eleven days before the first look on: mild days, four cold nights, a mild one.
AIR = air_of_nights([-6.0, -9.0, -5.0, -8.0], mild_days=12)


def weather(later=0, *, hours=200, n=3, **changes):
    """Return the forcing of a look so many hours after the first one, and the times ahead.

    What is changed is the weather of all hours: an array, or one number for all.
    """
    values = {"air": AIR, "wind": 2.0, "cloud": 0.2, "snow": 0.0} | changes
    spread = 0.5 * np.arange(n)[:, None] - 0.25 * (n - 1)
    air = values["air"] + np.where(np.arange(AIR.size) < BEGIN, 0.0, spread)
    whole = series_of(air, dew_point_depression=3.0, wind=values["wind"], cloud=values["cloud"], snow=values["snow"])
    begin = BEGIN + later
    # What has passed is known to have been as the mean of what was forecast.
    past = Series(
        whole.times[:begin], {name: rows.mean(axis=0)[None, :begin] for name, rows in whole.variables.items()}
    )
    place = slice(begin, min(BEGIN + hours, AIR.size))
    ahead = Series(whole.times[place], {name: rows[:, place] for name, rows in whole.variables.items()})
    return forcing_of(LATITUDE, LONGITUDE, ahead, past), ahead.times


def changed_in(name, hours, by):
    """Return a forcing whose hours ahead are changed in one thing."""
    forcing, _ = weather()
    values = getattr(forcing, name).copy()
    values[:, forcing.n_before :][:, hours] += by
    return replace(forcing, **{name: values})


@dataclass
class Asked:
    """A model that says -1 °C at the coldest hour, counts how often it is asked, and cools with the air."""

    lowest: float = -1.0
    is_bound: bool = False
    answers: list = field(default_factory=list)

    def compute(self, times):
        """Return a model's answer, or nothing if it has none."""
        self.answers.append(times)
        rows = np.full((3, times.size), 2.0)
        rows[:, 20] = self.lowest
        if self.is_bound:
            return felt_bound(Model.ROOT_BALL, Tissue.ROOTS, times, rows)
        return felt_of(Model.ROOT_BALL, Tissue.ROOTS, times, rows, np.zeros(times.size), (), {"core": rows[0]})


def ask(memory, asked, forcing, times, *, group=GROUP, question="roots", limit=-6.0, sensor=None):
    return memory.felt(group, question, limit, forcing, times, lambda: asked.compute(times), sensor)


def n_asked(first, second, **changes):
    """Return how often a model was asked in two looks; the first `changes` are those of the second look."""
    memory, asked = ModelMemory(REACH), Asked(changes.pop("lowest", -1.0), changes.pop("is_bound", False))
    limit = changes.pop("limit", -6.0)
    ask(memory, asked, *first, limit=limit, sensor=changes.pop("sensor_before", None))
    ask(memory, asked, *second, limit=limit, **changes)
    return len(asked.answers)


def test_an_answer_is_taken_again_in_an_hour_when_nothing_is_told_otherwise():
    assert n_asked(weather(), weather()) == 1
    assert n_asked(weather(), weather(1)) == 1


def test_it_is_told_on_the_times_of_now():
    memory, asked = ModelMemory(REACH), Asked()
    ask(memory, asked, *weather())
    forcing, times = weather(5)
    felt = ask(memory, asked, forcing, times)
    assert len(asked.answers) == 1
    np.testing.assert_array_equal(felt.exposure.times, times)
    assert felt.coldest == times[15]
    assert felt.exposure.temperature[0, 15] == -1.0


def test_an_answer_near_to_mattering_is_not_taken_again_when_it_gets_colder():
    colder = AIR - 1.0 * (np.arange(AIR.size) >= BEGIN)
    assert n_asked(weather(), weather(1), limit=-1.5) == 1
    assert n_asked(weather(), weather(1, air=colder), limit=-1.5) == 2


def test_one_far_from_mattering_is_taken_again_when_it_gets_a_kelvin_colder_and_not_when_by_its_distance():
    later = np.arange(AIR.size) >= BEGIN
    for colder, times in ((1.0, 1), (5.0, 2)):
        assert n_asked(weather(), weather(1, air=AIR - colder * later), limit=-6.0) == times
    assert n_asked(weather(), weather(1, air=AIR - 1.0 * later), limit=-3.0) == 2


def test_weather_that_gets_warmer_leaves_what_is_far_from_mattering_and_renews_what_is_not():
    warmer = AIR + 3.0 * (np.arange(AIR.size) >= BEGIN)
    assert n_asked(weather(), weather(1, air=warmer), limit=-6.0) == 1
    assert n_asked(weather(), weather(1, air=warmer), limit=-0.5) == 2


def test_a_bound_is_found_anew_when_the_weather_is_told_otherwise():
    colder = AIR - 0.6 * (np.arange(AIR.size) >= BEGIN)
    assert n_asked(weather(), weather(1), is_bound=True) == 1
    assert n_asked(weather(), weather(1, air=colder), is_bound=True, limit=-30.0) == 2
    assert n_asked(weather(), weather(1, air=colder), limit=-30.0) == 1


def test_hours_that_have_passed_much_colder_than_expected_have_it_computed_anew():
    passed = (np.arange(AIR.size) >= BEGIN) & (np.arange(AIR.size) < BEGIN + 6)
    assert n_asked(weather(), weather(6, air=AIR - 0.5 * passed), limit=-1.5) == 1
    assert n_asked(weather(), weather(6, air=AIR - 2.0 * passed), limit=-1.5) == 2
    assert n_asked(weather(), weather(6, air=AIR - 2.0 * passed), limit=-6.0) == 1
    assert n_asked(weather(), weather(6, air=AIR - 12.0 * passed), limit=-6.0) == 2


def test_days_before_that_are_told_otherwise_have_it_computed_anew():
    before = (np.arange(AIR.size) >= BEGIN - 72) & (np.arange(AIR.size) < BEGIN)
    assert n_asked(weather(), weather(1, air=AIR - 0.8 * before), limit=-1.5) == 2
    assert n_asked(weather(), weather(1, air=AIR - 0.8 * before), limit=-6.0) == 1
    assert n_asked(weather(), weather(1, air=AIR - 5.0 * before), limit=-6.0) == 2


@pytest.mark.parametrize(("hours", "limit", "times"), [(6, -0.5, 1), (7, -0.5, 2), (18, -6.0, 1), (19, -6.0, 2)])
def test_no_answer_is_taken_for_ever(hours, limit, times):
    assert n_asked(weather(), weather(hours), limit=limit) == times


def test_an_answer_of_later_weather_is_not_taken_for_earlier():
    assert n_asked(weather(3), weather(2)) == 2


def test_an_answer_that_does_not_reach_far_enough_is_not_taken():
    for hours, times in ((74, 1), (73, 2)):  # three days and an hour ahead, one hour later
        assert n_asked(weather(hours=hours), weather(1)) == times
    assert n_asked(weather(hours=50), weather(1, hours=50)) == 1, "as far as the forecast goes"


def test_another_number_of_realizations_has_it_computed_anew():
    assert n_asked(weather(), weather(1, n=5)) == 2


def test_a_realization_that_falls_silent_has_it_computed_anew():
    forcing, times = weather(1)
    forcing.is_known[0, -1] = False
    assert n_asked(weather(), (forcing, times)) == 1, "beyond what matters"
    forcing.is_known[0, forcing.n_before + 24] = False
    assert n_asked(weather(), (forcing, times)) == 2


def test_weather_that_lacks_something_else_has_it_computed_anew():
    forcing, times = weather(1)
    assert n_asked(weather(), (replace(forcing, missing=("wind_speed",)), times)) == 2


def test_a_changed_group_has_it_computed_anew():
    assert n_asked(weather(), weather(1), group=replace(GROUP, container_volume=26.0)) == 2
    assert n_asked(weather(), weather(1), group=replace(GROUP, group_id="others")) == 2
    assert n_asked(weather(), weather(1), group=replace(GROUP)) == 1


def test_another_question_is_another_answer():
    assert n_asked(weather(), weather(1), question="wood") == 2


@pytest.mark.parametrize(
    ("before", "now", "times"), [(3.0, 3.2, 1), (3.0, 2.8, 1), (3.0, 2.7, 2), (None, 3.0, 2), (3.0, None, 2)]
)
def test_a_thermometer_that_says_otherwise_has_it_computed_anew(before, now, times):
    assert n_asked(weather(), weather(1), sensor_before=before, sensor=now) == times


def test_a_model_that_has_nothing_to_say_is_not_asked_again_and_again():
    memory, counted = ModelMemory(REACH), []
    for later in (0, 1, 2):
        forcing, times = weather(later, air=AIR - 9.0 * later * (np.arange(AIR.size) >= BEGIN))
        assert memory.felt(GROUP, "wood", -8.0, forcing, times, lambda: counted.append(1)) is None
    assert counted == [1]


def test_what_is_too_old_to_be_taken_again_is_let_go():
    memory, asked = ModelMemory(REACH), Asked()
    for later in (0, 12, 24, 36):
        ask(memory, asked, *weather(later), question=later)
        ask(memory, asked, *weather(later), question="the same")
    assert {question for _, question in memory._answers} == {24, 36, "the same"}


def test_the_lowest_that_is_likely_counts_and_not_the_mean():
    memory, asked = ModelMemory(REACH), Asked()

    def compute(times):
        asked.answers.append(times)
        rows = np.full((3, times.size), 2.0)
        rows[1, 20] = -4.0
        rows[2] = np.nan
        return felt_of(Model.ROOT_BALL, Tissue.ROOTS, times, rows, np.full(times.size, 0.3), (), {})

    colder = AIR - 0.8 * (np.arange(AIR.size) >= BEGIN)
    for later, air in ((0, AIR), (1, colder)):
        forcing, times = weather(later, air=air)
        memory.felt(GROUP, "roots", -6.0, forcing, times, lambda times=times: compute(times))
    assert len(asked.answers) == 2, "-4.4 °C is 1.6 K from mattering, and not 4 K"


@pytest.mark.parametrize(
    ("name", "hours", "by"),
    [
        ("air_temperature", slice(10, 11), 0.6),
        ("air_temperature", slice(10, 11), -0.6),
        ("air_temperature", slice(None), 0.2),
        ("sky_temperature", slice(10, 11), 3.5),
        ("sky_temperature", slice(10, 11), -3.5),
        ("wind_speed", slice(10, 11), 0.9),
        ("wind_speed", slice(10, 11), -0.9),
        ("snow", slice(10, 11), 0.03),
        ("snow", slice(10, 11), -0.03),
    ],
)
def test_weather_is_not_the_same_if_anything_is_told_otherwise(name, hours, by):
    if name == "snow":
        before, now = changed_in("snow", slice(None), 0.1), changed_in("snow", slice(None), 0.1)
        now.snow[:, now.n_before :][:, hours] += by
    else:
        before, now = weather()[0], changed_in(name, hours, by)
    assert is_much_the_same(before, before, REACH)
    assert not is_much_the_same(before, now, REACH)
    less = getattr(now, name) * 0.4 + getattr(before, name) * 0.6
    assert is_much_the_same(before, replace(now, **{name: less}), REACH)


def test_another_cloud_is_not_the_same_by_its_sun():
    before, now = weather(cloud=0.3)[0], weather(cloud=0.8)[0]
    now = replace(before, sun=now.sun)
    assert not is_much_the_same(before, now, REACH)
    assert is_much_the_same(before, replace(before, sun=weather(cloud=0.4)[0].sun), REACH)
    assert colder_by(now, before, REACH) == 0.0
    assert colder_by(before, now, REACH) > 1.0


def test_what_lies_beyond_what_matters_may_be_told_otherwise():
    before, beyond = weather()[0], changed_in("air_temperature", slice(73, None), -9.0)
    assert is_much_the_same(before, beyond, REACH)
    assert colder_by(before, beyond, REACH) == 0.0
    within = changed_in("air_temperature", slice(72, None), -9.0)
    assert not is_much_the_same(before, within, REACH)
    assert colder_by(before, within, REACH) > 9.0


def test_the_coldest_hour_of_any_realization_tells_how_much_colder_it_gets():
    before, now = weather()[0], changed_in("air_temperature", slice(30, 31), -2.0)
    assert colder_by(before, now, REACH) == pytest.approx(2.0 * 2.4)
    assert colder_by(now, before, REACH) == 0.0
    one = before.air_temperature.copy()
    one[1, before.n_before + 30] -= 2.0
    assert colder_by(before, replace(before, air_temperature=one), REACH) == pytest.approx(2.0 * 2.4)


def test_a_clearer_sky_and_less_and_more_wind_make_it_colder():
    before = weather()[0]
    assert colder_by(before, changed_in("sky_temperature", slice(30, 31), -5.0), REACH) == pytest.approx(2.0)
    assert colder_by(before, changed_in("sky_temperature", slice(30, 31), 5.0), REACH) == 0.0
    for by in (-1.0, 2.0):
        expected = 3.5 * abs(np.sqrt(2.0 + by) - np.sqrt(2.0))
        assert colder_by(before, changed_in("wind_speed", slice(30, 31), by), REACH) == pytest.approx(expected)


def test_snow_that_is_gone_says_nothing_of_before():
    snow, none = weather(snow=0.2)[0], weather()[0]
    assert colder_by(snow, none, REACH) == np.inf
    assert np.isfinite(colder_by(none, snow, REACH))


def test_passed_hours_count_by_their_day():
    passed = (np.arange(AIR.size) >= BEGIN) & (np.arange(AIR.size) < BEGIN + 12)
    now = weather(12, air=AIR - 4.0 * passed)[0]
    assert colder_by(weather()[0], now, REACH) == pytest.approx(2.4 * 4.0 * 12 / 24)
    assert colder_by(weather()[0], weather(12, air=AIR + 4.0 * passed)[0], REACH) == 0.0
    shifted = weather(12, air=np.roll(AIR, 1))[0]
    assert not is_much_the_same(weather()[0], shifted, REACH), "each hour is compared with itself"


@pytest.mark.parametrize(("litres", "wind", "cloud"), [(3.0, 0.8, 0.86), (5.0, 2.8, 0.74), (25.0, 1.5, 0.64)])
@pytest.mark.parametrize("change", [{"air": -0.7}, {"air": -2.0}, {"wind": 3.0}, {"wind": -0.7}, {"cloud": 0.14}])
def test_no_root_ball_gets_colder_by_more_than_is_said(litres, wind, cloud, change):
    """Four nights at whose end the water of these pots has just frozen through: then they follow the weather most."""
    pot = pot_with(litres, measured={name: each.value for name, each in pot_with(litres).parameters.items()})
    air = air_of_nights([-5.2] * 4, by_day=3.8, mild_days=11)
    later = np.arange(air.size) >= BEGIN
    coldest, forcings = [], []
    for each in ({}, change):
        values = [wind + later * each.get("wind", 0.0), cloud + later * each.get("cloud", 0.0)]
        whole = series_of(air + later * each.get("air", 0.0), wind=values[0][None, :], cloud=values[1][None, :])
        past, ahead = (
            Series(whole.times[part], {name: rows[:, part] for name, rows in whole.variables.items()})
            for part in (slice(None, BEGIN), slice(BEGIN, None))
        )
        forcing = forcing_of(LATITUDE, LONGITUDE, ahead, past)
        forcings.append(forcing)
        coldest.append(felt_in(forcing, ahead.times, pot).exposure.temperature[DRAWS // 2].min())
    assert coldest[1] >= coldest[0] - colder_by(*forcings, timedelta(days=10)) / 0.8
    if "air" in change:
        assert coldest[1] < coldest[0]


SITE = make_garden().site
START = datetime(2026, 1, 20, 12, tzinfo=UTC)


def look(memory, *, colder=0.0, hours=240):
    """Return the models of a look at cold nights."""
    values = air_of_nights([-12.0] * 8, mild_days=3)[: hours + 72]
    whole = series_of(values, start=np.datetime64("2026-01-17T12:00:00", "s"))
    past, ahead = (
        Series(whole.times[part], {name: rows[:, part] for name, rows in whole.variables.items()})
        for part in (slice(None, 72), slice(72, None))
    )
    ahead.air_temperature[:] -= colder
    return Models(GROUP, ModelWeather(SITE, ahead, past, memory=memory), 0.2)


def roots_in(models, limit=-3.0):
    return models.felt(Tissue.ROOTS, limit, -5.0, is_in_place=False)


def test_models_with_a_memory_compute_as_far_as_matters_and_say_the_same():
    plain, memory = roots_in(look(None)), ModelMemory(REACH)
    models = look(memory)
    assert models.weather.forcing.times[-1] == models.weather.ahead.times[0] + (72 + 18) * HOUR
    felt = roots_in(models)
    np.testing.assert_array_equal(felt.exposure.times, plain.exposure.times)
    told = slice(0, 91)
    np.testing.assert_allclose(felt.exposure.temperature[2, told], plain.exposure.temperature[2, told], atol=1e-6)
    assert np.isnan(felt.exposure.temperature[:, 91:]).all()
    assert list(memory.roots) == ["pots: 1 together"]


def test_models_take_again_what_they_said_at_the_look_before():
    memory = ModelMemory(REACH)
    first = roots_in(look(memory))
    kept = memory.roots["pots: 1 together"]
    again = roots_in(look(memory))
    assert memory.roots["pots: 1 together"] is kept, "nothing was computed"
    np.testing.assert_array_equal(again.exposure.temperature, first.exposure.temperature)
    colder = roots_in(look(memory, colder=1.0))
    assert memory.roots["pots: 1 together"] is not kept
    assert colder.minimum < first.minimum - 0.3


def test_pots_that_stand_together_are_kept_apart():
    memory = ModelMemory(REACH)
    models = look(memory)
    roots_in(models)
    models.felt(Tissue.ROOTS, -3.0, -5.0, is_in_place=True)
    assert sorted(memory.roots) == ["pots: 1 together", "pots: 12 together"]


def test_a_short_forecast_is_seen_whole():
    models = look(ModelMemory(REACH), hours=40)
    assert models.weather.seen.n_times == models.weather.ahead.n_times == 40
    empty = models.weather.ahead.window(START, START)
    assert ModelWeather(SITE, empty, None, memory=ModelMemory(REACH)).seen is empty
