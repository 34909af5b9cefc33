"""Databases of every earlier version open, keep their rows and verify; a process killed half-way leaves the old one."""

import contextlib
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from hashlib import sha256

import pytest

from alertd.audit import GENESIS, canonical_json, link
from alertd.core import Answer
from alertd.messages import Letter
from alertd.site import Condition, Cover
from alertd.store import OutboxState, Store
from alertd.store.codec import condition_document, letter_document, sortable_text
from alertd.store.schema import MIGRATIONS, SCHEMA_VERSION
from alertd.weather import Observation

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
LETTER = Letter("r-1", "kim", NOON, "s", "t", "h", "s", (), "Prepare")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "alertd.sqlite"


def old_database(path, version):
    """Make a database as the alertd of a version did: by its own steps, with rows in every table that it had."""
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        for step in MIGRATIONS[:version]:
            for statement in step:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {version}")
        when = "2026-01-23T12:00:00Z"
        bodies = [
            ("letter", {"reference": "r-1", "recipient": "kim"}),
            ("send", {"reference": "r-1", "recipient": "kim", "channel": "mail", "outcome": "accepted"}),
        ]
        digits = GENESIS
        for sequence, (kind, body) in enumerate(bodies, start=1):
            text = canonical_json(body)
            digits = link(digits, sequence, when, kind, text)
            connection.execute("INSERT INTO audit VALUES (?, ?, ?, ?, ?)", (sequence, when, kind, text, digits))
        connection.execute("INSERT INTO meta VALUES ('audit_head', ?)", (f"2:{digits}",))
        connection.execute("INSERT INTO meta VALUES ('note:daily', 'x')")
        condition = canonical_json(condition_document(Condition(Cover.IN_PLACE, cover_since=NOON)))
        connection.execute("INSERT INTO conditions VALUES ('figs', ?)", (condition,))
        now = sortable_text(NOON)
        connection.execute(
            "INSERT INTO outbox (reference, recipient, channel, fallback_channels, letter, created, state, not_before, "
            "settled) VALUES ('r-1', 'kim', 'mail', '[]', ?, ?, 'accepted', ?, ?)",
            (canonical_json(letter_document(LETTER)), now, now, now),
        )
        if version >= 2:
            row = ("k", "https://api.example.org", 200, b"{}", when, None, None, None, "application/json")
            connection.execute("INSERT INTO answers VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
        if version >= 3:
            connection.execute("INSERT INTO observations VALUES ('shed', ?, -3.5, ?)", (now, now))


def version_of(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def assert_is_whole(path, version):
    with Store.open(path) as store:
        assert store.verify_audit() == []
        assert store.head().sequence == 2
        assert store.get_note("daily") == "x"
        assert store.load_state(NOON).conditions["figs"].cover is Cover.IN_PLACE
        (item,) = store.outbox_items(OutboxState.ACCEPTED)
        assert item.letter == LETTER
        if version >= 2:
            assert store.answer("k").body == b"{}"
        else:
            store.keep_answer("k", Answer("https://api.example.org", 200, b"{}", NOON, None, None, None, "text/plain"))
        if version >= 3:
            assert [each.air_temperature for each in store.recent_observations(NOON)] == [-3.5]
        else:
            assert store.keep_observations([Observation("shed", NOON, -3.5, NOON)], NOON) == 1
        assert store._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert version_of(path) == SCHEMA_VERSION


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION + 1))
def test_a_database_of_every_version_opens_keeps_its_rows_and_verifies(path, version):
    old_database(path, version)
    assert_is_whole(path, version)


#: SHA-256 of the steps as they were when they were first used, by the version that they lead to.
RELEASED = {
    1: "1d473d719f2d83729c589800d6a77d9ba4a6ad198080375b9993f5d163491ab6",
    2: "94245e75089bced1fd051546e257c44f3d513a0a649851f8f837061cdf79e6d7",
    3: "e5826763b4bd08d394b3be7449be5a45b4f28032dc8396be119cda17fdadf70b",
}


@pytest.mark.parametrize(("version", "digest"), RELEASED.items())
def test_a_step_is_never_changed_once_it_was_used(version, digest):
    """A changed step would leave older databases different from new ones; add another step instead."""
    assert sha256("\n".join(MIGRATIONS[version - 1]).encode()).hexdigest() == digest


#: Opens a database, and kills itself at a given statement of the migration.
KILLED = """
import os, signal, sqlite3, sys
from pathlib import Path
from alertd.store import Store, database

class Connection(sqlite3.Connection):
    left = int(sys.argv[2])

    def execute(self, statement, *values):
        if self.in_transaction and statement.lstrip().startswith(("CREATE", "PRAGMA user_version =", "COMMIT")):
            if Connection.left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            Connection.left -= 1
        return super().execute(statement, *values)

connect = sqlite3.connect
sqlite3.connect = lambda *given, **named: connect(*given, factory=Connection, **named)
Store.open(Path(sys.argv[1])).close()
"""


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION))
def test_a_migration_that_is_killed_half_way_leaves_an_older_database_whole(path, version):
    old_database(path, version)
    codes = []
    for statement in range(40):
        ended = subprocess.run(
            [sys.executable, "-c", KILLED, str(path), str(statement)], capture_output=True, text=True, check=False
        )
        codes.append(ended.returncode)
        if ended.returncode == 0:
            break
        assert ended.returncode == -signal.SIGKILL, ended.stderr
        assert version <= version_of(path) <= SCHEMA_VERSION
        with contextlib.closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            assert connection.execute("SELECT count(*) FROM audit").fetchone()[0] == 2
    assert codes[0] == -signal.SIGKILL
    assert codes[-1] == 0
    assert_is_whole(path, version)
