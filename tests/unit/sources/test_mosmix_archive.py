import zipfile

import pytest

from alertd.core import SourceMalformed
from alertd.sources.mosmix import read_kml
from alertd.sources.mosmix.archive import DEEPEST_NESTING, LARGEST_KML, MOST_ELEMENTS
from tests.fakes.mosmix import kml, kmz, zipped

DESCRIPTION = ".//{http://www.opengis.net/kml/2.2}description"


@pytest.mark.parametrize("encoding", ["ISO-8859-1", "UTF-8", "iso-8859-1", "US-ASCII"])
def test_letters_beyond_ascii_are_read_in_each_encoding(encoding):
    root = read_kml(kmz(encoding=encoding))
    assert root.find(DESCRIPTION).text == "GROẞ HÖVEL"


def test_a_byte_order_mark_is_no_letter():
    assert read_kml(kmz(b"\xef\xbb\xbf" + kml(encoding="UTF-8"))).find(DESCRIPTION).text == "GROẞ HÖVEL"


def test_a_document_that_does_not_say_is_in_utf_8():
    assert read_kml(zipped({"a.kml": b"<a/>"})).tag == "a"


def test_a_stored_file_beside_others_is_read():
    assert read_kml(zipped({"readme.txt": b"x", "A.KML": b"<a/>"}, zipfile.ZIP_STORED)).tag == "a"


def _encrypted():
    body = bytearray(zipped({"a.kml": b"<a/>"}))
    body[6] |= 1
    body[body.rindex(b"PK\x01\x02") + 8] |= 1
    return bytes(body)


def _damaged():
    body = bytearray(zipped({"a.kml": b"<abcdefgh/>" * 20}, zipfile.ZIP_STORED))
    body[60] ^= 0xFF
    return bytes(body)


def _nested():
    return zipped({"a.kml": b"<a>" * (DEEPEST_NESTING + 1) + b"</a>" * (DEEPEST_NESTING + 1)})


BOMB = """<!DOCTYPE kml [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>"""


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (b"", "is no whole KMZ file"),
        (b"<!DOCTYPE html><html></html>", "is a web page instead of a KMZ file"),
        (kmz()[:-30], "is no whole KMZ file"),
        (_damaged(), "is no whole KMZ file"),
        (zipped({}), "does not hold one plain KML file"),
        (zipped({"a.txt": b"<a/>"}), "does not hold one plain KML file"),
        (zipped({"a.kml": b"<a/>", "b.kml": b"<a/>"}), "does not hold one plain KML file"),
        (zipped({f"{n}.txt": b"" for n in range(16)} | {"a.kml": b"<a/>"}), "does not hold one plain KML file"),
        (zipped({"a.kml": b"<a/>"}, zipfile.ZIP_LZMA), "does not hold one plain KML file"),
        (_encrypted(), "does not hold one plain KML file"),
        (zipped({"a.kml": b" " * (LARGEST_KML + 1)}), "longer than 8 MiB"),
        (b"PK" + b"\0" * 3_000_000, "longer than 2 MiB"),
        (kmz(prolog=BOMB), "declares a document type or entities"),
        (
            zipped({"a.kml": kml(prolog=BOMB).decode("latin-1").replace("ISO-8859-1", "UTF-16").encode("utf-16")}),
            "is not in utf-8",
        ),
        (kmz(encoding="UTF-16"), "is not in utf-8"),
        (zipped({"a.kml": b'<?xml version="1.0" encoding="UTF-7"?><a/>'}), "is in utf-7, not in UTF-8"),
        (zipped({"a.kml": b"<a>\xff</a>"}), "is not in utf-8 as it says"),
        (zipped({"a.kml": b"<a><!ENTITY b 'c'></a>"}), "declares a document type or entities"),
        (zipped({"a.kml": b"<a>"}), "no whole XML"),
        (zipped({"a.kml": b"<a>&b;</a>"}), "no whole XML"),
        (zipped({"a.kml": b""}), "no whole XML"),
        (_nested(), "too many elements"),
        (zipped({"a.kml": b"<a>" + b"<b/>" * MOST_ELEMENTS + b"</a>"}), "too many elements"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_file_that_cannot_be_trusted_is_refused_with_one_clear_line(body, reason):
    with pytest.raises(SourceMalformed, match=reason) as caught:
        read_kml(body)
    assert "\n" not in str(caught.value)
    assert ";" in str(caught.value)
