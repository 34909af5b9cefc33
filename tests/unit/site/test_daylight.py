from datetime import UTC, date, datetime, timedelta

import pytest

from alertd.site import Sun, daylight


def test_the_sun_rises_before_it_sets_around_the_solar_noon_of_the_date():
    for longitude in (-179.0, -75.0, 0.0, 120.0, 179.0):
        light = daylight(40.0, longitude, date(2026, 1, 22))
        noon = datetime(2026, 1, 22, 12, tzinfo=UTC) - timedelta(minutes=4 * longitude)
        assert light.sun is Sun.RISES
        assert light.sunrise is not None
        assert light.sunset is not None
        assert light.sunrise < noon < light.sunset
        assert light.sunset - light.sunrise < timedelta(hours=11)


@pytest.mark.parametrize(
    ("latitude", "day", "sun"),
    [
        (80.0, date(2026, 12, 21), Sun.ALWAYS_DOWN),
        (80.0, date(2026, 6, 21), Sun.ALWAYS_UP),
        (-80.0, date(2026, 12, 21), Sun.ALWAYS_UP),
        (-80.0, date(2026, 6, 21), Sun.ALWAYS_DOWN),
        (90.0, date(2026, 12, 21), Sun.ALWAYS_DOWN),
        (-90.0, date(2026, 12, 21), Sun.ALWAYS_UP),
    ],
)
def test_polar_days_and_nights_have_no_sunrise(latitude, day, sun):
    light = daylight(latitude, 20.0, day)
    assert light.sun is sun
    assert light.sunrise is light.sunset is None


def test_where_the_sun_only_just_rises_a_time_is_found():
    lights = [daylight(67.9 + step / 1000, 20.0, date(2026, 1, 3)) for step in range(300)]
    assert {light.sun for light in lights} == {Sun.RISES, Sun.ALWAYS_DOWN}
    for light in lights:
        assert (light.sunrise is None) == (light.sun is not Sun.RISES)
