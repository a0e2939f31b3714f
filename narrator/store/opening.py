"""Opening the database file: look before touching, and say in a coded error what is wrong with it."""

from __future__ import annotations

import errno
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.schema import APPLICATION_ID, SCHEMA, migrations

BUSY_SECONDS = 10.0
"""How long to wait for another program's change to finish."""

_HEADER = 100
"""Bytes at the head of every SQLite file."""
_NO_HEADER = "it does not begin as an SQLite file does"
_CODES = {
    "SQLITE_BUSY": "E301", "SQLITE_LOCKED": "E301", "SQLITE_PROTOCOL": "E301",
    "SQLITE_CORRUPT": "E302", "SQLITE_NOTADB": "E302",
    "SQLITE_FULL": "E308", "SQLITE_READONLY": "E308", "SQLITE_CANTOPEN": "E308", "SQLITE_IOERR": "E308",
    "SQLITE_PERM": "E308", "SQLITE_AUTH": "E308",
}  # fmt: skip


def database_path(home: Path) -> Path:
    """Where the database of a home lies."""
    return home / "narrator.db"


@contextmanager
def coded(path: Path) -> Iterator[None]:
    """Turn an error of SQLite, or of the file system under it, into a coded one about ``path``."""
    try:
        yield
    except sqlite3.Error as error:
        name = str(getattr(error, "sqlite_errorname", "") or "")
        primary = "_".join(name.split("_")[:2])
        raise NarratorError(_CODES.get(primary, "E309"), path=path, why=error) from error
    except OSError as error:
        raise NarratorError("E308", path=path, why=error.strerror or error) from error


def check_file(path: Path) -> None:
    """Judge the file by its first page, read as one that nobody changes, before anything is altered.

    It is read by SQLite and never opened by ourselves: a system that locks as POSIX says lets go of all locks
    that a process holds on a file when any of its handles on it is closed. Another process would then take
    itself for the last one and remove the journal that this one goes on writing to.

    Raises:
        NarratorError: E302 not a database, E303 of a newer version, E304 of another program, E308 unreadable.
    """
    with coded(path):
        size = path.stat().st_size if path.is_file() else None
        if size == 0 or not path.exists():
            return
        if not os.access(path, os.R_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        if size is not None and size < _HEADER:
            raise NarratorError("E302", path=path, why=_NO_HEADER)
        head = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        try:
            version, application = (
                int(head.execute(f"PRAGMA {name}").fetchone()[0])
                for name in ("user_version", "application_id")
            )
        except sqlite3.DatabaseError as error:
            code = getattr(error, "sqlite_errorcode", None)
            if code == sqlite3.SQLITE_NOTADB:
                raise NarratorError("E302", path=path, why=_NO_HEADER) from error
            if code == sqlite3.SQLITE_CORRUPT:  # or it is being written to: who opens it with locks can tell
                return
            raise
        finally:
            head.close()
    judge(path, version, application)


def judge(path: Path, version: int, application: int) -> None:
    """Raise E304 for another program's file and E303 for a newer version's; (0, 0) is an empty file's."""
    if application != APPLICATION_ID and (application, version) != (0, 0):
        raise NarratorError("E304", path=path)
    if version > SCHEMA:
        raise NarratorError("E303", path=path, found=version, known=SCHEMA)


def open_reader(path: Path, wait: float = BUSY_SECONDS) -> Database:
    """A connection that cannot change the file."""
    check_file(path)
    if not path.is_file():
        raise NarratorError("E307", home=path.parent)
    with coded(path):
        still = "&immutable=1" if _cannot_change(path) else ""
        db = _connect(f"{path.resolve().as_uri()}?mode=ro{still}", wait)
        with closing_on_error(db):
            db.execute("PRAGMA query_only = ON")
            judge(path, version_of(db), _pragma(db, "application_id"))
    return db


def _cannot_change(path: Path) -> bool:
    """Whether the file is whole and lies on a disk that cannot be written to: there SQLite finds no room for
    the files that readers and writers share, and there are no writers.
    """
    read_only = hasattr(os, "statvfs") and bool(os.statvfs(path).f_flag & os.ST_RDONLY)
    return read_only and not path.with_name(f"{path.name}-wal").exists()


def open_writer(path: Path, wait: float = BUSY_SECONDS) -> Database:
    """A connection that may change the file; makes the file and brings an older one up to date.

    Raises:
        NarratorError: as ``check_file``, E301 when another program holds it, E302 when it is damaged.
    """
    check_file(path)
    with coded(path):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.is_file() and path.stat().st_size:
            open_reader(path, wait).close()  # a newer schema may still lie in the journal beside the file
        db = _connect(f"{path.resolve().as_uri()}?mode=rwc", wait)
        with closing_on_error(db):
            _look_for_damage(db)
            _prepare(db, wait)
            _upgrade(path, db)
    return db


@contextmanager
def closing_on_error(db: Database) -> Iterator[None]:
    """Close the connection when the block fails."""
    try:
        yield
    except BaseException:
        db.close()
        raise


def version_of(db: Database) -> int:
    """Schema version of an open database."""
    return _pragma(db, "user_version")


def _pragma(db: Database, name: str) -> int:
    return int(db.execute(f"PRAGMA {name}").fetchone()[0])


def _connect(uri: str, wait: float) -> Database:
    """Statements outside a transaction commit by themselves; transactions are begun by name."""
    conn = sqlite3.connect(uri, uri=True, timeout=wait, isolation_level=None, check_same_thread=False)
    return Database(conn, execute_plugins=False)


def _look_for_damage(db: Database) -> None:
    found = db.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        damage = sqlite3.DatabaseError(found)
        damage.sqlite_errorname = "SQLITE_CORRUPT"
        raise damage


def _prepare(db: Database, wait: float) -> None:
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA secure_delete = ON")
    deadline = time.monotonic() + wait
    while db.journal_mode != "wal":  # the switch does not wait by itself while another program opens the file
        try:
            db.enable_wal()
        except sqlite3.OperationalError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.02)
        else:
            break


def _upgrade(path: Path, db: Database) -> None:
    """Apply what is missing and stamp the version, all in one transaction."""
    if version_of(db) == SCHEMA:
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        judge(path, version_of(db), _pragma(db, "application_id"))
        migrations.apply(db)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {SCHEMA}")
    except BaseException:
        db.rollback()
        raise
    db.commit()
