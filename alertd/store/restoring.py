"""Putting a copy in the place of a database."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.core import StoreError

from .copies import Copied, copy_pages, look_over, part_beside, put_in_place
from .records import Commit
from .site_lock import SiteLock
from .store import Store

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

_HEAD_QUERY = "SELECT value FROM meta WHERE key = 'audit_head'"


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restoration has done.

    Parameters
    ----------
    copied : Copied
        What the copy held.
    kept : Path or None
        Where the database that was there before is now; ``None`` if there was none.
    """

    copied: Copied
    kept: Path | None


def restore(copy: Path, database: Path, now: datetime) -> Restored:
    """Put a copy in the place of a database, and keep that one beside.

    At every moment there is a whole database, the old one or the new one. The restoration is told in the audit log of
    the new one, with the end of the old one's log.

    Parameters
    ----------
    copy : Path
        As `back_up` wrote it; it is not changed. One of an older version is brought up to date.
    database : Path
        Where it goes.
    now : datetime
        Aware UTC.

    Returns
    -------
    Restored
        What is where.

    Raises
    ------
    StoreError
        If a daemon uses the database, or the copy cannot be used; then nothing is changed.
    StoreTooNew
        If a newer alertd wrote the copy.
    AuditError
        If the audit log of the copy does not verify.
    """
    if not copy.is_file():
        message = f"there is no file {copy}; name a copy that alertd export backup has written"
        raise StoreError(message)
    if database.exists() and copy.samefile(database):
        message = f"{copy} is the database itself; name a copy that alertd export backup has written"
        raise StoreError(message)
    with SiteLock(database) as lock, part_beside(database) as part:
        _give_to_owner(lock.path, database)
        copy_pages(copy, part, str(database))
        copied = look_over(part, str(copy))
        kept = _kept_name(database, now) if database.exists() else None
        body = {
            "head": copied.head.full_text,
            "replaced": _recorded_head(database) if kept else None,
            "kept": None if kept is None else kept.name,
        }
        with Store.open(part, name=str(copy)) as store:
            store.commit(Commit(now, events=(AuditEvent(now, "restore", body),)))
        _give_to_owner(part, database)
        if kept is not None:
            _keep(database, kept)
        put_in_place(part, database)
    return Restored(copied, kept)


def _kept_name(database: Path, now: datetime) -> Path:
    name = f"{database.stem}.before-{now:%Y%m%dT%H%M%SZ}{database.suffix}"
    taken = database.with_name(name)
    if taken.exists():
        message = f"{taken} exists already; wait a second, then try again"
        raise StoreError(message)
    return taken


def _keep(database: Path, kept: Path) -> None:
    """Give the database a second name; what its log beside it holds comes along."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(database)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    try:
        # A damaged database may leave its log, which would be taken for the new one's.
        for suffix in ("-wal", "-shm"):
            with suppress(FileNotFoundError):
                database.with_name(database.name + suffix).rename(kept.with_name(kept.name + suffix))
        try:
            os.link(database, kept)
        except OSError:  # not every file system has links
            shutil.copy2(database, kept)
    except OSError as error:
        message = f"{kept} cannot be written: {error.strerror}; the database is left as it was"
        raise StoreError(message) from error


def _recorded_head(database: Path) -> str | None:
    """Return the end of the audit log of a database that may be damaged."""
    try:
        with closing(sqlite3.connect(database)) as connection:
            row = connection.execute(_HEAD_QUERY).fetchone()
    except sqlite3.Error:
        return None
    return None if row is None else str(row[0])


def _give_to_owner(path: Path, database: Path) -> None:
    """Let a file belong to whom the database belongs, or its folder: root restores for a service of another user."""
    if os.geteuid() == 0:
        owner = (database if database.exists() else database.parent).stat()
        os.chown(path, owner.st_uid, owner.st_gid)
