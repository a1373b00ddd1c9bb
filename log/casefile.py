"""The file a case lies in: its tables, how it is opened for reading, and what is said when that cannot be done."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from pydantic import ValidationError

from log import encryption
from log.chain import Head, Link, read_link
from log.errors import InputError, StoreError

FORMAT = 2
SUFFIX = ".case"

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


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """A read-only connection. Where there is no journal nobody is writing, and the file alone is read: that works on
    a disk that cannot be written, and leaves no files behind."""
    with told(path):
        mode = "mode=ro" if path.with_name(f"{path.name}-wal").exists() else "immutable=1"
        secret = encryption.passphrase(path) if encryption.is_encrypted(path) else None
        with closing(connected(path, mode, secret)) as connection:
            check_format(path, connection)
            yield connection


def connected(path: Path, mode: str, secret: str | None) -> sqlite3.Connection:
    """A connection to a plain case, or with a passphrase to an encrypted one."""
    uri = f"{path.absolute().as_uri()}?{mode}"
    if secret is not None:
        return encryption.connect(path, uri, secret)
    return sqlite3.connect(uri, uri=True, check_same_thread=False)


def check_format(path: Path, connection: sqlite3.Connection) -> None:
    """Raises InputError for a file that is no case of this version."""
    found = connection.execute("PRAGMA user_version").fetchone()[0]
    if found != FORMAT:
        raise InputError(
            f"{path}: not a case this version can read (format {found}, wanted {FORMAT})",
            "open it with the version that made it",
        )


def faults(connection: sqlite3.Connection) -> Iterator[str]:
    """What is wrong with the file as a database, and with the tables that keep facts from being changed."""
    for (said,) in connection.execute("PRAGMA integrity_check"):
        if said != "ok":
            yield str(said)
    found = {sql for (sql,) in connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")}
    for sql in sorted(set(SCHEMA) - found):
        yield f"it lacks: {sql[:60]} ..."
    for sql in sorted(found - set(SCHEMA)):
        yield f"it holds something of its own: {sql[:60]} ..."
    if connection.execute("SELECT count(*) FROM head").fetchone()[0] > 1:
        yield "it has more than one head"


def read_head(path: Path, connection: sqlite3.Connection) -> Head | None:
    """The signed head, if there is one. Raises InputError."""
    row = connection.execute("SELECT head FROM head").fetchone()
    try:
        return Head.model_validate_json(row[0]) if row else None
    except ValidationError:
        raise InputError(f"{path}: its head cannot be read", "check it with: tamponade verify") from None


def read_links(path: Path, connection: sqlite3.Connection) -> Iterator[Link]:
    """The facts in order. Raises InputError at the first that cannot be read."""
    for seq, text in connection.execute("SELECT seq, line FROM facts ORDER BY seq"):
        try:
            yield read_link(text)
        except ValueError as error:
            raise InputError(
                f"{path}: fact {seq} cannot be read ({why(error)})",
                "the file is damaged or from another version; take its backup",
            ) from None


def why(error: ValueError) -> str:
    """What is wrong with a line, in one line."""
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        return f"{'.'.join(str(step) for step in first['loc'])}: {first['msg']}"
    return str(error).splitlines()[0]


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turns what the disk and SQLite say into one line with a remedy."""
    try:
        yield
    except encryption.errors() as error:
        raise _translated(path, str(error)) from None
    except PermissionError:
        raise StoreError(f"{path.parent}: this folder cannot be written", "choose another with --cases DIR") from None
    except OSError as error:
        raise StoreError(
            f"{path}: {error.strerror or error}", "free the disk or choose another folder with --cases DIR"
        ) from None


def _translated(path: Path, said: str) -> StoreError | InputError:
    if "full" in said:
        return StoreError(
            f"{path}: the disk is full; what was acknowledged is safe", "free some space and go on with --case"
        )
    if "readonly" in said or "unable to open" in said:
        return StoreError(f"{path}: cannot be written (read-only)", "choose another folder with --cases DIR")
    if "locked" in said:
        return StoreError(f"{path}: another program is writing this case", "close it there and try again")
    if "not a database" in said or "malformed" in said or "decode" in said:
        return InputError(
            f"{path}: not a case file, damaged, or the passphrase is wrong ({said})", "check that, or take its backup"
        )
    return StoreError(f"{path}: {said}", "check the disk, or choose another folder with --cases DIR")
