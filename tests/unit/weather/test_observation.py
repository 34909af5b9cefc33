from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import Check, Observation, observed_weather

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)


def observation(minutes: float, temperature: float, station: str = "barn", received: datetime = NOON) -> Observation:
    return Observation(station, NOON + timedelta(minutes=minutes), temperature, received)


@pytest.mark.parametrize(
    "station", ["", " barn", "barn north", "-barn", "böhm", "a/b", "x" * 65, "barn\n", "barn\nnorth"]
)
def test_a_name_that_is_none_is_refused(station):
    with pytest.raises(ValueError, match="like barn-north"):
        observation(0, 1.0, station)


@pytest.mark.parametrize("temperature", [np.nan, np.inf])
def test_what_is_no_temperature_is_refused(temperature):
    with pytest.raises(ValueError, match=r"barn at 2026-01-23T12:00:00Z: (nan|inf) is no temperature"):
        observation(0, temperature)


def test_naive_times_are_refused():
    with pytest.raises(ValueError, match="no offset"):
        observation(0, 1.0, received=datetime(2026, 1, 23))  # noqa: DTZ001 - the point of it
    with pytest.raises(ValueError, match="no offset"):
        Observation("barn", datetime(2026, 1, 23), 1.0, NOON).time_problem  # noqa: B018, DTZ001


@pytest.mark.parametrize(
    ("minutes", "says"),
    [
        (5, ""),
        (5.1, "the time 2026-01-23T12:05:06Z is still to come; set the clocks"),
        (-400 * 1440, ""),
        (-400 * 1440 - 1, "the time 2024-12-19T11:59:00Z is more than 400 days ago"),
    ],
)
def test_a_time_from_the_future_or_long_ago_cannot_be_used(minutes, says):
    assert observation(minutes, 1.0).time_problem == says


def test_each_station_becomes_a_realization_on_the_times_of_all():
    observed = observed_weather([observation(10, 3.0, "well"), observation(0, 1.0), observation(10, 2.0)])
    assert observed.stations == ("barn", "well")
    np.testing.assert_array_equal(observed.series.air_temperature, [[1.0, 2.0], [np.nan, 3.0]])
    assert observed.findings == ()


def test_the_one_received_last_counts():
    later = observation(0, 5.0, received=NOON + timedelta(hours=1))
    assert observed_weather([later, observation(0, 1.0)]).series.air_temperature.tolist() == [[5.0]]


def test_each_station_is_checked_by_itself():
    values = [-999.0, *(1.0 + 0.1 * (k % 7) for k in range(40))]
    barn = [observation(10 * k, value) for k, value in enumerate(values)]
    well = [observation(10 * k, -999.0, "well") for k in range(3)]
    observed = observed_weather(barn + well)
    assert observed.stations == ("barn",)
    np.testing.assert_array_equal(observed.series.air_temperature, [[np.nan, *values[1:]]])
    assert {finding.check for finding in observed.findings} == {Check.PHYSICAL_RANGE}
    assert [finding.text.split(":")[0] for finding in observed.findings] == ["barn", "well"]


def test_nothing_usable_is_no_series():
    assert observed_weather([]).series is None
    assert observed_weather([observation(0, -999.0)]).series is None
