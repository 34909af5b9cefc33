from datetime import UTC, datetime

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from alertd.weather import Forecast, merge, realization_counts
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)
SOURCES = st.lists(st.tuples(st.floats(1e-3, 1e3), st.integers(1, 60)), min_size=2, max_size=8)


@given(SOURCES)
def test_shares_are_proportional_to_weights_as_far_as_whole_numbers_allow(sources):
    weights, sizes = zip(*sources, strict=True)
    counts = realization_counts(weights, sizes)
    total = sum(counts)
    assert total <= 255
    assert min(counts) >= 1
    assert counts == realization_counts(weights, sizes)
    over = [count / total - weight / sum(weights) for count, weight in zip(counts, weights, strict=True)]
    # those that are owed less than one realization take it from the others
    assert max(abs(each) for each in over) <= (len(sources) + 1) / total
    assert total == 255 or all(count >= size for count, size in zip(counts, sizes, strict=True)) or total < 255


@given(SOURCES)
def test_no_realization_is_lost_while_there_is_room(sources):
    weights, sizes = zip(*sources, strict=True)
    counts = realization_counts(weights, sizes)
    if sum(counts) < 255:
        assert all(count >= size - 1 for count, size in zip(counts, sizes, strict=True))


@given(SOURCES, st.randoms(use_true_random=False))
def test_a_mixture_holds_only_values_of_its_sources_in_their_hours(sources, random):
    forecasts = [
        Forecast(
            f"s{place}",
            START,
            START,
            hourly_series(START, [[random.uniform(-9, 9)] * 3 for _ in range(size)]),
            weight=weight,
        )
        for place, (weight, size) in enumerate(sources)
    ]
    mixture = merge(forecasts).series.air_temperature
    given_values = np.concatenate([each.series.air_temperature[:, 0] for each in forecasts])
    assert np.isin(mixture, given_values).all()
    assert merge(forecasts).series.air_temperature.tolist() == mixture.tolist()


@given(st.floats(1e-3, 1e3), st.lists(st.integers(1, 60), min_size=2, max_size=4))
def test_equal_weights_share_equally_whatever_their_size(weight, sizes):
    assert realization_counts([weight] * len(sizes), sizes) == (max(sizes),) * len(sizes)
