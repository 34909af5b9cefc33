from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import to_datetime64
from alertd.sources.minima import believable_minima
from alertd.weather import Check, PeriodMinimum, Series

START = datetime(2026, 1, 22, tzinfo=UTC)


def series(values):
    times = np.array([to_datetime64(START + timedelta(hours=n)) for n in range(len(values))])
    return Series(times, {"air_temperature": np.array([values], dtype=float)})


def minimum(temperature, hours=3):
    return PeriodMinimum(START, START + timedelta(hours=hours), temperature)


def test_a_minimum_a_little_below_the_values_is_believed():
    assert believable_minima([minimum(-7.0)], series([1.0, 0.0, 2.0, 3.0])) == ((minimum(-7.0),), ())


def test_a_minimum_far_below_all_values_of_its_period_is_not():
    kept, findings = believable_minima([minimum(-13.0)], series([1.0, 0.0, 2.0, 3.0]))
    assert kept == ()
    assert [(finding.check, finding.count) for finding in findings] == [(Check.RATE_OF_CHANGE, 1)]
    assert findings[0].text == (
        "air_temperature: minima of periods more than 12 °C below every value of their period, left out: 1"
    )


@pytest.mark.parametrize("values", [[np.nan, 0.0, 2.0, 3.0], [1.0, 0.0, 2.0, np.nan], [1.0, 0.0], [np.nan] * 4])
def test_where_values_do_not_reach_the_edges_nothing_can_be_said_against_a_minimum(values):
    assert believable_minima([minimum(-30.0)], series(values))[0] == (minimum(-30.0),)


@pytest.mark.parametrize("temperature", [-90.1, 60.1])
def test_a_minimum_that_no_place_has_is_never_believed(temperature):
    kept, findings = believable_minima([minimum(temperature)], series([np.nan]))
    assert kept == ()
    assert findings[0].check == Check.PHYSICAL_RANGE
