"""Exposed wood behaves as anybody expects, whatever the numbers."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from alertd.thermal.bracketing import zero_of_increasing
from alertd.thermal.convection import top_film_coefficient, twig_film_coefficient, wall_film_coefficient
from alertd.thermal.psychrometrics import dew_point, frost_point, vapour_pressure, wet_bulb
from alertd.thermal.sky import sky_temperature
from alertd.thermal.sun import solar_load
from alertd.thermal.wood import wood_temperature

#: [K] Wider than the precision to which a balance is solved.
SLACK = 1e-5

airs = st.floats(-35.0, 12.0)
depressions = st.floats(0.0, 20.0)
winds = st.floats(0.0, 20.0)
clouds = st.floats(0.0, 1.0)
deviations = st.floats(-1.0, 1.0)
sites = st.fixed_dictionaries(
    {
        "diameter": st.floats(0.002, 0.1),
        "sky_view": st.floats(0.0, 0.6),
        "wall_view": st.floats(0.0, 0.4),
        "wall_warmer_by": st.floats(0.0, 6.0),
        "wind_share": st.floats(0.2, 1.0),
        "hollow_offset": st.floats(-6.0, 0.0),
        "ground_colder_by": st.floats(0.0, 6.0),
        "deposition_share": st.floats(0.0, 1.0),
        "sky_deviation": deviations,
    }
)

#: [m/s] As `wood_temperature` has it unless told otherwise.
CALM_WIND_SPEED = 1.5

#: [K] Where hoar forms in air that hardly moves, the balance has two or three zeros this near to each other.
HOAR_IN_STILL_AIR = 0.05

#: [K] Depression of the dew point below which air down to -35 °C may be saturated over ice.
SATURATED_OVER_ICE = 5.0

#: A twig that sees only ground and wall, both as cold as the air: it has nothing to lose.
AT_REST = {
    "diameter": 0.0625,
    "sky_view": 0.0,
    "wall_view": 0.087,
    "wall_warmer_by": 0.0,
    "wind_share": 0.25,
    "hollow_offset": -0.1,
    "ground_colder_by": 0.0,
    "deposition_share": 0.0,
    "sky_deviation": 0.0,
}

BY_A_WALL_IN_A_HOLLOW = {
    **AT_REST,
    "wall_view": 0.365,
    "wall_warmer_by": 4.4,
    "wind_share": 0.93,
    "hollow_offset": -1.4,
}


@given(airs, depressions, winds, winds, clouds, sites)
@example(0.0, 1.0, 0.0, 5.0, 0.5, AT_REST)
@example(-14.0, 1.6, 0.0, 0.18, 0.37, BY_A_WALL_IN_A_HOLLOW)
def test_more_wind_never_deepens_undercooling(air, depression, one, other, cloud, site):
    """In a hollow a breath of wind joins wood that a wall has warmed to the cold air there, and not to colder."""
    winds_in_order = np.sort([one, other])
    calm, windy = wood_temperature(air, air - depression, winds_in_order, cloud, **site)
    there = air + site["hollow_offset"] * (1.0 - cloud) * np.exp(-winds_in_order[0] / CALM_WIND_SPEED)
    slack = HOAR_IN_STILL_AIR if depression < SATURATED_OVER_ICE else SLACK
    assert min(windy, there) >= min(calm, there) - slack


@given(airs, depressions, winds, clouds, clouds, sites)
def test_more_cloud_never_deepens_undercooling(air, depression, wind, one, other, site):
    clear, overcast = wood_temperature(air, air - depression, wind, np.sort([one, other]), **site)
    assert min(overcast - air, 0.0) >= min(clear - air, 0.0) - SLACK


@given(airs, airs, st.floats(-40.0, 10.0), winds, clouds, sites)
def test_colder_air_never_warms_wood(one, other, dew, wind, cloud, site):
    colder, warmer = wood_temperature(np.sort([one, other]), dew, wind, cloud, **site)
    assert colder <= warmer + SLACK


@given(airs, depressions, winds, clouds, sites)
def test_a_wall_that_is_no_colder_than_the_air_never_cools_wood(air, depression, wind, cloud, site):
    at_wall = wood_temperature(air, air - depression, wind, cloud, **site)
    without = wood_temperature(air, air - depression, wind, cloud, **{**site, "wall_view": 0.0})
    assert at_wall >= without - SLACK


@given(airs, depressions, winds, clouds, sites)
def test_a_hollow_never_warms_wood(air, depression, wind, cloud, site):
    in_hollow = wood_temperature(air, air - depression, wind, cloud, **site)
    on_slope = wood_temperature(air, air - depression, wind, cloud, **{**site, "hollow_offset": 0.0})
    assert in_hollow <= on_slope + SLACK


@given(airs, depressions, winds, clouds, sites, deviations)
def test_a_warmer_sky_never_cools_wood(air, depression, wind, cloud, site, deviation):
    colder, warmer = np.sort([site["sky_deviation"], deviation])
    under = [
        wood_temperature(air, air - depression, wind, cloud, **{**site, "sky_deviation": value})
        for value in (colder, warmer)
    ]
    assert under[0] <= under[1] + SLACK


@given(airs, airs, st.floats(-40.0, 10.0), clouds, clouds, deviations)
def test_colder_air_and_less_cloud_make_a_colder_sky(one, other, dew, less, more, deviation):
    colder, warmer = np.sort([one, other])
    clearer, cloudier = np.sort([less, more])
    assert sky_temperature(colder, dew, clearer, deviation=deviation)[0] <= (
        sky_temperature(warmer, dew, cloudier, deviation=deviation)[0] + 1e-9
    )
    assert sky_temperature(warmer, dew, clearer)[0] <= warmer


@given(st.floats(0.001, 1.0), winds, winds, st.floats(-30.0, 30.0), st.floats(-40.0, 30.0))
def test_more_wind_takes_more_heat(diameter, one, other, difference, air):
    speeds = np.sort([one, other])
    for film in (top_film_coefficient, twig_film_coefficient, wall_film_coefficient):
        calm, windy = film(diameter, speeds, difference, air_temperature=air)
        assert 0.0 <= calm <= windy * (1 + 1e-12)


@given(st.floats(-40.0, 30.0), depressions)
def test_points_return_to_their_vapour_and_stand_in_their_order(air, depression):
    dew = air - depression
    vapour = vapour_pressure(dew)
    assert dew_point(vapour) == pytest.approx(dew, abs=1e-8)
    frost = frost_point(vapour)
    assert frost >= dew - 1e-8 or dew > 0.0
    bulb = wet_bulb(air, dew)
    assert dew - 1e-5 <= bulb <= max(air, frost if dew < 0.0 else air) + 1e-5


@given(st.floats(-60.0, 60.0), st.floats(0.01, 50.0), st.floats(0.01, 50.0), st.floats(0.1, 5.0))
def test_a_zero_is_found_wherever_it_lies_in_the_bracket(zero, below, above, slope):
    low, high = np.array([zero - below]), np.array([zero + above])
    found = zero_of_increasing(lambda x: slope * (x - zero) + 3.0 * np.cbrt(x - zero), low, high, 1e-9)
    assert found[0] == pytest.approx(zero, abs=1e-9 / slope + 1e-12)


@given(st.floats(-66.0, 66.0), st.floats(-180.0, 180.0), st.integers(0, 365), clouds, clouds)
def test_clouds_never_brighten_and_sunlight_is_never_below_zero(latitude, longitude, day, one, other):
    times = np.datetime64("2026-01-01T00:00:00") + np.arange(24 * day, 24 * day + 24) * np.timedelta64(3600, "s")
    clear, cloudy = (solar_load(times, latitude, longitude, cloud) for cloud in sorted((one, other)))
    assert (cloudy.top >= 0.0).all()
    assert (cloudy.wall >= 0.0).all()
    assert (cloudy.top <= clear.top + 1e-9).all()
    assert clear.top.max() < 1100.0
    assert clear.wall.max() < 700.0
    assert clear.top.max() > 0.0
