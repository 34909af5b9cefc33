from datetime import UTC, datetime
from hashlib import sha256
from itertools import count
from types import MappingProxyType

import pytest

from alertd.audit import GENESIS, AuditRow, Fault, Head, canonical_json, link, verify
from alertd.core import Severity


def a_log(length):
    rows, previous = [], GENESIS
    for sequence in range(1, length + 1):
        happened, body = "2026-01-23T04:00:00Z", canonical_json({"value": sequence})
        previous = link(previous, sequence, happened, "evaluation", body)
        rows.append(AuditRow(sequence, happened, "evaluation", body, previous))
    return rows


def head_of(rows):
    return Head(rows[-1].sequence, rows[-1].hash) if rows else Head(0, GENESIS)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ({"b": 1, "a": None}, '{"a":null,"b":1}'),
        ({"ä": "°F", "a": [True, 2.5, -0.0]}, '{"a":[true,2.5,-0.0],"ä":"°F"}'),
        (MappingProxyType({"x": (1, MappingProxyType({}))}), '{"x":[1,{}]}'),
        (Severity.EXTREME, '"Extreme"'),
        ('a\x00\n"', '"a\\u0000\\n\\""'),
    ],
)
def test_a_value_has_one_canonical_text(value, text):
    assert canonical_json(value) == text


def test_the_order_of_keys_does_not_matter():
    assert canonical_json({"x": 1, "y": {"b": 1, "a": 2}}) == canonical_json({"y": {"a": 2, "b": 1}, "x": 1})


@pytest.mark.parametrize(
    "value",
    [
        float("nan"),
        [float("inf")],
        {"t": datetime(2026, 1, 1, tzinfo=UTC)},
        {1: "a"},
        {None: "a"},
        {"a": {1, 2}},
        b"bytes",
        "\ud800",
        {"\udfff": 1},
    ],
)
def test_what_is_no_json_is_refused(value):
    with pytest.raises(ValueError, match=r"."):
        canonical_json(value)


def test_a_value_that_contains_itself_is_refused():
    value = []
    value.append(value)
    with pytest.raises(ValueError, match="contains itself"):
        canonical_json(value)


def test_the_hash_is_the_documented_one():
    # Computed by hand from the definition in the module: 0x00, 32 zero bytes, then the JSON array.
    content = b"\x00" + bytes(32) + '[1,"2026-01-23T04:00:00Z","send",{"a":"°"}]'.encode()
    assert link(GENESIS, 1, "2026-01-23T04:00:00Z", "send", '{"a":"°"}') == sha256(content).hexdigest()


@pytest.mark.parametrize("previous", ["", "ab", "g" * 64, "0" * 63 + "\n", " " * 64, "A" * 64])
def test_only_a_hash_can_come_before(previous):
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        link(previous, 1, "", "", "")


def test_a_head_is_read_back_from_its_texts():
    head = Head(1234, "ab12cd34ef56" + "7" * 52)
    assert str(head) == "1234:ab12cd34ef56"
    assert Head.parse(str(head)) == Head(1234, "ab12cd34ef56")
    assert Head.parse(f" {head.full_text}\n") == head


@pytest.mark.parametrize(
    "text",
    [
        "",
        "12",
        "12:",
        "12:ab",
        "x:ab12cd34ef56",
        "01:ab12cd34ef56",
        "-1:ab12cd34ef56",
        "1:" + "a" * 65,
        "1:AB12CD34EF56",
    ],
)
def test_what_is_no_head_is_refused(text):
    with pytest.raises(ValueError, match="no head"):
        Head.parse(text)


def test_a_whole_log_has_no_faults():
    rows = a_log(30)
    published = [Head(0, GENESIS), Head(7, rows[6].hash[:12]), Head.parse(str(head_of(rows)))]
    assert verify(iter(rows), head_of(rows), published) == []


def test_an_empty_log_has_no_faults():
    assert verify([], None, []) == []
    assert verify([], Head(0, GENESIS), []) == []


def test_a_changed_row_is_named_and_the_rows_after_it_are_not_blamed():
    rows = a_log(9)
    rows[4] = rows[4]._replace(body='{"value":55}')
    assert [fault.sequence for fault in verify(rows, head_of(rows), [])] == [5]


def test_a_changed_hash_is_named_once():
    rows = a_log(9)
    rows[4] = rows[4]._replace(hash="0" * 64)
    assert [fault.sequence for fault in verify(rows, head_of(rows), [])] == [5]


def test_a_hash_that_is_none_is_named_once():
    rows = a_log(9)
    rows[4] = rows[4]._replace(hash="nothing")
    assert [fault.sequence for fault in verify(rows, head_of(rows), [])] == [5]


def test_a_spoilt_hash_after_a_gap_is_still_found_by_the_row_that_follows():
    rows = a_log(9)
    rows[4] = rows[4]._replace(hash="f" * 64)
    del rows[3]
    assert [fault.sequence for fault in verify(rows, None, [])] == [4, 6]


def test_missing_rows_are_named():
    rows = a_log(9)
    del rows[2:5]
    assert verify(rows, head_of(rows), []) == [Fault(3, "rows 3 to 5 are missing")]
    rows = a_log(9)
    del rows[0]
    assert verify(rows, head_of(rows), []) == [Fault(1, "row 1 is missing")]


def test_a_row_in_the_wrong_place_is_named():
    rows = a_log(5)
    rows[1], rows[2] = rows[2], rows[1]
    faults = verify(rows, head_of(rows), [])
    assert {fault.sequence for fault in faults} == {2}
    assert "missing" in faults[0].text
    assert "out of order" in faults[1].text


def test_a_row_before_the_first_is_named():
    rows = [a_log(1)[0]._replace(sequence=0), *a_log(3)]
    assert [fault.sequence for fault in verify(rows, None, [])] == [0]


def test_a_cut_end_is_found_with_a_head():
    rows = a_log(9)
    for recorded, published in ((head_of(rows), []), (None, [Head.parse(str(head_of(rows)))])):
        (fault,) = verify(rows[:6], recorded, published)
        assert fault.sequence == 7
        assert "ends at row 6" in fault.text
        assert str(head_of(rows)) in fault.text


def test_a_cut_end_cannot_be_found_without_a_head():
    assert verify(a_log(9)[:6], None, []) == []


def test_rows_after_the_recorded_end_are_found():
    rows = a_log(9)
    (fault,) = verify(rows, head_of(rows[:7]), [])
    assert fault.sequence == 8
    assert "added" in fault.text


def test_a_log_written_anew_is_found_with_a_head():
    old = a_log(9)
    previous, new = GENESIS, []
    for sequence, body in zip(count(1), ['{"value":0}'] + [row.body for row in old[1:]], strict=False):
        previous = link(previous, sequence, old[0].happened, "evaluation", body)
        new.append(AuditRow(sequence, old[0].happened, "evaluation", body, previous))
    assert verify(new, head_of(new), []) == []
    assert [fault.sequence for fault in verify(new, head_of(new), [Head(4, old[3].hash[:12])])] == [4]
    assert [fault.sequence for fault in verify(new, head_of(old), [])] == [9]


def test_two_published_heads_of_one_row_cannot_both_be_right():
    rows = a_log(3)
    faults = verify(rows, None, [Head(2, rows[1].hash[:12]), Head(2, "0" * 12)])
    assert [fault.sequence for fault in faults] == [2]


def test_a_published_row_that_is_missing_inside_the_log_is_named():
    rows = a_log(5)
    published = [Head(3, rows[2].hash)]
    del rows[2]
    texts = [fault.text for fault in verify(rows, None, published)]
    assert texts[0] == "row 3 is missing"
    assert texts[1].startswith("row 3 is missing, but 3:")


def test_a_wrong_genesis_is_found():
    assert [fault.sequence for fault in verify(a_log(2), None, [Head(0, "1" * 64)])] == [0]


def test_a_log_that_is_wrong_all_over_is_listed_in_part():
    rows = [row._replace(kind="send") for row in a_log(60)]
    faults = verify(rows, None, [])
    assert [fault.sequence for fault in faults[:20]] == list(range(1, 21))
    assert faults[20].text == "40 more rows do not fit; they are not listed"
    assert len(faults) == 21


def test_bytes_that_are_no_text_are_a_change():
    rows = a_log(3)
    rows[1] = rows[1]._replace(body=b'{"value":\xff}'.decode("utf-8", "surrogateescape"))
    assert [fault.sequence for fault in verify(rows, None, [])] == [2]
