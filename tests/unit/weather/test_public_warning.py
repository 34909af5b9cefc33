from datetime import UTC, datetime

import pytest

from alertd.weather import PublicWarning

SENT = datetime(2026, 1, 22, 19, 10, tzinfo=UTC)
ENDS = datetime(2026, 1, 23, 14, tzinfo=UTC)


@pytest.mark.parametrize(
    "event",
    [
        "Freeze Warning",
        "Hard Freeze Watch",
        "Frost Advisory",
        "Extreme Cold Warning",
        "Wind Chill Advisory",
        "Winter Storm Watch",
        "Ice Storm Warning",
        "Lake Effect Snow Warning",
        "Blizzard Warning",
        "Freezing Rain Advisory",
        "High Wind Warning",
    ],
)
def test_what_concerns_cold_or_covers_is_known_by_its_name(event):
    assert PublicWarning(event, SENT, None, None).is_of_cold


@pytest.mark.parametrize("event", ["Rip Current Statement", "Excessive Heat Warning", "Flood Advisory", "Test Notice"])
def test_what_concerns_other_things_is_known_too(event):
    assert not PublicWarning(event, SENT, None, None).is_of_cold


def test_an_event_is_over_at_the_end_that_the_service_states():
    warning = PublicWarning("Freeze Warning", SENT, None, ENDS)
    assert not warning.is_over(SENT)
    assert warning.is_over(ENDS)
    assert not PublicWarning("Freeze Warning", SENT, None, None).is_over(ENDS)
