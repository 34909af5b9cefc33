from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from alertd.core import as_utc, from_datetime64, instant_text, parse_instant, to_datetime64

NOON = datetime(2026, 1, 22, 12, tzinfo=UTC)
EAST = timezone(timedelta(hours=5, minutes=30))


@pytest.mark.parametrize(
    ("text", "instant"),
    [
        ("2026-01-22T12:00:00Z", NOON),
        ("2026-01-22t12:00:00z", NOON),
        ("2026-01-22 12:00:00Z", NOON),
        (" 2026-01-22T12:00:00Z\n", NOON),
        ("2026-01-22T07:00:00-05:00", NOON),
        ("2026-01-22T17:30:00+05:30", NOON),
        ("2026-01-22T12:00:00.5Z", NOON + timedelta(milliseconds=500)),
        ("2026-01-22T12:00:00.123456789Z", NOON + timedelta(microseconds=123456)),
        ("2024-02-29T00:00:00Z", datetime(2024, 2, 29, tzinfo=UTC)),
    ],
)
def test_rfc_3339_times_are_read_as_utc(text, instant):
    parsed = parse_instant(text)
    assert parsed == instant
    assert parsed.tzinfo is UTC


@pytest.mark.parametrize(
    "text",
    ["", "2026-01-22", "2026-01-22T12:00:00", "2026-01-22T12:00Z", "22.01.2026 12:00:00Z", "٢٠٢٦-01-22T12:00:00Z"],
)
def test_what_has_no_offset_or_another_form_is_refused(text):
    with pytest.raises(ValueError, match="is not an RFC 3339 time with an offset"):
        parse_instant(text)


@pytest.mark.parametrize(
    "text", ["2026-02-29T12:00:00Z", "2026-01-22T25:00:00Z", "0001-01-01T00:00:00+14:00", "2026-01-22T12:00:00+99:00"]
)
def test_times_that_do_not_exist_are_refused(text):
    with pytest.raises(ValueError, match="is not a time that exists"):
        parse_instant(text)


def test_instants_are_written_in_utc_and_whole_seconds():
    assert instant_text(datetime(2026, 1, 22, 17, 30, 0, 999, tzinfo=EAST)) == "2026-01-22T12:00:00Z"


@pytest.mark.parametrize("function", [as_utc, instant_text, to_datetime64])
def test_a_time_without_an_offset_is_no_instant(function):
    with pytest.raises(ValueError, match="2026-01-22T12:00:00 has no offset from UTC"):
        function(datetime(2026, 1, 22, 12))  # noqa: DTZ001 - naive on purpose


def test_datetime64_is_utc_in_whole_seconds():
    value = to_datetime64(datetime(2026, 1, 22, 17, 30, 5, 900, tzinfo=EAST))
    assert value == np.datetime64("2026-01-22T12:00:05")
    assert value.dtype == np.dtype("datetime64[s]")
    assert from_datetime64(value) == NOON + timedelta(seconds=5)
    assert from_datetime64(np.datetime64("2026-01-22T12", "h")) == NOON
    assert from_datetime64(value).tzinfo is UTC
