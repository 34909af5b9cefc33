"""Whatever is asked when, no minute, hour or day holds more calls than its quota allows."""

from collections import Counter
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from alertd.sources.politeness import http_date, retry_after
from alertd.sources.quota import Quota, Spent, call_weight, refusal

START = datetime(2026, 12, 31, 22, 58, 30, tzinfo=UTC)
QUOTA = Quota("example.org", 6.0, 20.0, 50.0)
STEPS = st.lists(st.tuples(st.integers(0, 3000), st.floats(0.5, 8.0)), max_size=80)


@given(STEPS)
def test_no_window_holds_more_than_its_quota(steps):
    now, spent, calls = START, Spent(), Counter()
    for seconds, weight in steps:
        now += timedelta(seconds=seconds)
        names = [now.strftime(form) for form in ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H", "%Y-%m-%d")]
        limits = (6.0, 20.0, 50.0)
        fits = all(calls[name] + weight <= limit for name, limit in zip(names, limits, strict=True))
        assert (refusal(QUOTA, spent, weight, now) == "") is fits
        if fits:
            spent = spent.at(QUOTA, now).plus(weight)
            calls.update(dict.fromkeys(names, weight))


@given(st.integers(1, 50), st.integers(1, 50), st.integers(1, 40), st.integers(1, 51))
def test_asking_for_more_never_costs_less(locations, variables, days, members):
    cost = call_weight(locations, variables, days, members)
    assert cost >= locations
    assert call_weight(locations + 1, variables, days, members) > cost
    assert call_weight(locations, variables + 1, days, members) >= cost
    assert call_weight(locations, variables, days + 1, members) >= cost
    assert call_weight(locations, variables, days, members + 1) >= cost


@given(st.text(), st.text(st.sampled_from("0123456789 ,:-+GMTMonJan"), max_size=40))
def test_any_header_is_read_without_an_error(text, other):
    longest = timedelta(hours=6)
    for header in (text, other):
        instant = http_date(header)
        assert instant is None or instant.tzinfo is not None
        pause = retry_after(header, START, longest)
        assert pause is None or timedelta(0) <= pause <= longest
