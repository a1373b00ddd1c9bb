"""Encryption of a case at rest, sound included: the same file, every page of it encrypted with a key that is made
from a passphrase (SQLCipher, an optional package).

Whoever forgets the passphrase has lost the case: there is no way round it.
"""

from __future__ import annotations

import importlib
import os
import sqlite3
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType

from log.basics.errors import InputError, StoreError

PLAIN_HEADER = b"SQLite format 3\0"

ask: Callable[[Path], str] | None = None
"""Asks the person at the keyboard; set by the command line when there is one."""


def is_encrypted(path: Path) -> bool:
    """Whether this is not a plain case: encrypted, damaged, or something else."""
    with path.open("rb") as file:
        start = file.read(len(PLAIN_HEADER))
    return bool(start) and start != PLAIN_HEADER


def passphrase(path: Path) -> str:
    """From the file named in TAMPONADE_PASSPHRASE_FILE, from TAMPONADE_PASSPHRASE, or asked. Raises InputError."""
    named = os.environ.get("TAMPONADE_PASSPHRASE_FILE")
    if named:
        try:
            found = Path(named).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(f"{named}: the passphrase cannot be read ({error})", "check that file") from None
    else:
        found = os.environ.get("TAMPONADE_PASSPHRASE", "") or (ask(path) if ask is not None else "")
    if not found:
        raise InputError(
            f"{path}: not a plain case: encrypted, damaged or no case at all",
            "if it is encrypted, put its passphrase into a file and name that in TAMPONADE_PASSPHRASE_FILE",
        )
    if "\0" in found:
        raise InputError("a passphrase cannot hold a NUL character", "choose another")
    return found


def connected(path: Path, mode: str, secret: str | None) -> sqlite3.Connection:
    """A connection to a plain case, or with a passphrase to an encrypted one. Raises StoreError if the package for
    that is not installed. `mode`: a parameter of SQLite's URI, as "mode=ro"."""
    uri = f"{path.absolute().as_uri()}?{mode}"
    if secret is None:
        return sqlite3.connect(uri, uri=True, check_same_thread=False)
    connection: sqlite3.Connection = _library().connect(uri, uri=True, check_same_thread=False)
    quoted = secret.replace("'", "''")
    connection.execute(f"PRAGMA key = '{quoted}'")
    return connection


def errors() -> tuple[type[Exception], ...]:
    """Errors of a database: those of SQLCipher are not those of SQLite, and a complaint in which damaged text
    is quoted cannot be read at all."""
    try:
        return (sqlite3.Error, UnicodeDecodeError, _library().Error)
    except StoreError:
        return (sqlite3.Error, UnicodeDecodeError)


@cache
def _library() -> ModuleType:
    try:
        return importlib.import_module("sqlcipher3.dbapi2")
    except ImportError:
        raise StoreError(
            "this case is encrypted, and the package for that is not installed",
            "install it: pip install 'tamponade-log[encryption]'",
        ) from None
