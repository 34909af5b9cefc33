"""The sun against pvlib (PyPI): solar position algorithm of Reda & Andreas, Haurwitz, Erbs."""

import numpy as np
import pandas as pd
import pvlib
import pytest
from astral import Observer
from astral.sun import azimuth, elevation

from alertd.thermal.sun import (
    clear_irradiance,
    diffuse_share,
    extraterrestrial_irradiance,
    global_irradiance,
    solar_load,
    solar_position,
)

YEAR = np.arange("2026-01-01", "2027-01-01", 7 * 3600 + 600, dtype="datetime64[s]")


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(40.0, -75.0), (59.0, 10.0), (-34.0, 151.0), (0.0, 179.5), (70.0, -150.0)]
)
def test_the_sun_stands_where_pvlib_sees_it(latitude, longitude):
    own = solar_position(YEAR, latitude, longitude)
    expected = pvlib.solarposition.get_solarposition(pd.DatetimeIndex(YEAR, tz="UTC"), latitude, longitude)
    assert np.abs(own.elevation - expected["elevation"]).max() < 0.02
    away = (own.azimuth - expected["azimuth"] + 180.0) % 360.0 - 180.0
    is_steep = np.abs(own.elevation) > 80.0  # near the zenith directions mean little
    assert np.abs(away[~is_steep]).max() < 0.1


def test_the_sun_stands_where_astral_sees_it():
    """astral's elevation contains refraction unless told otherwise."""
    observer = Observer(40.0, -75.0)
    for moment in (np.datetime64("2025-01-15T17:00:00"), np.datetime64("2025-06-15T11:00:00")):
        own = solar_position(np.array([moment]), 40.0, -75.0)
        aware = pd.Timestamp(moment, tz="UTC").to_pydatetime()
        assert own.elevation[0] == pytest.approx(elevation(observer, aware, with_refraction=False), abs=0.02)
        assert own.azimuth[0] == pytest.approx(azimuth(observer, aware), abs=0.02)


def test_a_january_noon_of_the_spa():
    """pvlib 0.16.1 at 40 N 75 W on 15 January 2025, 17:00 UTC: apparent elevation 29.0032, azimuth 177.4506 (seen)."""
    own = solar_position(np.array([np.datetime64("2025-01-15T17:00:00")]), 40.0, -75.0)
    assert own.elevation[0] == pytest.approx(29.0032, abs=0.04)  # 0.03 of it refraction
    assert own.azimuth[0] == pytest.approx(177.4506, abs=0.01)


def test_the_clear_sky_is_that_of_haurwitz():
    zenith = pd.Series(np.linspace(0.0, 120.0, 241))
    expected = pvlib.clearsky.haurwitz(zenith)["ghi"].to_numpy()
    assert clear_irradiance(90.0 - zenith.to_numpy()) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_the_sun_outside_the_atmosphere_is_that_of_spencer():
    days = (YEAR.astype("datetime64[D]") - np.datetime64("2026-01-01")).astype(int) + 1
    expected = pvlib.irradiance.get_extra_radiation(days)
    assert extraterrestrial_irradiance(YEAR) == pytest.approx(expected, rel=3e-3)


def test_the_diffuse_share_is_that_of_erbs():
    clearness = np.linspace(0.01, 0.99, 99)
    zenith, beyond = 60.0, 1366.1 * 0.5
    expected = pvlib.irradiance.erbs(clearness * beyond, np.full(99, zenith), np.full(99, 80))
    share = expected["dhi"] / (clearness * beyond)
    own = diffuse_share(np.array(expected["kt"]))
    assert own == pytest.approx(share, rel=1e-9)


def test_clouds_leave_a_quarter_as_kasten_and_czeplak_found():
    """1 - 0.75 N^3.4: 25 % under an overcast sky, 93 % at four octas (from memory)."""
    assert global_irradiance(30.0, 1.0) / clear_irradiance(30.0) == pytest.approx(0.25)
    assert global_irradiance(30.0, 0.5) / clear_irradiance(30.0) == pytest.approx(0.929, abs=5e-4)


@pytest.mark.parametrize("cloud", [0.0, 0.6, 1.0])
def test_the_mean_over_a_wall_is_that_over_planes_turned_all_around(cloud):
    """A cylinder's wall as 72 vertical planes of pvlib with an isotropic sky and the same beam and diffuse light."""
    times = np.arange("2026-02-10T13", "2026-02-10T21", 3600, dtype="datetime64[s]")
    middle = times + np.timedelta64(1800, "s")
    own = solar_load(times, 42.0, -75.0, cloud)
    position = solar_position(middle, 42.0, -75.0)
    zenith = 90.0 - position.elevation
    frame = pvlib.irradiance.erbs(own.top, zenith, np.full(times.size, 41))
    planes = [
        pvlib.irradiance.get_total_irradiance(
            90.0, turned, zenith, position.azimuth, frame["dni"], own.top, frame["dhi"], albedo=0.2, model="isotropic"
        )["poa_global"]
        for turned in range(0, 360, 5)
    ]
    assert own.wall == pytest.approx(np.mean(planes, axis=0), rel=2e-2)
    assert (own.top > 0.0).all()
