import numpy as np
import pytest

from alertd.thermal.sun import SUN_PARAMETERS, global_irradiance, solar_load, solar_position


def hours_of(day):
    return np.datetime64(f"{day}T00:00:00") + np.arange(24) * np.timedelta64(3600, "s")


def test_the_order_of_the_times_does_not_matter():
    times = hours_of("2026-01-15")
    straight = solar_position(times, 40.0, -75.0)
    backwards = solar_position(times[::-1], 40.0, -75.0)
    assert straight.elevation == pytest.approx(backwards.elevation[::-1], abs=1e-9)
    assert straight.azimuth == pytest.approx(backwards.azimuth[::-1], abs=1e-9)


def test_no_times_have_no_sun():
    empty = solar_position(np.array([], dtype="datetime64[s]"), 40.0, -75.0)
    assert empty.elevation.shape == empty.azimuth.shape == (0,)


def test_the_sun_goes_from_east_through_south_to_west_in_the_north():
    position = solar_position(hours_of("2026-03-20"), 45.0, 0.0)
    is_up = position.elevation > 0.0
    assert np.diff(position.azimuth[is_up]).min() > 0.0
    assert position.azimuth[8] < 180.0 < position.azimuth[16]
    southern = solar_position(hours_of("2026-03-20"), -45.0, 0.0)
    assert min(southern.azimuth[11], 360.0 - southern.azimuth[11]) < 25.0


def test_the_hour_that_begins_at_sunrise_has_sun_and_the_night_has_none():
    load = solar_load(hours_of("2026-01-15"), 40.0, -75.0, 0.0)
    assert (load.top[:12] == 0.0).all()
    assert (load.wall[:12] == 0.0).all()
    assert load.top[17] > 400.0
    first = np.flatnonzero(load.top)[0]
    assert solar_position(hours_of("2026-01-15"), 40.0, -75.0).elevation[first] < 0.0 < load.top[first] + 1e-9


def test_a_low_sun_favours_walls_and_snow_brightens_them():
    load = solar_load(hours_of("2026-01-15"), 60.0, 0.0, 0.0)
    assert load.wall[11] > load.top[11]
    snowy = solar_load(hours_of("2026-01-15"), 60.0, 0.0, 0.0, ground_albedo=0.7)
    assert snowy.wall[11] > load.wall[11]
    assert snowy.top[11] == load.top[11]
    assert [parameter.name for parameter in SUN_PARAMETERS] == ["ground_albedo"]


def test_realizations_have_their_own_clouds():
    load = solar_load(hours_of("2026-01-15"), 40.0, -75.0, np.array([[0.0], [1.0]]))
    assert load.top.shape == load.wall.shape == (2, 24)
    assert load.top[1, 17] == pytest.approx(load.top[0, 17] / 4.0)


def test_cloud_cover_in_percent_is_refused():
    with pytest.raises(ValueError, match="not between 0 and 1"):
        global_irradiance(30.0, 40.0)
