"""A case on disk: one SQLite file. It is begun, resumed, read, restored and thrown away here; `writing` adds to it.

The file holds the facts, each linked to the one before it, the signed head, and beside them what can be removed again:
sounds and the block of identifiers. One program at a time may write a case; others may read it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock

from log.basics.errors import StoreError
from log.facts.events import CaseOpened, Fact
from log.facts.record import fold
from log.facts.summary import Summary
from log.store import encryption
from log.store.chain import Head, Link
from log.store.files import private_folder, rename_durably
from log.store.folder import SUFFIX, check_name, find_case
from log.store.journal import check_before_writing, has_journal, set_aside
from log.store.keys import signer
from log.store.lock import locked
from log.store.sqlite import (
    read_head,
    read_links,
    read_summary,
    reading,
    reported,
)
from log.store.writing import Case, prepare


@dataclass(frozen=True, slots=True)
class Kept:
    """A case as it was read."""

    path: Path
    links: tuple[Link, ...]
    head: Head | None
    identifiers: bytes | None
    """The newest block of identifiers, if one is there."""

    @property
    def facts(self) -> tuple[Fact, ...]:
        """All facts in order."""
        return tuple(link.fact for link in self.links)

    @property
    def name(self) -> str:
        """The case's name."""
        return self.path.name.removesuffix(SUFFIX)


def create(folder: Path, opened: CaseOpened, encrypt: bool = False) -> Case:
    """Begins a case; raises InputError for a name that cannot be, StoreError if the folder cannot be written or the
    case is already there.

    The public key in `opened` is filled in with that of this machine.
    """

    def begin(case: Case) -> None:
        named = opened.model_copy(update={"public_key": case.public_key})
        case.append([named], fold([named]).summary)

    return _begun(folder, opened.case, encrypt, begin)


def passing(opened: CaseOpened) -> Case:
    """Begins a case that is gone when it is closed, or when the program is killed: it lies in memory alone."""
    path = Path(f"{opened.case}{SUFFIX}")
    connection = sqlite3.connect(":memory:", check_same_thread=False)
    prepare(path, connection, new=True)
    case = Case(path, connection, None, signer())
    named = opened.model_copy(update={"public_key": case.public_key})
    case.append([named], fold([named]).summary)
    return case


def restore(folder: Path, links: Sequence[Link], head: Head, encrypt: bool = False) -> Path:
    """Writes a case as it was elsewhere: the same lines, the same head. Raises InputError, StoreError."""
    whole = fold(link.fact for link in links).summary
    with _begun(folder, head.case, encrypt, lambda case: case.take_over(links, head, whole)) as case:
        return case.path


def resume(folder: Path, name: str) -> Case:
    """Opens an existing case for writing; raises InputError if there is none, StoreError if somebody else has it."""
    path = find_case(folder, name)
    _refuse_second_name(path)
    with reported(path):
        secret = encryption.passphrase(path) if encryption.is_encrypted(path) else None
        with locked(path) as lock:
            check_before_writing(path, secret)
            return _opened(path, secret, lock)


def read(folder: Path, name: str) -> Kept:
    """A whole case; works on a read-only disk and while another program writes. Raises InputError."""
    path = find_case(folder, name)
    with reading(path) as connection:
        links = tuple(read_links(path, connection))
        newest = connection.execute("SELECT content FROM beside WHERE kind = 'identifiers' ORDER BY rowid DESC LIMIT 1")
        block = newest.fetchone()
        return Kept(path, links, read_head(path, connection), block[0] if block else None)


def sound(path: Path, sha256: str) -> bytes | None:
    """One sound, as FLAC; None if it is not there."""
    with reading(path) as connection:
        row = connection.execute("SELECT content FROM beside WHERE sha256 = ?", (sha256,)).fetchone()
        return bytes(row[0]) if row else None


def summary(path: Path) -> Summary:
    """The summary of a case, without reading its facts. Raises InputError."""
    with reading(path) as connection:
        return read_summary(path, connection)


def _refuse_second_name(path: Path) -> None:
    """Lock and journal go by the name of the file: under two names two programs would write one case."""
    if path.stat().st_nlink > 1:
        raise StoreError(
            f"{path}: this file has another name too (a hard link), and is not written under either",
            "copy it with tamponade backup, and go on with the copy; or remove the other name",
        )


def _begun(folder: Path, name: str, encrypt: bool, begin: Callable[[Case], None]) -> Case:
    """A new case, and what `begin` writes into it. It lies under another name until that is on disk: whatever kills
    the program on the way, a case is there with its beginning or not at all."""
    check_name(name)
    path = folder / f"{name}{SUFFIX}"
    with reported(path):
        private_folder(folder)
        secret = encryption.passphrase(path) if encrypt else None
        with locked(path) as lock:
            if path.exists():
                raise StoreError(f"{path}: this case exists already", "give another --case, or continue it")
            if has_journal(path):  # of a case that is gone
                set_aside(path)
            draft = path.with_name(f".{path.name}.begun")
            _delete(draft)
            try:
                draft.touch(mode=0o600)
                with _opened(path, secret, lock, draft) as case:
                    begin(case)
                rename_durably(draft, path)
            except BaseException:
                _delete(draft)
                raise
            return _opened(path, secret, lock)


def discard(path: Path) -> None:
    """Deletes a whole case that nobody writes. Raises StoreError."""
    with reported(path), locked(path):
        _delete(path)
    with suppress(OSError):
        path.with_name(f"{path.name}.lock").unlink()


def _delete(draft: Path) -> None:
    for end in ("", "-wal", "-shm"):
        draft.with_name(draft.name + end).unlink(missing_ok=True)


def _opened(path: Path, secret: str | None, lock: FileLock, draft: Path | None = None) -> Case:
    """The case of this path, which may still lie under another name; it holds the lock once more until it is closed."""
    connection = encryption.connected(draft or path, "mode=rw", secret)
    try:
        prepare(path, connection, new=draft is not None)
        case = Case(path, connection, lock, signer())
    except BaseException:
        connection.close()
        raise
    lock.acquire()
    return case
