"""The tables, and the steps by which older databases become this one."""

from __future__ import annotations

#: Marks a file as ours in its header: ``aLrd`` as four ASCII bytes.
APPLICATION_ID = 0x614C7264

#: Step n brings a database from ``user_version`` n to n + 1. A step is never changed once it was released.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        f"PRAGMA application_id = {APPLICATION_ID}",
        """
        CREATE TABLE alerts (
            alert_id TEXT NOT NULL PRIMARY KEY,
            group_id TEXT NOT NULL,
            action TEXT NOT NULL,
            state TEXT NOT NULL,
            revision INTEGER NOT NULL,
            opened TEXT NOT NULL,
            ended TEXT,
            document TEXT NOT NULL
        )
        """,
        "CREATE INDEX alerts_by_end ON alerts (ended)",
        "CREATE INDEX alerts_by_opening ON alerts (opened)",
        "CREATE TABLE conditions (group_id TEXT NOT NULL PRIMARY KEY, document TEXT NOT NULL)",
        """
        CREATE TABLE outbox (
            id INTEGER PRIMARY KEY,
            reference TEXT NOT NULL,
            recipient TEXT NOT NULL,
            channel TEXT NOT NULL,
            fallback_channels TEXT NOT NULL,
            letter TEXT NOT NULL,
            published_head TEXT,
            created TEXT NOT NULL,
            state TEXT NOT NULL CHECK (state IN ('waiting', 'claimed', 'accepted', 'dead')),
            attempts INTEGER NOT NULL DEFAULT 0,
            unknown_outcomes INTEGER NOT NULL DEFAULT 0,
            not_before TEXT NOT NULL,
            lease_until TEXT,
            last_error TEXT,
            settled TEXT,
            UNIQUE (reference, recipient, channel)
        )
        """,
        "CREATE INDEX outbox_by_state ON outbox (state, created)",
        """
        CREATE TABLE audit (
            sequence INTEGER PRIMARY KEY,
            happened TEXT NOT NULL,
            kind TEXT NOT NULL,
            body TEXT NOT NULL,
            hash TEXT NOT NULL
        )
        """,
        "CREATE TABLE meta (key TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL)",
    ),
    (
        """
        CREATE TABLE answers (
            key TEXT NOT NULL PRIMARY KEY,
            url TEXT NOT NULL,
            status INTEGER NOT NULL,
            body BLOB NOT NULL,
            retrieved TEXT NOT NULL,
            expires TEXT,
            etag TEXT,
            last_modified TEXT,
            content_type TEXT NOT NULL
        )
        """,
    ),
    (
        """
        CREATE TABLE observations (
            station TEXT NOT NULL,
            time TEXT NOT NULL,
            air_temperature REAL NOT NULL,
            received TEXT NOT NULL,
            PRIMARY KEY (station, time)
        ) WITHOUT ROWID
        """,
        "CREATE INDEX observations_by_time ON observations (time)",
    ),
)

#: ``user_version`` of the databases that this program writes.
SCHEMA_VERSION = len(MIGRATIONS)
