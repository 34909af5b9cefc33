"""Root balls that go on from where an earlier look left them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from alertd.thermal.felt import DRAWS
from alertd.thermal.forcing import forcing_of
from alertd.thermal.kept_roots import KeptRoots, keep_roots
from alertd.thermal.root_model import roots_felt
from alertd.thermal.root_zone import RootState
from alertd.weather import Series
from tests.fakes.cold_nights import (
    HOUR,
    LATITUDE,
    LONGITUDE,
    air_of_nights,
    pot_with,
    series_of,
)

NIGHTS = (-9.0, -12.0, -7.0, -14.0)
STATE = RootState(np.zeros((2, 2, 1)))


def told(air, hours, *, n=1, **weather):
    """Return the forcing when so many hours are past, and the times ahead; `n` realizations, half a degree apart."""
    offsets = 0.5 * np.arange(n)[:, None]
    whole = series_of(air + offsets, **weather)
    past, ahead = (
        Series(whole.times[part], {name: values[rows, part] for name, values in whole.variables.items()})
        for rows, part in ((slice(0, 1), slice(None, hours)), (slice(None), slice(hours, None)))
    )
    return forcing_of(LATITUDE, LONGITUDE, ahead, past), ahead.times


def felt_with(forcing, times, pot, kept=None, *, limit=50.0):
    return roots_felt(pot, forcing, times, limit=limit, critical=-5.0, share=0.2, kept=kept, key="pots")


@pytest.fixture
def kept_of():
    forcing, _ = told(air_of_nights(NIGHTS, mild_days=11), 264)
    return forcing, keep_roots(pot_with(), forcing, forcing.n_before - 1, STATE)


@pytest.mark.parametrize("litres", [3.0, 15.0, 60.0])
@pytest.mark.parametrize("later", [1, 6, 17, 24])
def test_a_root_ball_that_goes_on_ends_where_one_does_that_is_computed_from_all_days_before(litres, later):
    air, pot, kept = air_of_nights(NIGHTS, mild_days=9), pot_with(litres), {}
    begin = 9 * 24 + 30
    felt_with(*told(air, begin, n=2), pot, kept)
    forcing, times = told(air, begin + later, n=2)
    assert kept["pots"].place_in(pot, forcing, 0) == forcing.n_before - 1 - later
    gone_on, anew = felt_with(forcing, times, pot, kept), felt_with(forcing, times, pot)
    assert anew.minimum < -1.5
    assert np.abs(gone_on.exposure.temperature - anew.exposure.temperature).max() <= 0.15
    for name in ("shell", "core"):
        assert np.abs(gone_on.medians[name] - anew.medians[name]).max() <= 0.15
    assert gone_on.spread == pytest.approx(anew.spread, abs=0.1)


def test_looks_hour_by_hour_through_four_cold_nights_do_not_drift():
    air, pot, kept = air_of_nights(NIGHTS, mild_days=9), pot_with(15.0), {}
    for hour in range(9 * 24, 9 * 24 + 80, 4):
        forcing, times = told(air, hour, n=2)
        gone_on = felt_with(forcing, times, pot, kept)
    anew = felt_with(forcing, times, pot)
    assert np.abs(gone_on.exposure.temperature - anew.exposure.temperature).max() <= 0.15


def test_the_state_of_one_look_serves_a_second_look_in_the_same_hour():
    forcing, times = told(air_of_nights(NIGHTS, mild_days=9), 9 * 24 + 40)
    kept = {}
    first = felt_with(forcing, times, pot_with(), kept)
    state = kept["pots"]
    again = felt_with(forcing, times, pot_with(), kept)
    assert kept["pots"].time == state.time == forcing.times[forcing.n_before - 1]
    np.testing.assert_array_equal(kept["pots"].state.enthalpy, state.state.enthalpy)
    np.testing.assert_allclose(again.exposure.temperature, first.exposure.temperature, atol=1e-9)


def test_it_is_the_kept_state_that_it_goes_on_from():
    forcing, times = told(air_of_nights(NIGHTS, mild_days=9), 9 * 24 + 40)
    kept = {}
    first = felt_with(forcing, times, pot_with(60.0), kept)
    colder = RootState(kept["pots"].state.enthalpy - 3e7)
    kept["pots"] = replace(kept["pots"], state=colder)
    again = felt_with(forcing, times, pot_with(60.0), kept)
    assert again.minimum < first.minimum - 0.5
    assert again.exposure.temperature[DRAWS // 2, 0] < first.exposure.temperature[DRAWS // 2, 0]


def test_ice_that_is_kept_counts_where_only_a_bound_is_wanted():
    air = air_of_nights([-11.0] * 4, mild_days=9)
    air[9 * 24 + 90 :] = np.maximum(air[9 * 24 + 90 :], 0.5)
    forcing, times = told(air, 9 * 24 + 88)
    kept = {}
    whole = felt_with(forcing, times, pot_with(15.0), kept)
    assert whole.exposure.temperature[DRAWS // 2, 0] < -3.0
    bound = felt_with(forcing, times, pot_with(15.0), kept, limit=-30.0)
    assert bound.is_bound
    assert bound.exposure.temperature[0, 0] < -3.0


def test_where_only_a_bound_is_wanted_nothing_is_kept():
    forcing, times = told(air_of_nights([4.0], mild_days=9), 9 * 24)
    kept = {}
    assert felt_with(forcing, times, pot_with(), kept, limit=-8.0).is_bound
    assert kept == {}


def test_little_frost_cannot_freeze_a_root_ball_and_needs_no_solving():
    """By the coldest air alone it might come to -1.5 °C."""
    forcing, times = told(air_of_nights([-1.5], by_day=8.0, mild_days=9), 9 * 24, cloud=1.0)
    pot = pot_with(25.0)
    bound = felt_with(forcing, times, pot, limit=-2.0)
    assert bound.is_bound
    assert bound.minimum == pytest.approx(-0.7)
    assert felt_with(forcing, times, pot).exposure.temperature[DRAWS // 2].min() >= bound.minimum
    frost, times = told(air_of_nights([-9.0] * 3, mild_days=9), 9 * 24)
    assert not felt_with(frost, times, pot, limit=-2.0).is_bound


def test_a_state_is_found_in_the_hour_that_it_was_kept_for(kept_of):
    forcing, kept = kept_of
    assert kept.time == forcing.times[forcing.n_before - 1]
    assert kept.air.tolist() == forcing.air_temperature[0, : forcing.n_before - 1].tolist()
    assert kept.place_in(pot_with(), forcing, 0) == forcing.n_before - 1


def test_a_state_is_refused_for_another_pot(kept_of):
    forcing, kept = kept_of
    assert kept.place_in(pot_with(26.0), forcing, 0) is None
    assert kept.place_in(pot_with(measured={"water_content": 0.3}), forcing, 0) is None
    assert kept.place_in(pot_with(neighbours=4), forcing, 0) is None


def test_a_state_is_refused_before_the_days_that_count_and_in_the_forecast(kept_of):
    forcing, kept = kept_of
    place = forcing.n_before - 1
    assert kept.place_in(pot_with(), forcing, place) == place
    assert kept.place_in(pot_with(), forcing, place + 1) is None
    ahead = KeptRoots(kept.pot, kept.time + HOUR, kept.air, kept.state)
    assert ahead.place_in(pot_with(), forcing, 0) is None


def test_a_state_is_refused_where_no_day_before_it_is_known(kept_of):
    forcing, kept = kept_of
    early = replace(kept, time=forcing.times[24], air=forcing.air_temperature[0, :24])
    assert early.place_in(pot_with(), forcing, 0) == 24
    earlier = replace(kept, time=forcing.times[23], air=forcing.air_temperature[0, :24])
    assert earlier.place_in(pot_with(), forcing, 0) is None


@pytest.mark.parametrize(
    ("hours", "by", "is_taken"),
    [
        (slice(-3, None), 0.9, True),  # three hours a little
        (slice(-1, None), 1.1, False),  # one hour by more than a degree
        (slice(-24, None), 0.3, False),  # a day by a little
        (slice(-24, None), -0.3, False),  # warmer too
        (slice(-60, -59), 1.1, True),  # one hour days ago
        (slice(-120, -60), 3.0, False),  # days of it
    ],
)
def test_a_state_is_refused_where_the_past_is_told_otherwise(kept_of, hours, by, is_taken):
    forcing, kept = kept_of
    air = forcing.air_temperature.copy()
    air[:, : forcing.n_before - 1][:, hours] += by
    place = kept.place_in(pot_with(), replace(forcing, air_temperature=air), 0)
    assert (place is not None) is is_taken


def test_what_is_kept_is_no_part_of_the_weather(kept_of):
    forcing, kept = kept_of
    forcing.air_temperature[:] += 5.0
    assert kept.place_in(pot_with(), forcing, 0) is None


def test_a_past_that_is_told_otherwise_has_the_root_ball_computed_anew():
    air, pot, kept = air_of_nights(NIGHTS, mild_days=9), pot_with(15.0), {}
    felt_with(*told(air, 9 * 24 + 30), pot, kept)
    colder = air.copy()
    colder[9 * 24 : 9 * 24 + 30] -= 6.0
    forcing, times = told(colder, 9 * 24 + 31)
    again, anew = felt_with(forcing, times, pot, kept), felt_with(forcing, times, pot)
    np.testing.assert_array_equal(again.exposure.temperature, anew.exposure.temperature)
