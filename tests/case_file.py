"""A small case in its file, for tests of that file: entries, sounds, a block of identifiers, and its end."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

from log.basics.entry import Entry
from log.facts.events import CaseClosed, CaseOpened, CaseResumed, EntryLogged, Fact, IdentifiersGiven
from log.facts.origin import Origin, Sound
from log.facts.record import fold
from log.store import case as store
from log.store.chain import linked
from log.store.folder import SUFFIX
from log.store.identifiers import Identifiers, sealed
from log.store.keys import Signer, signer
from log.store.sqlite import SCHEMA
from log.store.writing import Beside, beside
from tests import cases
from tests.cases import BEGAN

SOUNDS = tuple(beside("sound", b"fLaC" + bytes([number]) * 60) for number in (1, 2))
BLOCK = beside("identifiers", sealed(Identifiers(patient_first="Somebody", place="Bay 4")))
PRESSURES = (35, 36, 37)


def at(seconds: float) -> datetime:
    """So many seconds into the case."""
    return BEGAN + timedelta(seconds=seconds)


def opened(name: str = "case", definition: str = "{}") -> CaseOpened:
    """The opening of a case with a definition that says nothing, vouched for by this machine."""
    return cases.opened(case=name, definition=definition, public_key=signer().public_key)


def logged(number: int, value: int, sound: Beside | None = None) -> EntryLogged:
    """A pressure, with the sound it was heard in."""
    entry = Entry(kind="pressure", site="oesophageal", value=value, unit="mmHg")
    kept = Sound(sha256=sound.sha256, seconds=1.5) if sound else None
    origin = Origin(author="operator", heard="oesophageal pressure", sound=kept)
    return EntryLogged(logged_at=at(number), number=number, entry=entry, said_at=at(number - 0.5), origin=origin)


def body() -> list[Fact]:
    """Facts 2 to 6."""
    return [
        logged(1, PRESSURES[0], SOUNDS[0]),
        logged(2, PRESSURES[1]),
        IdentifiersGiven(logged_at=at(2.5), sha256=BLOCK.sha256, author="scribe"),
        logged(3, PRESSURES[2], SOUNDS[1]),
        CaseClosed(logged_at=at(4), reason="end of typing"),
    ]


def make(folder: Path, name: str = "case", encrypt: bool = False, facts: Sequence[Fact] | None = None) -> Path:
    """The case, or one with other facts, closed; with the sounds and the block that its facts name."""
    with store.create(folder, opened(name), encrypt) as case:
        after = body() if facts is None else facts
        named = "".join(map(repr, after))
        beside = [block for block in (*SOUNDS, BLOCK) if block.sha256 in named]
        case.append(after, fold([opened(name), *after]).summary, beside)
    return case.path


def go_on(path: Path, *facts: Fact) -> None:
    """Somebody resumes a case, with the key that is there by now."""
    with store.resume(path.parent, path.name.removesuffix(SUFFIX)) as case:
        head, there = case.head(), case.facts()
        assert head is not None
        key = case.public_key
        resumed = CaseResumed(
            logged_at=at(5), software="test", source="typed", public_key=key, signature_before=head.signature
        )
        case.append([resumed, *facts], fold([*there, resumed, *facts]).summary)


def tamper(path: Path, *sql: str, values: Sequence[object] = ()) -> None:
    """Changes the file behind the program's back: its triggers are taken away for that, and put back."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        for statement in sql:
            connection.execute(statement, values)
        for trigger in SCHEMA:
            if "TRIGGER" in trigger:
                connection.execute(trigger)


def write_anew(path: Path, facts: Iterable[Fact], by: Signer | None = None) -> None:
    """The whole chain written anew, as somebody with a key could, or with the old head by somebody without."""
    links = linked(facts)
    tamper(path, "DELETE FROM facts")
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executemany("INSERT INTO facts VALUES (?, ?)", [(link.seq, link.text) for link in links])
        if by is not None:
            head = by.head("case", links[-1].seq, links[-1].sha256).model_dump_json()
            summary = fold(link.fact for link in links).summary.model_dump_json()
            connection.execute("REPLACE INTO head VALUES (1, ?, ?)", (head, summary))


def changed(facts: Iterable[Fact], number: int, change: Callable[[Fact], Fact]) -> list[Fact]:
    """The facts with one of them changed."""
    return [change(fact) if seq == number else fact for seq, fact in enumerate(facts, start=1)]
