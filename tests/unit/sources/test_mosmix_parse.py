import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceMalformed, to_datetime64
from alertd.sources.mosmix import explain_failure, parse_station_forecast
from alertd.weather import Check
from tests.fakes.mosmix import ISSUED, STATION, hours, kml, kmz, rows, zipped


def parsed(**options):
    return parse_station_forecast(kmz(**options), STATION)


def changed(**replaced):
    return rows() | replaced


def test_values_are_read_in_canonical_units():
    forecast = parsed()
    variables = {name: values[0, 0] for name, values in forecast.series.variables.items()}
    assert variables == pytest.approx(
        {
            "air_temperature": -3.0,  # 270.15 K
            "dew_point_temperature": -5.0,
            "wind_speed": 3.09,
            "cloud_area_fraction": 0.0,
            "precipitation_amount": 0.1,
        }
    )
    assert forecast.series.times[0] == to_datetime64(ISSUED + timedelta(hours=1))
    assert forecast.findings == ()


def test_the_station_tells_where_it_is_and_when_the_forecast_was_issued():
    forecast = parsed()
    assert (forecast.station, forecast.latitude, forecast.longitude, forecast.elevation) == (
        STATION,
        47.05,
        -91.4,
        250.0,
    )
    assert forecast.issued == ISSUED


def test_a_minimum_covers_the_twelve_hours_before_its_time():
    [first, second] = parsed().minima
    assert first.end == ISSUED + timedelta(hours=21)
    assert first.end - first.start == timedelta(hours=12)
    assert second.end - first.end == timedelta(hours=24)
    assert first.air_temperature == pytest.approx(min(rows()["TTT"][9:21]) - 1.5 - 273.15)


def first_minimum_at(place, air):
    """Return the minima of a forecast that states one, 262.15 K, for the twelve hours before a time."""
    stated = [None] * len(air)
    stated[place] = 262.15
    values = {"TTT": air, "TN": stated}
    return parsed(times=hours(len(air)), values=values).minima


def test_the_minimum_of_a_dawn_that_is_over_says_nothing_of_the_day():
    assert first_minimum_at(8, [266.0, 268.0, 269.0, 270.0, 271.0, 271.0, 270.0, 269.0, 268.0]) == ()
    assert first_minimum_at(8, [None] * 9 + [270.0]) == ()


def test_the_minimum_of_a_night_that_has_begun_still_holds():
    [minimum] = first_minimum_at(8, [268.0, 267.0, 266.0, 265.0, 264.0, 263.5, 263.0, 263.0, 264.0])
    assert minimum.air_temperature == pytest.approx(-11.0)


def test_the_minimum_of_a_period_that_the_forecast_covers_holds_wherever_its_coldest_hour_is():
    [minimum] = first_minimum_at(11, [263.0 + hour for hour in range(12)])
    assert minimum.start == ISSUED
    assert first_minimum_at(10, [263.0 + hour for hour in range(12)]) == ()


def test_the_expected_absolute_error_becomes_a_standard_deviation():
    error = parsed().error
    assert error[[0, 10]] == pytest.approx(np.array([1.2, 1.3]) * math.sqrt(math.pi / 2.0))


def test_errors_that_cannot_be_true_are_left_out():
    error = parsed(values=changed(E_TTT=[-1.0, 40.0, None] + [1.0] * 45)).error
    assert np.isnan(error[:3]).all()
    assert not np.isnan(error[3:]).any()


@pytest.mark.parametrize("row", [None, [None] * 48, [-1.0] * 48])
def test_without_a_believable_error_none_is_stated(row):
    values = rows() if row is None else changed(E_TTT=row)
    if row is None:
        del values["E_TTT"]
    assert parsed(values=values).error is None


def test_dashes_are_missing_values():
    forecast = parsed(values=changed(TTT=[None] * 3 + rows()["TTT"][3:]))
    assert np.isnan(forecast.series.air_temperature[0, :3]).all()
    assert not np.isnan(forecast.series.air_temperature[0, 3:]).any()


def test_total_cloud_cover_stands_in_for_effective_cloud_cover():
    forecast = parsed(values=changed(Neff=[None] * 48))
    assert set(forecast.series.variables["cloud_area_fraction"][0]) == {88.0}


def test_elements_that_are_not_there_are_left_out():
    forecast = parsed(values={"TTT": rows()["TTT"]})
    assert set(forecast.series.variables) == {"air_temperature"}
    assert forecast.minima == ()


def test_a_minimum_that_cannot_be_true_is_left_out_and_reported():
    row = [None] * 48
    row[20], row[44] = 0.0, 230.0
    forecast = parsed(values=changed(TN=row))
    assert forecast.minima == ()
    assert [finding.check for finding in forecast.findings] == [Check.PHYSICAL_RANGE, Check.RATE_OF_CHANGE]


def _backwards():
    times = hours()
    return [times[1], times[0], *times[2:]]


@pytest.mark.parametrize(
    ("options", "reason"),
    [
        ({"station": "X9002"}, "the file is for station 'X9002', not for 'X9001'; check station"),
        ({"coordinates": "-91.4,47.05"}, "is not longitude, latitude and elevation"),
        ({"coordinates": "-91.4,47.05,nan"}, "is not longitude, latitude and elevation"),
        ({"coordinates": "-91.4,147.05,20"}, "is not on Earth"),
        ({"coordinates": "-191.4,47.05,20"}, "is not on Earth"),
        ({"coordinates": "-91.4,47.05,9999"}, "is not on Earth"),
        ({"times": _backwards()}, "follows"),
        ({"times": [*hours(47), ISSUED + timedelta(days=31)]}, "there is a time 2026-02-22"),
        ({"issued": datetime(2300, 1, 1, tzinfo=UTC)}, "no forecast speaks of that year"),
        ({"times": []}, "the file has 0 times"),
        ({"values": changed(TTT=[270.0] * 47)}, "TTT has 47 values for 48 times"),
        ({"values": changed(TTT=[-3.0] * 48)}, "air_temperature: 100% of the values are outside"),
        ({"values": {"FF": [1.0] * 48}}, "air_temperature: no usable value"),
    ],
)
def test_a_file_that_cannot_be_trusted_is_refused_with_one_clear_line(options, reason):
    with pytest.raises(SourceMalformed, match=reason) as caught:
        parsed(**options)
    assert "\n" not in str(caught.value)
    assert ";" in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("<kml:name>X9001</kml:name>", "", "the file has 0 elements name"),
        ("<kml:Placemark>", "<kml:Placemark><kml:name>X9001</kml:name>", "the file has 2 elements name"),
        ('elementName="Td"', 'elementName="TTT"', "TTT stands there twice"),
        ("270.15", "1_0", "TTT has a value '1_0' that is no number"),
        ("2026-01-22T10:00:00.000Z", "yesterday", "a time is 'yesterday' and no time"),
        ("2026-01-22T10:00:00.000Z", "x" * 100, "a time is 'x{40}…' and no time"),
    ],
)
def test_a_document_that_was_changed_is_refused(old, new, reason):
    text = kml(encoding="UTF-8").decode()
    assert old in text
    with pytest.raises(SourceMalformed, match=reason):
        parse_station_forecast(zipped({"a.kml": text.replace(old, new, 1).encode()}), STATION)


def test_an_unknown_station_is_explained_and_other_failures_are_left_to_others():
    assert "check station" in explain_failure(404, {}, b"")
    assert explain_failure(500, {}, b"") == ""
