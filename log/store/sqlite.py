"""The file a case lies in: its tables, how it is opened for reading, and what is said when that cannot be done.

A reader opens a file without a journal as immutable: nobody is writing it, and reading leaves nothing behind.
"""

from __future__ import annotations

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from pydantic import ValidationError

from log.basics.errors import InputError, StoreError
from log.basics.visible import visible
from log.facts.summary import Summary
from log.store import encryption
from log.store.chain import Head, Link, read_link
from log.store.journal import check_before_reading, has_journal

FORMAT = 2
ROOM_TO_OPEN = 100_000
"""Bytes. With less on the disk a case cannot even be opened for writing, and SQLite does not say why."""

SCHEMA = (
    "CREATE TABLE facts (seq INTEGER PRIMARY KEY, line TEXT NOT NULL) STRICT",
    "CREATE TABLE head (one INTEGER PRIMARY KEY CHECK (one = 1), head TEXT NOT NULL, summary TEXT NOT NULL) STRICT",
    "CREATE TABLE beside (sha256 TEXT PRIMARY KEY, kind TEXT NOT NULL, content BLOB NOT NULL) STRICT",
    "CREATE TRIGGER facts_are_never_changed BEFORE UPDATE ON facts "
    "BEGIN SELECT RAISE(ABORT, 'facts are never changed'); END",
    "CREATE TRIGGER facts_are_never_deleted BEFORE DELETE ON facts "
    "BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END",
    "CREATE TRIGGER facts_are_never_replaced BEFORE INSERT ON facts "
    "WHEN EXISTS (SELECT 1 FROM facts WHERE seq = NEW.seq) "
    "BEGIN SELECT RAISE(ABORT, 'facts are never replaced'); END",
)

TABLES = frozenset(SCHEMA[:3])


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A read-only connection. Where there is nothing in a journal nobody is writing, and the file alone is read: that
    works on a disk that is full or cannot be written, and leaves no files behind."""
    with reported(path):
        secret = encryption.passphrase(path) if encryption.is_encrypted(path) else None
        check_before_reading(path, secret)
        mode = "mode=ro" if has_journal(path) else "immutable=1"
        with closing(encryption.connected(path, mode, secret)) as connection:
            check_format(path, connection)
            connection.execute("BEGIN")  # all that is read here is of one moment, whoever writes meanwhile
            yield connection


def check_format(path: Path, connection: sqlite3.Connection) -> None:
    """Raises InputError for a file that is no case of this version."""
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    if found != FORMAT:
        raise InputError(
            f"{path}: not a case this version can read (format {found}, wanted {FORMAT})",
            "open it with the version that made it",
        )
    if TABLES - _schema(connection):
        raise InputError(f"{path}: its tables are not those of a case", "check that, or restore a backup")


def check_unaltered(path: Path, connection: sqlite3.Connection) -> None:
    """Raises InputError for a file in which somebody has put things that would run when it is written to."""
    for sql in sorted(_schema(connection) - set(SCHEMA)):
        raise InputError(
            f"{path}: contains unknown tables, views or triggers: {visible(sql, 60)}", "check it with: tamponade verify"
        )


def _schema(connection: sqlite3.Connection) -> set[str]:
    with _rows(connection, "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL") as rows:
        return {str(sql) for (sql,) in rows}


def _rows(connection: sqlite3.Connection, sql: str, *given: int) -> closing[sqlite3.Cursor]:
    """The rows of a query, released on every way out: an error would keep them, the file and its journal open."""
    return closing(connection.execute(sql, given))


def faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Problems of the file as a database, and with the tables that keep facts from being changed."""
    found = _schema(connection)
    for sql in sorted(set(SCHEMA) - found):
        yield f"it lacks: {sql[:60]} ..."
    for sql in sorted(found - set(SCHEMA)):
        yield f"it contains unknown tables, views or triggers: {visible(sql, 60)}"
    if found <= set(SCHEMA):  # of anything else the checks could be made to take forever
        for (said,) in connection.execute("PRAGMA integrity_check"):
            if said != "ok":
                yield visible(str(said), 200)
    if connection.execute("SELECT one FROM head").fetchall() not in ([], [(1,)]):  # only the first would be replaced
        yield "it has more than one head, or it is in the wrong place"


def read_head(path: Path, connection: sqlite3.Connection) -> Head | None:
    """The signed head, if there is one. Raises InputError."""
    row = connection.execute("SELECT head FROM head").fetchone()
    try:
        return Head.model_validate_json(row[0]) if row else None
    except ValidationError:
        raise InputError(f"{path}: its head cannot be read", "check it with: tamponade verify") from None


def read_summary(path: Path, connection: sqlite3.Connection) -> Summary:
    """The summary of the case. Raises InputError."""
    row = connection.execute("SELECT summary FROM head").fetchone()
    try:
        return Summary.model_validate_json(row[0] if row else "")
    except ValidationError:
        raise InputError(f"{path}: has no readable summary", "check it with: tamponade verify") from None


def read_links(path: Path, connection: sqlite3.Connection) -> Iterator[Link]:
    """The facts in order. Raises InputError at the first that cannot be read."""
    with _rows(connection, "SELECT seq, line FROM facts ORDER BY seq") as rows:
        for seq, text in rows:
            yield _read_link(path, seq, text)


def read_link_at(path: Path, connection: sqlite3.Connection, seq: int) -> Link:
    """The fact of this number. Raises InputError if it cannot be read, or is another."""
    with _rows(connection, "SELECT line FROM facts WHERE seq = ?", seq) as rows:
        for (text,) in rows:
            link = _read_link(path, seq, text)
            if link.seq == seq:
                return link
    raise InputError(f"{path}: fact {seq} is not in its place", "the file is damaged; restore a backup")


def _read_link(path: Path, seq: int, text: str) -> Link:
    try:
        return read_link(text)
    except ValueError as error:
        raise InputError(
            f"{path}: fact {seq} cannot be read ({why(error)})",
            "the file is damaged or from another version; restore a backup",
        ) from None


def why(error: ValueError) -> str:
    """The problem of a line, in one line."""
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        return visible(f"{'.'.join(str(step) for step in first['loc'])}: {first['msg']}", 200)
    return visible(str(error), 200)


@contextmanager
def reported(path: Path) -> Iterator[None]:
    """Turns what the disk and SQLite say into one line with a remedy."""
    try:
        yield
    except encryption.errors() as error:
        raise _translated(path, visible(str(error), 200)) from None
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            raise StoreError(
                f"{path.parent}: this folder cannot be written", "choose another with --cases DIR"
            ) from None
        raise StoreError(
            f"{path}: {error.strerror or error}", "make room on the disk or choose another folder with --cases DIR"
        ) from None


def _translated(path: Path, said: str) -> StoreError | InputError:
    if "full" in said or ("I/O" in said and shutil.disk_usage(path.parent).free < ROOM_TO_OPEN):
        return StoreError(
            f"{path}: the disk is full; what was acknowledged is safe", "free some space and resume with --case"
        )
    if "readonly" in said or "unable to open" in said:
        return StoreError(f"{path}: cannot be written (read-only)", "choose another folder with --cases DIR")
    if "locked" in said:
        return StoreError(f"{path}: another program is writing this case", "close it there and try again")
    if "no such" in said or "not a database" in said or "malformed" in said or "decode" in said:
        return InputError(
            f"{path}: not a case file, damaged, or the passphrase is wrong ({said})", "check that, or restore a backup"
        )
    return StoreError(f"{path}: {said}", "check the disk, or choose another folder with --cases DIR")
