"""Whatever bytes come, the parser of MOSMIX files returns believable values or refuses them."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.core import SourceMalformed
from alertd.sources.mosmix import parse_station_forecast
from alertd.weather import PHYSICAL_RANGE
from tests.fakes.mosmix import STATION, hours, kml, kmz, rows, zipped

DOCUMENT = kml(times=hours(14), values=rows(14))
FILE = kmz(DOCUMENT)
PIECES = [
    b"<",
    b"</",
    b"/>",
    b"<!DOCTYPE a>",
    b"<!ENTITY",
    b"&amp;",
    b"&x;",
    b"<![CDATA[",
    b"]]>",
    b"<?xml",
    b"-",
    b"\0",
    b"9" * 400,
]


def outcome(answer):
    try:
        return parse_station_forecast(answer, STATION), ""
    except SourceMalformed as error:
        return None, str(error)


def check(answer):
    forecast, reason = outcome(answer)
    assert "\n" not in reason
    assert len(reason) < 400
    if forecast is None:
        assert reason
        return
    for name, values in forecast.series.variables.items():
        lowest, highest = PHYSICAL_RANGE[name]
        assert (np.isnan(values) | ((values >= lowest) & (values <= highest))).all()
    assert forecast.error is None or (np.isnan(forecast.error) | (forecast.error >= 0.0)).all()
    assert all(-90.0 <= minimum.air_temperature <= 60.0 for minimum in forecast.minima)


@given(st.binary(max_size=400))
def test_arbitrary_bytes_do_no_harm(answer):
    check(answer)
    check(zipped({"a.kml": answer}))


@given(st.integers(0, len(FILE)), st.integers(0, 12), st.binary(max_size=12))
@settings(max_examples=400)
def test_a_file_with_bytes_replaced_does_no_harm(place, length, inserted):
    check(FILE[:place] + inserted + FILE[place + length :])


@given(st.integers(0, len(DOCUMENT)), st.integers(0, 60), st.sampled_from(PIECES) | st.binary(max_size=20))
@settings(max_examples=400)
def test_a_document_with_bytes_replaced_does_no_harm(place, length, inserted):
    check(zipped({"a.kml": DOCUMENT[:place] + inserted + DOCUMENT[place + length :]}))


values = st.none() | st.floats(allow_nan=False, allow_infinity=False, width=32) | st.floats(200.0, 300.0)


@given(st.dictionaries(st.sampled_from(list(rows(1))), st.lists(values, min_size=5, max_size=5)))
@settings(max_examples=300)
def test_rows_of_any_values_do_no_harm(rows_of_values):
    check(kmz(times=hours(5), values=rows_of_values))
