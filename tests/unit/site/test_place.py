from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from alertd.site import MonthDay
from tests.fakes.garden import local, make_site


def test_a_day_of_the_year_is_written_with_two_digits():
    assert str(MonthDay(4, 5)) == "04-05"


def test_local_time_is_that_of_the_site():
    assert make_site().local(datetime(2026, 1, 22, 20, tzinfo=UTC)).isoformat() == "2026-01-22T15:00:00-05:00"
    assert make_site().local(datetime(2026, 7, 22, 20, tzinfo=UTC)).isoformat() == "2026-07-22T16:00:00-04:00"


def test_a_time_without_an_offset_has_no_local_time():
    with pytest.raises(ValueError, match="no offset"):
        make_site().local(datetime(2026, 1, 22))  # noqa: DTZ001 - naive on purpose


@pytest.mark.parametrize(
    ("latitude", "now", "start"),
    [
        (40.0, "2026-07-24 00:00", "2026-07-24 00:00"),
        (40.0, "2026-07-23 23:59", "2025-07-24 00:00"),
        (40.0, "2026-01-01 12:00", "2025-07-24 00:00"),
        (0.0, "2026-01-01 12:00", "2025-07-24 00:00"),
        (-0.1, "2026-01-23 23:59", "2025-01-24 00:00"),
        (-40.0, "2026-01-24 00:00", "2026-01-24 00:00"),
        (-40.0, "2026-12-31 12:00", "2026-01-24 00:00"),
    ],
)
def test_seasons_begin_at_midsummer_local_midnight(latitude, now, start):
    assert make_site(latitude=latitude).season_start(local(now)) == local(start)


@pytest.mark.parametrize(
    ("latitude", "last_freeze", "now", "is_past"),
    [
        (40.0, (4, 25), "2026-04-24 23:59", False),
        (40.0, (4, 25), "2026-04-25 00:00", True),
        (40.0, (4, 25), "2026-07-23 23:59", True),
        (40.0, (4, 25), "2026-07-24 00:00", False),
        (40.0, (4, 25), "2026-12-31 12:00", False),
        (40.0, (12, 20), "2026-12-19 12:00", False),
        (40.0, (12, 20), "2027-03-01 12:00", True),
        (-40.0, (10, 20), "2026-10-19 12:00", False),
        (-40.0, (10, 20), "2026-10-20 12:00", True),
        (-40.0, (10, 20), "2027-01-23 12:00", True),
        (-40.0, (10, 20), "2027-01-24 12:00", False),
    ],
)
def test_spring_is_trusted_from_the_last_freeze_date_to_midsummer(latitude, last_freeze, now, is_past):
    site = make_site(latitude=latitude, last_freeze=MonthDay(*last_freeze))
    assert site.is_past_last_freeze(local(now)) == is_past


def test_a_season_begins_at_the_sites_own_midnight():
    zone = ZoneInfo("Pacific/Auckland")
    site = make_site(latitude=-43.5, time_zone=zone)
    assert site.season_start(local("2026-06-01 12:00", zone)) == datetime(2026, 1, 23, 11, tzinfo=UTC)


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Hillside", "hillside"),
        ("Zoë's  Garden, No. 2", "zoe-s-garden-no-2"),
        ("庭", "site"),
        ("", "site"),
        ("-a-", "a"),
    ],
)
def test_a_site_has_a_plain_name_for_threads(name, slug):
    assert make_site(name=name).slug == slug
