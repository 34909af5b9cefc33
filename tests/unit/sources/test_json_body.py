"""Bodies that should be JSON."""

import pytest

from alertd.core import SourceMalformed
from alertd.sources import read_json


def test_json_is_read():
    assert read_json(b'{"a": [1, -2.5, null, true, "\xc3\xa9"]}') == {"a": [1, -2.5, None, True, "é"]}
    assert read_json(b"\xef\xbb\xbf[]") == []


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (b"", "is empty"),
        (b" \r\n ", "is empty"),
        (b"<!DOCTYPE html><p>", "web page instead of data; check base_url"),
        (b"\n<HTML><body>", "web page"),
        (b'{"a": 1', "no valid JSON"),
        (b'{"a": 1}Unexpected error while streaming data: x', "no valid JSON"),
        (b"nan", "no valid JSON"),
        (b'{"a": NaN}', "NaN is no number"),
        (b"[-Infinity]", "no number"),
        (b"[1e999]", "too large"),
        (b"[" + b"1" * 400 + b"]", "no valid JSON"),
        (b"[" + b"1" * 5000 + b"]", "no valid JSON"),
        (b'{"a": 1, "a": 2}', "one name twice"),
        (b"\xff\xfe{\x00", "no UTF-8"),
        (b"[" * 200_000, "nested too deeply"),
    ],
)
def test_what_is_no_json_is_refused_with_one_reason(body, reason):
    with pytest.raises(SourceMalformed, match=reason) as raised:
        read_json(body)
    assert "\n" not in str(raised.value)
