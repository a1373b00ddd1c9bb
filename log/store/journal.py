"""The journal beside a case ("-wal"): what was written last and is not in the file yet. It is on disk, and a kill
leaves it there; SQLite takes it for the file's own whatever lies there by then. An older copy put back beside it would
be read as a mixture of two states, and destroyed by the first writing: so a journal is looked at before it is used.

It is the file's own if file and journal together are a sound case that has all the file alone has. It is another's if
that is not so and the file alone is sound. Where neither is, nobody touches either.
"""

from __future__ import annotations

from contextlib import closing, suppress
from functools import lru_cache
from itertools import count, pairwise
from pathlib import Path

from log.basics.errors import InputError, StoreError
from log.store import encryption
from log.store.chain import Head, fingerprint, parsed
from log.store.lock import locked

HEADER = 32
"""Bytes of a journal that differ whenever it is begun anew."""


def journal_of(path: Path) -> Path:
    """Where the journal of a case lies while there is one."""
    return path.with_name(f"{path.name}-wal")


def has_journal(path: Path) -> bool:
    """Whether something may be in a journal that is not in the file."""
    journal = journal_of(path)
    return journal.exists() and journal.stat().st_size > 0


def check_before_reading(path: Path, secret: str | None) -> None:
    """As `check_before_writing`; a journal that somebody is writing is his own."""
    if has_journal(path) and _is_foreign_as_known(path, secret, *_state(path)):
        with suppress(StoreError), locked(path):
            check_before_writing(path, secret)


def check_before_writing(path: Path, secret: str | None) -> None:
    """Sets aside a journal that is not this file's own, and raises InputError, once, to say so. The lock is held."""
    if has_journal(path) and _is_foreign(path, secret):
        aside = set_aside(path)
        raise InputError(
            f"{path}: the journal beside it was of another state of this case (was a copy put back?) and is now"
            f" {aside.name}",
            "run the command again to go on with the file alone; keep both if the copy was a mistake",
        )


def set_aside(path: Path) -> Path:
    """Gives the journal a name by which no file claims it."""
    journal = journal_of(path)
    names = (journal.with_name(f"{journal.name}.set-aside-{number}") for number in count(1))
    aside = next(name for name in names if not name.exists())
    journal.rename(aside)
    path.with_name(f"{path.name}-shm").unlink(missing_ok=True)
    return aside


def _state(path: Path) -> tuple[bytes, int, int]:
    """A mark that changes when the journal is begun anew or the file is another."""
    with journal_of(path).open("rb") as file:
        header = file.read(HEADER)
    found = path.stat()
    return header, found.st_ino, found.st_mtime_ns


@lru_cache(maxsize=16)
def _is_foreign_as_known(path: Path, secret: str | None, *_state: object) -> bool:
    return _is_foreign(path, secret)


def _is_foreign(path: Path, secret: str | None) -> bool:
    alone, both = _lines(path, "immutable=1", secret), _lines(path, "mode=ro", secret)
    return alone is not None and (both is None or both[: len(alone)] != alone)


def _lines(path: Path, mode: str, secret: str | None) -> list[str] | None:
    """The lines of a case that is sound: the database is whole, each line follows the one before it, and the last is
    the one that the head names. None if it is not."""
    try:
        with closing(encryption.connected(path, mode, secret)) as connection:
            connection.execute("BEGIN")
            whole = connection.execute("PRAGMA quick_check").fetchone() == ("ok",)
            lines = [str(line) for (line,) in connection.execute("SELECT line FROM facts ORDER BY seq")]
            heads = [Head.model_validate_json(head) for (head,) in connection.execute("SELECT head FROM head")]
        follow = all(parsed(after).get("previous") == fingerprint(before) for before, after in pairwise(lines))
    except ValueError:  # a line or the head cannot be read
        return None
    except encryption.errors() as error:
        if type(error).__name__ == "OperationalError" and "no such" not in str(error):
            raise  # the disk, not what is on it; SQLCipher has a class of its own for it
        return None
    ends = [(head.facts, head.sha256) for head in heads] == [(len(lines), fingerprint(lines[-1]))] if lines else False
    return lines if whole and follow and ends else None
