"""Every byte of a case file is flipped once: that is reported, or nothing that a case vouches for has changed."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from log.basics.errors import TamponadeError
from log.store import case as store
from log.store.sqlite import SCHEMA
from log.store.verify import verify
from tests.case_file import body, make

FLIPS = (0x01, 0x80, 0xFF)
"""One of them for each byte in turn; all of them with TAMPONADE_EVERY_FLIP=1, which takes a minute."""
PAGE = 512
"""The smallest that SQLite has, so that few bytes are unused; nothing else depends on it."""
LOOKS = (
    "SELECT seq, line FROM facts ORDER BY seq",
    "SELECT one, head, summary FROM head",
    "SELECT sha256, kind, content FROM beside ORDER BY sha256",
)

Vouched = tuple[object, ...]


@pytest.fixture(scope="module")
def small() -> Iterator[Path]:
    """A closed case in memory, where the system has such a place."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if os.access(memory, os.W_OK) else None) as folder:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("TAMPONADE_KEY", f"{folder}/key")
            entry, _, identifiers, *_ = body()
            path = make(Path(folder), facts=(entry, identifiers))
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
            connection.execute(f"PRAGMA page_size={PAGE}")
            connection.execute("VACUUM")
            connection.execute("PRAGMA journal_mode=WAL")
        assert verify(path).problems == ()
        yield path


def vouched(path: Path) -> Vouched:
    """All that a case holds, as it stands in the file and as the program reads it."""
    kept = store.read(path.parent, str(path))
    with closing(sqlite3.connect(f"{path.as_uri()}?immutable=1", uri=True)) as connection:
        rows = tuple(tuple(connection.execute(look)) for look in LOOKS)
        schema = {sql for (sql,) in connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")}
    return rows, schema, kept.facts, kept.head, kept.identifiers, store.summary(path)


def tell(path: Path) -> str:
    """What verifying says."""
    try:
        report = verify(path)
    except TamponadeError as error:
        return str(error)
    return "; ".join(map(str, report.problems)) + "; ".join(report.sounds_missing)


def flips(place: int) -> tuple[int, ...]:
    return FLIPS if os.environ.get("TAMPONADE_EVERY_FLIP") else (FLIPS[place % len(FLIPS)],)


@pytest.mark.slow
def test_no_byte_can_be_changed_in_silence(small: Path) -> None:
    before, content = vouched(small), small.read_bytes()
    assert before[1] == set(SCHEMA)
    silent, told = [], set()
    with small.open("r+b", buffering=0) as file:
        for place, byte in enumerate(content):
            for flip in flips(place):
                os.pwrite(file.fileno(), bytes([byte ^ flip]), place)
                if tell(small):
                    told.add(place)
                elif vouched(small) != before:
                    silent.append((place, flip))
            os.pwrite(file.fileno(), bytes([byte]), place)
    assert silent == []
    assert len(told) > len(content) / 2, "most bytes of so small a case mean something"
    assert vouched(small) == before
