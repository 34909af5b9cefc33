"""Rooms that follow the air outside."""

from __future__ import annotations

import numpy as np
import pytest

from alertd.site import StoreKind
from alertd.thermal.store_room import inside_store_room

HOUR = 3600.0
COLD = np.concatenate([np.full((1, 48), 4.0), np.full((1, 20), -10.0)], axis=1)


def test_a_garage_has_come_two_thirds_of_the_way_after_its_time_constant():
    inside = inside_store_room(COLD, 48, StoreKind.UNHEATED_GARAGE)
    assert inside.shape == (1, 20)
    assert inside[0, -1] == pytest.approx(-10.0 + 14.0 * np.exp(-1.0))


def test_a_shed_follows_sooner_and_a_cellar_stays_warm():
    coldest = [inside_store_room(COLD, 48, kind).min() for kind in StoreKind]
    assert coldest[1] < coldest[0] < coldest[2]
    assert coldest[2] > 5.0


def test_the_ground_of_a_cellar_can_be_told_for_each_member():
    ground = np.array([6.0, 10.0])
    inside = inside_store_room(np.tile(COLD, (2, 1)), 48, StoreKind.CELLAR, cellar_ground_temperature=ground)
    assert (inside[1] - inside[0]).tolist() == pytest.approx([0.6 * 4.0] * 20)


def test_its_own_thermometer_is_where_it_starts():
    inside = inside_store_room(COLD, 48, StoreKind.SHED, measured=9.0)
    assert inside[0, 0] == pytest.approx(-10.0 + 19.0 * np.exp(-1.0 / 6.0))


def test_its_own_time_constant_is_taken_as_it_is():
    told = inside_store_room(COLD, 48, StoreKind.SHED, time_constant=12.0 * HOUR, room_lag_factor=99.0)
    scaled = inside_store_room(COLD, 48, StoreKind.SHED, room_lag_factor=2.0)
    np.testing.assert_allclose(told, scaled)


@pytest.mark.parametrize(
    ("air", "past", "constant"),
    [(COLD, 0, 1.0), (COLD, 68, 1.0), (COLD * np.nan, 48, 1.0), (COLD, 48, 0.0)],
)
def test_what_no_room_can_follow_is_refused(air, past, constant):
    with pytest.raises(ValueError, match="room that follows"):
        inside_store_room(air, past, StoreKind.SHED, time_constant=constant)


def test_heating_keeps_a_room_from_falling_further_and_is_remembered():
    inside = inside_store_room(COLD, 48, StoreKind.SHED, kept_above=5.0)
    assert inside.min() == 5.0
    thawed = np.concatenate([COLD, np.full((1, 1), 11.0)], axis=1)
    assert inside_store_room(thawed, 48, StoreKind.SHED, kept_above=5.0)[0, -1] == pytest.approx(
        11.0 - 6.0 * np.exp(-1.0 / 6.0)
    )
