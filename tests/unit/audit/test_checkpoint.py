import pytest

from alertd.audit import CHECKPOINT, GENESIS, AuditRow, Checkpoint, Head, canonical_json, link, verify

BEFORE = "2025-01-01T00:00:00Z"


def chained(entries):
    rows, previous = [], GENESIS
    for sequence, (kind, body) in enumerate(entries, start=1):
        text = canonical_json(body(rows) if callable(body) else body)
        previous = link(previous, sequence, "2026-01-23T04:00:00Z", kind, text)
        rows.append(AuditRow(sequence, "2026-01-23T04:00:00Z", kind, text, previous))
    return rows


def checkpoint(last):
    """A checkpoint for all rows up to a number."""
    return CHECKPOINT, lambda rows: Checkpoint(Head(last, rows[last - 1].hash), last, BEFORE).body


def facts(count):
    return [("evaluation", {"value": number}) for number in range(count)]


def head_of(rows):
    return Head(rows[-1].sequence, rows[-1].hash)


@pytest.fixture
def rows():
    """Twelve rows, the ninth a checkpoint for the first four."""
    return chained([*facts(8), checkpoint(4), *facts(3)])


def sequences(faults):
    return [fault.sequence for fault in faults]


def test_a_log_that_begins_after_what_its_checkpoint_tells_is_whole(rows):
    published = [Head(0, GENESIS), Head(4, rows[3].hash[:12]), Head(5, rows[4].hash), Head(9, rows[8].hash[:12])]
    assert verify(rows[4:], head_of(rows), published) == []


def test_a_checkpoint_that_is_the_first_row_is_enough():
    rows = chained([*facts(6), checkpoint(6)])
    assert verify(rows[6:], head_of(rows), [Head(6, rows[5].hash[:12])]) == []


def test_of_two_checkpoints_the_one_that_reaches_further_counts():
    rows = chained([*facts(8), checkpoint(3), checkpoint(5), *facts(2)])
    assert verify(rows[5:], head_of(rows), []) == []
    (fault,) = verify(rows[3:], head_of(rows), [])
    assert fault.text == "row 4 is there, but row 10 tells that all to row 5 were removed"


@pytest.mark.parametrize("first", [1, 4])
def test_rows_that_come_back_are_found(rows, first):
    assert sequences(verify(rows[first - 1 :], head_of(rows), [])) == [first]


def test_rows_that_are_gone_beyond_a_checkpoint_are_found(rows):
    (fault,) = verify(rows[6:], head_of(rows), [])
    assert (fault.sequence, fault.text) == (5, "rows 5 to 6 are missing")


def test_a_beginning_that_is_gone_without_a_checkpoint_is_found():
    rows = chained(facts(8))
    (fault,) = verify(rows[4:], head_of(rows), [])
    assert (fault.sequence, fault.text) == (1, "rows 1 to 4 are missing")


def test_an_end_that_is_cut_off_with_its_checkpoint_is_found_twice(rows):
    faults = verify(rows[4:8], head_of(rows), [])
    assert [fault.text.split(",")[0] for fault in faults] == ["rows 1 to 4 are missing", "the log ends at row 8"]
    (fault,) = verify(rows[4:8], head_of(rows[:8]), [])
    assert fault.text == "rows 1 to 4 are missing"


def test_a_checkpoint_that_was_taken_out_is_found(rows):
    without = [row for row in rows[4:] if row.kind != CHECKPOINT]
    assert [fault.text for fault in verify(without, head_of(rows), [])] == [
        "rows 1 to 4 are missing",
        "row 9 is missing",
    ]


def test_an_edited_checkpoint_is_found(rows):
    other = canonical_json(Checkpoint(Head(4, "a" * 64), 4, BEFORE).body)
    edited = [row._replace(body=other) if row.kind == CHECKPOINT else row for row in rows[4:]]
    assert sequences(verify(edited, head_of(rows), [])) == [1, 9]


def test_a_checkpoint_with_another_hash_is_found_at_the_first_row():
    other = Checkpoint(Head(4, "a" * 64), 4, BEFORE).body
    rows = chained([*facts(8), (CHECKPOINT, other), *facts(3)])
    (fault,) = verify(rows[4:], head_of(rows), [])
    assert fault.sequence == 5
    assert "does not fit what row 9 tells" in fault.text


@pytest.mark.parametrize("change", [{"body": "{}"}, {"kind": "send"}, {"happened": "2026-01-23T04:00:01Z"}])
def test_a_changed_first_row_after_a_checkpoint_is_found(rows, change):
    changed = [rows[4]._replace(**change), *rows[5:]]
    assert sequences(verify(changed, head_of(rows), [])) == [5]


def test_a_changed_hash_of_the_first_row_is_found(rows):
    changed = [rows[4]._replace(hash="b" * 64), *rows[5:]]
    assert sequences(verify(changed, head_of(rows), []))[0] == 5


def test_rows_in_each_others_place_across_a_checkpoint_are_found(rows):
    swapped = rows[4:]
    swapped[0], swapped[4] = (
        swapped[4]._replace(sequence=swapped[0].sequence),
        swapped[0]._replace(sequence=swapped[4].sequence),
    )
    assert verify(swapped, head_of(rows), []) != []


def test_a_head_of_a_row_that_was_removed_cannot_be_checked_and_says_so(rows):
    (fault,) = verify(rows[4:], head_of(rows), [Head(2, rows[1].hash[:12])])
    assert fault.sequence == 2
    assert f"removed by the policy with all before {BEFORE}" in fault.text
    assert "take a later one" in fault.text


def test_a_wrong_head_of_the_last_row_that_was_removed_is_found(rows):
    (fault,) = verify(rows[4:], head_of(rows), [Head(4, "c" * 12)])
    assert "written anew" in fault.text


def test_a_checkpoint_is_read_back_from_its_row(rows):
    assert Checkpoint.read(rows[8]) == Checkpoint(Head(4, rows[3].hash), 4, BEFORE)
    assert Checkpoint.read(rows[0]) is None


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        "{}",
        '{"before":"x","count":1,"hash":"ab","last_removed":1}',
        '{"before":"x","count":1,"hash":5,"last_removed":1}',
        f'{{"before":"x","count":1,"hash":"{"a" * 64}","last_removed":9}}',
        f'{{"before":"x","count":1,"hash":"{"a" * 64}","last_removed":0}}',
        f'{{"before":"x","count":1,"hash":"{"a" * 64}","last_removed":"1"}}',
        f'{{"before":"x","count":null,"hash":"{"a" * 64}","last_removed":1}}',
    ],
)
def test_what_tells_nothing_sound_is_no_checkpoint(body):
    assert Checkpoint.read(AuditRow(9, "", CHECKPOINT, body, "")) is None
