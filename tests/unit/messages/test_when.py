from datetime import timedelta

import pytest

from alertd.messages import clock_text, day_text, length_text, when_text
from tests.fakes.garden import local, make_site

NOW = local("2026-01-20 08:00")


@pytest.mark.parametrize(
    ("instant", "text"),
    [
        ("2026-01-20 00:00", "00:00 today"),
        ("2026-01-20 15:10", "15:10 today"),
        ("2026-01-20 23:59", "23:59 today"),
        ("2026-01-21 00:00", "00:00 tomorrow"),
        ("2026-01-22 23:00", "23:00 on Thu 22 Jan"),
        ("2026-01-19 06:00", "06:00 on Mon 19 Jan"),
    ],
)
def test_times_are_said_in_local_time_as_seen_from_now(instant, text):
    assert when_text(local(instant), NOW, make_site()) == text


def test_days_and_clocks_are_local():
    instant = local("2026-11-01 20:30")
    assert day_text(instant, make_site()) == "Sun 1 Nov"
    assert clock_text(instant, make_site()) == "20:30"


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0, "0 min"), (1, "5 min"), (45, "45 min"), (56, "1 h"), (60, "1 h"), (61, "1 h 5 min"), (110, "1 h 50 min")],
)
def test_lengths_are_rounded_up_to_five_minutes(minutes, text):
    assert length_text(timedelta(minutes=minutes)) == text
