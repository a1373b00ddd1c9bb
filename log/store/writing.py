"""A case that is open for writing, and is only ever added to. What `append` has returned from is on the disk.

The head is signed with every append, in the same transaction: 0.05 ms against a commit of 0.2 to 1 ms. The journal is
folded into the file every two seconds and at every pause: with each append it would take the disk twice as long.
What a signature cannot show, an old state put back or a rewrite by the holder of the key, the fingerprints given away
show. Sounds and identifiers lie in the same file, named by hash only: they are written in the same transaction,
encrypted with the case, and can be removed (`secure_delete`, VACUUM) without breaking the chain.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from types import TracebackType
from typing import Literal

from filelock import FileLock

from log.facts.events import CaseOpened, Fact
from log.facts.summary import Summary
from log.store import encryption
from log.store.chain import Head, Link, linked
from log.store.keys import Signer
from log.store.own_heads import Remembered, remember
from log.store.sqlite import (
    FORMAT,
    SCHEMA,
    check_format,
    check_unaltered,
    read_head,
    read_link_at,
    read_links,
    reported,
)

Kind = Literal["sound", "identifiers"]


FOLD_SECONDS = 2.0
"""For at most so long, while it is being written without a pause, what is written is in the journal alone."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Something that is kept with a case without being a fact."""

    sha256: str
    kind: Kind
    content: bytes


def beside(kind: Kind, content: bytes) -> Beside:
    """Something to be kept, under its fingerprint."""
    return Beside(hashlib.sha256(content).hexdigest(), kind, content)


class Case:
    """One case, open for writing. Use as a context manager."""

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: FileLock | None, vouching: Signer) -> None:
        """`lock`: None for a case that is nowhere on a disk."""
        self.path = path
        self._connection = connection
        self._lock = lock
        self._signer = vouching
        self._seq, self._last, self._case, self._opening = _end(path, connection)
        self._before = self._seq
        self._folded_at = monotonic()
        self._unfolded = False

    @property
    def public_key(self) -> str:
        """The key that will vouch for what is appended."""
        return self._signer.public_key

    @property
    def last(self) -> str:
        """The fingerprint of the last fact on disk."""
        return self._last or ""

    def append(self, facts: Iterable[Fact], summary: Summary, add: Iterable[Beside] = ()) -> None:
        """Writes facts, what lies beside them and the signed head in one transaction; all of it is durable when this
        returns. `summary`: what the whole case comes to with them. Raises StoreError, and then nothing is written."""
        self._write(facts, summary, add=add)

    def remove(
        self, facts: Iterable[Fact], summary: Summary, sha256: Iterable[str], add: Iterable[Beside] = ()
    ) -> None:
        """Deletes what lies beside the facts, puts there what comes instead, and writes the facts that say so, all in
        one transaction; the freed place is overwritten."""
        self._write(facts, summary, add, sha256)
        with reported(self.path):
            self._connection.execute("VACUUM")
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def fold_in(self) -> None:
        """Folds the journal into the file, so that a copy of the file alone has all there is. What cannot be folded in
        now stays in the journal, on the same disk: nothing is raised."""
        if self._unfolded:
            with suppress(*encryption.errors()):
                self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
            self._folded_at, self._unfolded = monotonic(), False

    def facts(self) -> tuple[Fact, ...]:
        """All facts so far."""
        return tuple(link.fact for link in self.links())

    def links(self) -> tuple[Link, ...]:
        """All facts so far, each in its place."""
        with reported(self.path):
            return tuple(read_links(self.path, self._connection))

    def head(self) -> Head | None:
        """The signed head."""
        with reported(self.path):
            return read_head(self.path, self._connection)

    def sound(self, sha256: str) -> bytes | None:
        """One sound, as FLAC; None if it is not there."""
        with reported(self.path):
            row = self._connection.execute("SELECT content FROM beside WHERE sha256 = ?", (sha256,)).fetchone()
        return bytes(row[0]) if row else None

    def close(self) -> None:
        """Folds the journal into the file, so that the case is one file, and lets others write. This machine remembers
        where the case ends."""
        try:
            self._connection.close()
            if self._lock is not None and self._last is not None and self._seq > self._before:
                remember(Remembered(opening=self._opening, facts=self._seq, sha256=self._last))
        finally:
            if self._lock is not None:
                self._lock.release()

    def __enter__(self) -> Case:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def take_over(self, links: Sequence[Link], head: Head, summary: Summary) -> None:
        """Writes lines that were written elsewhere, with the head that was signed there, after those that are here.
        Raises StoreError, and then nothing is written."""
        self._commit(links, head, summary)

    def _write(
        self, facts: Iterable[Fact], summary: Summary, add: Iterable[Beside] = (), drop: Iterable[str] = ()
    ) -> None:
        links = linked(facts, self._seq, self._last)
        if links:
            opened = links[0].fact
            case = opened.case if isinstance(opened, CaseOpened) else self._case
            self._commit(links, self._signer.head(case, links[-1].seq, links[-1].sha256), summary, add, drop)

    def _commit(
        self,
        links: Sequence[Link],
        head: Head,
        summary: Summary,
        add: Iterable[Beside] = (),
        drop: Iterable[str] = (),
    ) -> None:
        lines = [(link.seq, link.text) for link in links]
        blocks = [(block.sha256, block.kind, block.content) for block in add]
        with reported(self.path):
            try:
                with self._connection as writing:
                    writing.executemany("INSERT INTO facts VALUES (?, ?)", lines)
                    writing.executemany("INSERT OR IGNORE INTO beside VALUES (?, ?, ?)", blocks)
                    writing.executemany("DELETE FROM beside WHERE sha256 = ?", [(sha256,) for sha256 in drop])
                    writing.execute(
                        "INSERT OR REPLACE INTO head VALUES (1, ?, ?)",
                        (head.model_dump_json(), summary.model_dump_json()),
                    )
            except encryption.errors():
                self._connection.rollback()
                raise
        self._opening = self._opening or links[0].sha256
        self._seq, self._last, self._case = head.facts, head.sha256, head.case
        self._unfolded = True
        if monotonic() - self._folded_at > FOLD_SECONDS:
            self.fold_in()


def prepare(path: Path, connection: sqlite3.Connection, new: bool) -> None:
    if not new:
        check_format(path, connection)  # before anything is written into what may not be ours
        check_unaltered(path, connection)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA fullfsync=1")  # macOS: a plain fsync may stop at the drive's cache
    connection.execute("PRAGMA secure_delete=ON")  # what is removed is overwritten with zeros
    connection.execute("PRAGMA temp_store=MEMORY")  # nothing of a case goes into the folder for temporary files
    if new:
        connection.executescript(f"BEGIN; {'; '.join(SCHEMA)}; PRAGMA user_version={FORMAT}; COMMIT;")


def _end(path: Path, connection: sqlite3.Connection) -> tuple[int, str | None, str, str]:
    """Number and fingerprint of the last line, the name of the case and the fingerprint of its first line; nothing of
    a new one. Raises InputError if these two lines cannot be read: nothing is added to what nobody could read."""
    first, last = connection.execute("SELECT min(seq), max(seq) FROM facts").fetchone()
    if last is None:
        return 0, None, "", ""
    opened, end = (read_link_at(path, connection, seq) for seq in (first, last))
    return end.seq, end.sha256, getattr(opened.fact, "case", ""), opened.sha256
