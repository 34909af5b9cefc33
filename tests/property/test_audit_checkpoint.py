"""Any edit, cut or reordering is found across checkpoints, too."""

from hypothesis import assume, given
from hypothesis import strategies as st

from alertd.audit import CHECKPOINT, GENESIS, AuditRow, Checkpoint, Head, canonical_json, link, verify


@st.composite
def pruned_logs(draw):
    """Rows with one to three checkpoints, of which only what the last one leaves is stored."""
    rows, previous, removed = [], GENESIS, 0
    for _ in range(draw(st.integers(1, 3))):
        for _ in range(draw(st.integers(1, 4))):
            previous = _append(rows, previous, "evaluation", {"value": draw(st.integers())})
        removed = draw(st.integers(removed + 1, len(rows)))
        previous = _append(rows, previous, CHECKPOINT, Checkpoint(Head(removed, rows[removed - 1].hash), 1, "x").body)
    for _ in range(draw(st.integers(0, 3))):
        previous = _append(rows, previous, "send", {"value": draw(st.integers())})
    return rows[removed:], Head(len(rows), previous)


def _append(rows, previous, kind, body):
    sequence, text = len(rows) + 1, canonical_json(body)
    happened = f"2026-01-23T04:00:{sequence:02d}Z"
    rows.append(AuditRow(sequence, happened, kind, text, link(previous, sequence, happened, kind, text)))
    return rows[-1].hash


@given(pruned_logs())
def test_an_untouched_log_verifies(log):
    rows, head = log
    assert verify(rows, head, [Head.parse(str(Head(row.sequence, row.hash))) for row in rows]) == []


@given(pruned_logs(), st.data())
def test_any_changed_byte_is_found(log, data):
    rows, head = log
    index = data.draw(st.integers(0, len(rows) - 1))
    field = data.draw(st.sampled_from(["happened", "kind", "body", "hash"]))
    raw = bytearray(getattr(rows[index], field).encode())
    raw[data.draw(st.integers(0, len(raw) - 1))] ^= data.draw(st.integers(1, 255))
    changed = rows[index]._replace(**{field: bytes(raw).decode("utf-8", "surrogateescape")})
    faults = verify([*rows[:index], changed, *rows[index + 1 :]], head, [])
    assert faults != []
    if index > 0 and rows[index].kind != CHECKPOINT:
        assert rows[index].sequence in {fault.sequence for fault in faults}


@given(pruned_logs(), st.data())
def test_any_deletion_is_found(log, data):
    rows, head = log
    first = data.draw(st.integers(0, len(rows) - 1))
    last = data.draw(st.integers(first, len(rows) - 1))
    left = [*rows[:first], *rows[last + 1 :]]
    assert verify(left, head, []) != []


@given(pruned_logs(), st.data())
def test_an_end_that_is_cut_off_with_the_last_checkpoint_is_found_without_any_head(log, data):
    rows, _ = log
    last = max(index for index, row in enumerate(rows) if row.kind == CHECKPOINT)
    kept = data.draw(st.integers(0, last))
    assume(kept > 0)
    assert verify(rows[:kept], Head(rows[kept - 1].sequence, rows[kept - 1].hash), []) != []


@given(pruned_logs(), st.data())
def test_two_rows_in_each_others_place_are_found(log, data):
    rows, head = log
    assume(len(rows) > 1)
    one = data.draw(st.integers(0, len(rows) - 2))
    other = data.draw(st.integers(one + 1, len(rows) - 1))
    swapped = list(rows)
    swapped[one] = rows[other]._replace(sequence=rows[one].sequence)
    swapped[other] = rows[one]._replace(sequence=rows[other].sequence)
    assert verify(swapped, head, []) != []
