"""Sunrise and sunset against astral 3.2 (PyPI), another program, written after the same NOAA solar calculator."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from astral import Observer
from astral.sun import sunrise, sunset

from alertd.site import Sun, daylight

#: Apparent agreement asked for up to 65° of latitude.
TOLERANCE = timedelta(minutes=2)

DAYS = [date(2026, 1, 1) + timedelta(days=offset) for offset in range(0, 365, 5)]
LATITUDES = (-65.0, -55.0, -40.0, -20.0, 0.0, 15.0, 30.0, 40.0, 50.0, 60.0, 65.0)


@pytest.mark.parametrize("longitude", [-150.0, -75.0, 0.0, 15.0, 100.0, 175.0])
@pytest.mark.parametrize("latitude", LATITUDES)
def test_sunrise_and_sunset_agree_with_astral(latitude, longitude):
    observer = Observer(latitude, longitude)
    solar_time = timezone(timedelta(minutes=round(4 * longitude)))  # the date is that of the solar day
    compared = 0
    for day in DAYS:
        light = daylight(latitude, longitude, day)
        assert light.sun is Sun.RISES
        for event, instant in ((sunrise, light.sunrise), (sunset, light.sunset)):
            try:
                expected = event(observer, day, tzinfo=solar_time)
            except ValueError:  # astral loses an event that falls on midnight UTC
                continue
            assert abs(expected - instant) <= TOLERANCE, (event.__name__, day)
            compared += 1
    assert compared >= 2 * len(DAYS) - 1


@pytest.mark.parametrize("latitude", [-85.0, -75.0, 70.0, 75.0, 85.0])
def test_polar_days_and_nights_are_told_from_days_with_a_sunrise_as_astral_does(latitude):
    """Left out: the four days on which the sun grazes the horizon, where half a minute of arc decides."""
    found = set()
    for day in DAYS:
        noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
        around = [daylight(latitude, 0.0, day + timedelta(days=offset)).sun for offset in range(-4, 5)]
        if len(set(around)) > 1:
            continue
        try:
            sunrise(Observer(latitude, 0.0), noon.date(), tzinfo=UTC)
            expected = {Sun.RISES}
        except ValueError as error:
            expected = {Sun.ALWAYS_DOWN if "below" in str(error) else Sun.ALWAYS_UP}
        assert around[0] in expected, day
        found.add(around[0])
    assert {Sun.ALWAYS_UP, Sun.ALWAYS_DOWN} <= found


def test_a_day_of_the_almanac():
    """Greenwich, 21 June 2024: sunrise 03:43, sunset 20:21 UTC (published widely for London; from memory)."""
    light = daylight(51.48, 0.0, date(2024, 6, 21))
    assert abs(light.sunrise - datetime(2024, 6, 21, 3, 43, tzinfo=UTC)) <= TOLERANCE
    assert abs(light.sunset - datetime(2024, 6, 21, 20, 21, tzinfo=UTC)) <= TOLERANCE
