"""What is said of pots in store."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from alertd.site import Growing, Protection, StoreKind, StoreRoom, TreeGroup
from alertd.thermal.pots import pot_of
from alertd.thermal.store_model import stored_roots_felt
from tests.fakes.cold_nights import forcing_of_nights
from tests.fakes.covered import lowest

POTS = TreeGroup("pots", "the pots", Growing.CONTAINER, 12, "fig", "fig", Protection.STORE, 25.0)
HOUR = 3600.0


@pytest.fixture(scope="module")
def cold():
    return forcing_of_nights([-20.0, -20.0, -20.0], offsets=(-2.0, -1.0, 0.0, 1.0, 2.0), by_day=-10.0)


def stored(weather, *, group=POTS, limit=50.0, sensor=None, sensor_name=None, **room):
    forcing, times = weather
    standing = replace(group, store_room=StoreRoom(sensor=sensor_name, **room))
    pot = pot_of(standing, is_clustered=False)
    return stored_roots_felt(standing, standing.store_room, pot, forcing, times, limit=limit, share=0.2, sensor=sensor)


def test_rooms_keep_roots_by_their_kind(cold):
    shed, garage, cellar = (
        lowest(stored(cold, kind=kind)) for kind in (StoreKind.SHED, StoreKind.UNHEATED_GARAGE, StoreKind.CELLAR)
    )
    assert shed < garage < cellar
    assert stored(cold, kind=StoreKind.CELLAR, limit=-3.0).is_bound
    assert lowest(stored(cold, time_constant=200.0 * HOUR)) > garage


def test_a_room_is_between_the_air_and_the_roots_in_it(cold):
    said = stored(cold)
    air = cold[0].air_temperature[:, cold[0].n_before :].min(axis=1)
    assert np.median(air) < said.medians["air"].min() < np.median(lowest(said))
    assert said.medians["core"].min() >= said.medians["air"].min()


def test_a_thermometer_in_the_room_says_where_it_starts_and_how_warm_it_was(cold):
    warm, cool = stored(cold, sensor=10.0), stored(cold, sensor=-5.0)
    weight = np.exp(-1.0 / 20.0)
    first = np.median(cold[0].air_temperature[:, cold[0].n_before])
    assert warm.medians["air"][1] == pytest.approx(first + (10.0 - first) * weight)
    assert warm.medians["air"][0] == pytest.approx(10.0)
    assert warm.medians["core"][0] > cool.medians["core"][0] + 2.0


def test_a_thermometer_that_tells_nothing_is_named(cold):
    assert stored(cold, sensor=None, sensor_name="garage").remarks == (
        "The thermometer garage in the store tells nothing: the room is computed from the air outside.",
    )
    assert stored(cold, sensor=1.0, sensor_name="garage").remarks == ()
    assert stored(cold).remarks == ()


def test_only_the_numbers_that_matter_are_told_and_measured_ones_add_nothing(cold):
    def names(**room):
        return [each.parameter.name for each in stored(cold, **room).assumed]

    assert names(kind=StoreKind.SHED) == ["room_lag_factor"]
    assert sorted(names(kind=StoreKind.CELLAR)) == ["cellar_ground_temperature", "room_lag_factor"]
    assert names(kind=StoreKind.CELLAR, time_constant=90.0 * HOUR) == ["cellar_ground_temperature"]
    assert names(time_constant=90.0 * HOUR) == []
    measured = stored(cold, group=replace(POTS, parameters=(("room_lag_factor", 2.0),)))
    assert measured.assumed == ()
    assert measured.spread == pytest.approx(0.5)
    assert lowest(measured) > lowest(stored(cold))


def test_hours_that_nobody_tells_stay_unknown():
    weather = forcing_of_nights([-20.0, -20.0], offsets=(-1.0, 0.0))
    weather[0].is_known[1, -5:] = False
    for limit in (50.0, -45.0):
        rows = stored(weather, limit=limit).exposure.temperature
        assert np.isnan(rows[-1, -4:]).all()
        assert not np.isnan(rows[0]).any()


def test_a_heated_room_keeps_roots_from_frost_even_where_its_thermometer_was_colder(cold):
    assert stored(cold, kind=StoreKind.SHED, kept_above=3.0).minimum > 2.5
    assert stored(cold, kind=StoreKind.SHED, kept_above=3.0, limit=0.0).is_bound
    assert stored(cold, kind=StoreKind.SHED, kept_above=3.0, sensor=-4.0).minimum > 2.0
