from hypothesis import assume, given
from hypothesis import strategies as st

from alertd.audit import GENESIS, AuditRow, Head, canonical_json, link, verify

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)


@st.composite
def logs(draw, at_least=1):
    bodies = draw(st.lists(st.tuples(TEXT, st.dictionaries(TEXT, JSON, max_size=3)), min_size=at_least, max_size=12))
    rows, previous = [], GENESIS
    for sequence, (kind, body) in enumerate(bodies, start=1):
        happened, text = f"2026-01-23T04:00:{sequence:02d}Z", canonical_json(body)
        previous = link(previous, sequence, happened, kind, text)
        rows.append(AuditRow(sequence, happened, kind, text, previous))
    return rows


def head_of(rows):
    return Head(rows[-1].sequence, rows[-1].hash)


def index_in(data, rows):
    return data.draw(st.integers(0, len(rows) - 1))


@given(logs())
def test_an_untouched_log_verifies(rows):
    published = [Head.parse(str(head_of(rows[: n + 1]))) for n in range(len(rows))]
    assert verify(rows, head_of(rows), published) == []


@given(JSON, JSON)
def test_different_values_have_different_texts(one, other):
    import json  # noqa: PLC0415 - the outside reference

    assert json.loads(canonical_json(one)) == one
    if canonical_json(one) == canonical_json(other):
        assert one == other


@given(logs(), st.data())
def test_any_changed_byte_is_found_where_it_is(rows, data):
    index = index_in(data, rows)
    field = data.draw(st.sampled_from(["happened", "kind", "body", "hash"]))
    raw = bytearray(getattr(rows[index], field).encode())
    assume(raw)
    raw[data.draw(st.integers(0, len(raw) - 1))] ^= data.draw(st.integers(1, 255))
    changed = rows[index]._replace(**{field: bytes(raw).decode("utf-8", "surrogateescape")})
    faults = verify([*rows[:index], changed, *rows[index + 1 :]], None, [])
    assert [fault.sequence for fault in faults] == [index + 1]


@given(logs(), st.data())
def test_any_byte_taken_out_or_put_in_is_found_where_it_is(rows, data):
    index = index_in(data, rows)
    field = data.draw(st.sampled_from(["happened", "kind", "body", "hash"]))
    text = getattr(rows[index], field)
    at = data.draw(st.integers(0, len(text)))
    is_taken = data.draw(st.booleans()) and at < len(text)
    changed = text[:at] + text[at + 1 :] if is_taken else text[:at] + " " + text[at:]
    touched = [*rows[:index], rows[index]._replace(**{field: changed}), *rows[index + 1 :]]
    assert [fault.sequence for fault in verify(touched, None, [])] == [index + 1]


@given(logs(at_least=2), st.data())
def test_any_deletion_is_found_where_it_is(rows, data):
    first = data.draw(st.integers(0, len(rows) - 1))
    last = data.draw(st.integers(first, len(rows) - 1))
    faults = verify([*rows[:first], *rows[last + 1 :]], head_of(rows), [])
    assert faults[0].sequence == first + 1


@given(logs(at_least=2), st.data())
def test_renumbering_after_a_deletion_is_found(rows, data):
    index = data.draw(st.integers(0, len(rows) - 2))
    closed = [row._replace(sequence=number) for number, row in enumerate(rows[:index] + rows[index + 1 :], start=1)]
    assert verify(closed, None, [])[0].sequence == index + 1


@given(logs(at_least=2), st.data())
def test_two_rows_in_each_others_place_are_found(rows, data):
    one = data.draw(st.integers(0, len(rows) - 2))
    other = data.draw(st.integers(one + 1, len(rows) - 1))
    swapped = list(rows)
    swapped[one], swapped[other] = rows[other], rows[one]
    assert verify(swapped, head_of(rows), [])[0].sequence == one + 1
    renumbered = [row._replace(sequence=number) for number, row in enumerate(swapped, start=1)]
    assert verify(renumbered, head_of(rows), [])[0].sequence == one + 1


@given(logs(), st.data())
def test_any_cut_end_is_found_with_either_head(rows, data):
    kept = data.draw(st.integers(0, len(rows) - 1))
    assert [fault.sequence for fault in verify(rows[:kept], head_of(rows), [])] == [kept + 1]
    assert [fault.sequence for fault in verify(rows[:kept], None, [Head.parse(str(head_of(rows)))])] == [kept + 1]


@given(logs(), st.data())
def test_a_log_written_anew_from_some_row_on_is_found_by_a_later_published_head(rows, data):
    index = index_in(data, rows)
    published_at = data.draw(st.integers(index, len(rows) - 1))
    published = Head.parse(str(head_of(rows[: published_at + 1])))
    previous = rows[index - 1].hash if index else GENESIS
    forged = list(rows[:index])
    for row in rows[index:]:
        kind = row.kind + "x" if row.sequence == index + 1 else row.kind
        previous = link(previous, row.sequence, row.happened, kind, row.body)
        forged.append(row._replace(kind=kind, hash=previous))
    assert verify(forged, head_of(forged), []) == []
    assert [fault.sequence for fault in verify(forged, head_of(forged), [published])] == [published_at + 1]
