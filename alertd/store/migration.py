"""Whose a database is, and how an older one becomes the present one."""

from __future__ import annotations

import sqlite3
from contextlib import suppress

from alertd.core import StoreError, StoreTooNew

from .schema import APPLICATION_ID, MIGRATIONS, SCHEMA_VERSION


def is_new(connection: sqlite3.Connection, name: str) -> bool:
    """Return whether a database holds nothing yet.

    Parameters
    ----------
    connection : sqlite3.Connection
        In no transaction.
    name : str
        For error texts.

    Returns
    -------
    bool
        ``False`` if it is one of ours.

    Raises
    ------
    StoreError
        If it is another program's.
    StoreTooNew
        If a newer alertd wrote it.
    """
    connection.execute("BEGIN")
    owner = _number(connection, "PRAGMA application_id")
    version = schema_version(connection)
    tables = _number(connection, "SELECT count(*) FROM sqlite_master")
    connection.execute("COMMIT")
    if owner == APPLICATION_ID:
        _refuse_newer(version, name)
    elif owner or version or tables:
        message = f"database {name} belongs to another program; name another file"
        raise StoreError(message)
    return owner == 0


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the version of the tables of a database.

    Parameters
    ----------
    connection : sqlite3.Connection
        To it.

    Returns
    -------
    int
        0 for an empty one.
    """
    return _number(connection, "PRAGMA user_version")


def migrate(connection: sqlite3.Connection, name: str) -> None:
    """Bring a database up to date, one transaction for each step.

    Parameters
    ----------
    connection : sqlite3.Connection
        In no transaction.
    name : str
        For error texts.

    Raises
    ------
    StoreTooNew
        If a newer alertd wrote it.
    """
    while schema_version(connection) < SCHEMA_VERSION:
        connection.execute("BEGIN IMMEDIATE")
        try:
            version = schema_version(connection)  # another process may have been faster
            _refuse_newer(version, name)
            if version < SCHEMA_VERSION:
                for statement in MIGRATIONS[version]:
                    connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise


def _number(connection: sqlite3.Connection, query: str) -> int:
    return int(connection.execute(query).fetchone()[0])


def _refuse_newer(version: int, name: str) -> None:
    if version > SCHEMA_VERSION:
        message = (
            f"database {name} was written by a newer alertd (version {version} of its tables, this alertd knows "
            f"{SCHEMA_VERSION}); install that alertd again, or name another file"
        )
        raise StoreTooNew(message)
