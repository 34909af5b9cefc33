from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import SourceMalformed
from alertd.sources.reference_time import refuse_future

NOW = datetime(2026, 1, 22, 9, tzinfo=UTC)


def test_a_service_whose_clock_is_a_little_ahead_is_believed():
    assert refuse_future(NOW + timedelta(hours=1), NOW) is None


def test_a_forecast_from_the_future_is_refused():
    with pytest.raises(SourceMalformed, match="made at 2026-01-22T10:00:01Z, after 2026-01-22T09:00:00Z, so its age"):
        refuse_future(NOW + timedelta(hours=1, seconds=1), NOW)
