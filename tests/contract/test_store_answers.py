"""What a store in a file promises about answers besides: restarts, older databases, spoilt rows."""

import contextlib
import sqlite3
from datetime import UTC, datetime

import pytest

from alertd.audit import AuditEvent
from alertd.core import Answer, StoreError
from alertd.store import Commit, Store
from alertd.store.schema import APPLICATION_ID, MIGRATIONS, SCHEMA_VERSION

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
ANSWER = Answer("https://api.example.org/", 200, b"{}", NOON, None, None, None, "")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "alertd.sqlite"


def test_an_answer_outlives_a_restart(path):
    with Store.open(path) as store:
        store.keep_answer("a", ANSWER)
    with Store.open(path) as store:
        assert store.answer("a") == ANSWER
        assert store.verify_audit() == []


def test_the_problem_of_an_answer_is_not_kept(path):
    with Store.open(path) as store:
        store.keep_answer("a", Answer("u", 200, b"", NOON, None, None, None, "", problem="old"))
        assert store.answer("a").problem == ""


def test_a_database_of_the_first_version_gets_its_table_of_answers(path):
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        for statement in MIGRATIONS[0]:
            connection.execute(statement)
        connection.execute("PRAGMA user_version = 1")
        connection.execute("INSERT INTO meta (key, value) VALUES ('note:told', 'yes')")
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    with Store.open(path) as store:
        assert store.get_note("told") == "yes"
        assert store.answer("a") is None
        store.keep_answer("a", ANSWER)
        store.commit(Commit(NOON, events=(AuditEvent(NOON, "evaluation", {}),)))
        assert store._connection.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
        assert SCHEMA_VERSION >= 2
    with Store.open(path) as store:
        assert store.answer("a") == ANSWER


@pytest.mark.parametrize("change", ["retrieved = 'yesterday'", "expires = x'00'", "status = 'good'"])
def test_a_spoilt_answer_is_an_error_until_it_is_replaced(path, change):
    with Store.open(path) as store:
        store.keep_answer("a", ANSWER)
        store._connection.execute(f"UPDATE answers SET {change}")  # noqa: S608
        with pytest.raises(StoreError, match="the answer kept for a is spoilt"):
            store.answer("a")
        store.keep_answer("a", ANSWER)
        assert store.answer("a") == ANSWER


def test_an_answer_with_a_naive_time_is_refused(path):
    with Store.open(path) as store:
        with pytest.raises(ValueError, match="no offset"):
            store.keep_answer("a", Answer("u", 200, b"", datetime(2026, 1, 23), None, None, None, ""))  # noqa: DTZ001
        assert store.answer("a") is None
