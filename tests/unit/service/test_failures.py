from __future__ import annotations

import json
from datetime import timedelta

import pytest

from alertd.core import StoreError
from alertd.service.failures import TOLD_AFTER, Failures
from alertd.store import Store
from alertd.watch import Readership


@pytest.fixture
def failures(store, readers, site):
    return Failures(store, readers, site)


def crash() -> RuntimeError:
    try:
        raise RuntimeError("s3cr3t-canary")  # noqa: EM101, TRY301
    except RuntimeError as error:
        return error


def fail(failures, clock, times: int) -> None:
    for _ in range(times):
        failures.failed(crash(), clock.advance(minutes=1))


def events(store, kind: str) -> list[dict]:
    return [json.loads(row.body) for row in store.audit_rows() if row.kind == kind]


def test_every_failure_is_logged_in_one_line_and_recorded_without_secrets(failures, store, clock, caplog):
    fail(failures, clock, 2)
    place = f"RuntimeError in {__name__} line "
    assert [message.startswith(f"evaluation failed, {number} in a row: {place}") for number, message in
            enumerate(caplog.messages, 1)] == [True, True]  # fmt: skip
    first, second = events(store, "problem")
    assert (first["in_a_row"], second["in_a_row"]) == (1, 2)
    assert first["error"].startswith(place)
    assert "s3cr3t" not in caplog.text + json.dumps([first, second])
    assert store.outbox_items() == []


def test_the_third_failure_in_a_row_is_told_to_everybody_once(failures, store, clock):
    fail(failures, clock, TOLD_AFTER + 4)
    ann, bo = store.outbox_items()
    assert {ann.recipient, bo.recipient} == {"Ann", "Bo"}
    assert (ann.channel, ann.fallback_channels) == ("mail", ("phone",))
    assert ann.letter.subject == "The watch itself fails: look at the forecast yourself (Steinbruch)"
    assert "3 evaluations in a row have ended with an error; the first at 10:01 on Thu 22 Jan." in ann.letter.text
    assert f"Reference {ann.reference}\n" in ann.letter.text
    assert f"Record {ann.published_head}\n" in ann.letter.text
    assert ann.letter.html.count("<p>") == ann.letter.text.count("\n\n") + 1
    assert ann.letter.response_type == "Assess"
    assert store.verify_audit() == []


def test_failures_that_work_in_between_are_not_told(failures, store, clock, caplog):
    for _ in range(3):
        fail(failures, clock, TOLD_AFTER - 1)
        failures.worked(clock.advance(minutes=1))
    assert store.outbox_items() == []
    assert failures.in_a_row == 0
    assert caplog.messages.count("evaluation works again, 2 in a row had failed") == 3


def test_the_end_is_told_once_in_the_same_thread(failures, store, clock):
    fail(failures, clock, TOLD_AFTER)
    for _ in range(3):
        failures.worked(clock.advance(minutes=1))
    begins, ends = [item for item in store.outbox_items() if item.recipient == "Ann"]
    assert ends.letter.subject == "The watch works again (Steinbruch)"
    assert "had failed since 10:01 on Thu 22 Jan work again" in ends.letter.text
    assert begins.letter.threads == ends.letter.threads == ("watch-fails-20260122T090100Z",)
    assert begins.reference != ends.reference
    assert store.verify_audit() == []


def test_a_second_series_of_failures_is_told_anew(failures, store, clock):
    for _ in range(2):
        fail(failures, clock, TOLD_AFTER)
        failures.worked(clock.advance(minutes=1))
    assert len(store.outbox_items()) == 8
    assert store.get_note("watch_fails_since") == ""


def test_a_restart_does_not_repeat_it_and_still_tells_the_end(failures, store, readers, site, clock):
    fail(failures, clock, TOLD_AFTER)
    restarted = Failures(store, readers, site)
    fail(restarted, clock, TOLD_AFTER)
    assert len(store.outbox_items()) == 2
    restarted.worked(clock.advance(minutes=1))
    assert len(store.outbox_items()) == 4


def test_without_recipients_there_is_the_record(store, site, clock):
    failures = Failures(store, Readership((), {}), site)
    fail(failures, clock, TOLD_AFTER)
    failures.worked(clock.advance(minutes=1))
    assert len(events(store, "problem")) == TOLD_AFTER


def test_a_database_that_fails_too_is_logged_and_told_about_when_it_is_back(tmp_path, readers, site, clock, caplog):
    path = tmp_path / "x.sqlite"
    with Store.open(path, busy_timeout=timedelta(seconds=0.05)) as store, Store.open(path) as other:
        failures = Failures(store, readers, site)
        with other._writing():
            for _ in range(TOLD_AFTER):
                failures.failed(StoreError("database x: locked"), clock.advance(minutes=1))
        assert sum("the failure could not be recorded: StoreError" in message for message in caplog.messages) == 3
        failures.failed(StoreError("database x: locked"), clock.advance(minutes=1))
        assert len(store.outbox_items()) == 2
        with other._writing():
            failures.worked(clock.advance(minutes=1))
        assert "that the watch works again could not be told: StoreError" in caplog.text
        failures.worked(clock.advance(minutes=1))
        assert len(store.outbox_items()) == 4


def test_what_is_told_and_that_it_was_told_are_written_together(failures, store, readers, site, clock, monkeypatch):
    """A process that dies in between must not tell it twice."""

    def fails(*_arguments):
        message = "database x: the disk is full"
        raise StoreError(message)

    with monkeypatch.context() as patch:
        patch.setattr(store, "_set_note", fails)
        fail(failures, clock, TOLD_AFTER)
    assert store.outbox_items() == []
    fail(failures, clock, 1)
    assert len(store.outbox_items()) == 2
    with monkeypatch.context() as patch:
        patch.setattr(store, "_set_note", fails)
        failures.worked(clock.advance(minutes=1))
    assert len(store.outbox_items()) == 2
    Failures(store, readers, site).worked(clock.advance(minutes=1))
    assert len(store.outbox_items()) == 4
