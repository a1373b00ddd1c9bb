"""Whatever is done to a case behind the program's back is reported, with the first fact that it changed."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.facts.events import Fact
from log.store.chain import fingerprint, linked
from log.store.keys import Signer, signer
from log.store.verify import verify
from log.store.writing import beside
from tests.case_file import (
    BLOCK,
    SOUNDS,
    body,
    changed,
    logged,
    make,
    opened,
    tamper,
    write_anew,
)

Tampering = Callable[[Path], None]


def line(path: Path, seq: int) -> str:
    """A stored line."""
    with closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT line FROM facts WHERE seq = ?", (seq,)).fetchone()[0])


def put(path: Path, seq: int, text: str) -> None:
    tamper(path, "REPLACE INTO facts VALUES (?, ?)", values=(seq, text))


def replaced(seq: int, old: str, new: str) -> Tampering:
    """One fact with another word in it."""

    def do(path: Path) -> None:
        assert old in line(path, seq)
        put(path, seq, line(path, seq).replace(old, new))

    return do


def sql(*statements: str) -> Tampering:
    return lambda path: tamper(path, *statements)


def swapped(path: Path) -> None:
    third, fifth = line(path, 3), line(path, 5)
    put(path, 3, fifth)
    put(path, 5, third)


def inserted(path: Path) -> None:
    """Those after it are given their new numbers in the file, and cannot be given them in their lines."""
    fact = logged(2, 20)
    link = linked([fact], 2, fingerprint(line(path, 2)))[0]
    tamper(path, "UPDATE facts SET seq = -seq WHERE seq > 2", "UPDATE facts SET seq = 1 - seq WHERE seq < 0")
    put(path, 3, link.text)


def anew(change: Callable[[list[Fact]], list[Fact]], by: Signer | None = None) -> Tampering:
    return lambda path: write_anew(path, change([opened(), *body()]), by)


def stranger() -> Signer:
    return Signer(Ed25519PrivateKey.generate())


def later(fact: Fact) -> Fact:
    return fact.model_copy(update={"logged_at": fact.logged_at + timedelta(minutes=2)})


def another_definition(fact: Fact) -> Fact:
    return fact.model_copy(update={"definition": '{"limits":[]}'})


def other_head(path: Path) -> None:
    other = make(path.parent / "other", "other")
    with closing(sqlite3.connect(other)) as connection:
        head = connection.execute("SELECT head FROM head").fetchone()
    tamper(path, "UPDATE head SET head = ?", values=head)


def without_trigger(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER facts_are_never_changed")


def other_trigger(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TRIGGER mine AFTER INSERT ON facts BEGIN DELETE FROM beside; END")


CUT = "DELETE FROM facts WHERE seq > 4"
FOREIGN = f"INSERT INTO beside VALUES ('{beside('sound', b'fLaC').sha256}', 'sound', x'664c6143')"
TAMPERINGS: dict[str, tuple[Tampering, int | None, str]] = {
    "a value": (replaced(3, '"value":36', '"value":30'), 3, "chain broken here"),
    "the opening": (replaced(1, '"software":"tamp', '"software":"ramp'), 1, "chain broken here"),
    "the last fact": (replaced(6, "end of typing", "end of tryings"), 6, "the head signs"),
    "what a fact follows": (replaced(4, '"previous":"', '"previous":"0'), 4, "chain broken here"),
    "a time": (replaced(3, "14:00:02+02:00", "14:00:09+02:00"), 3, "chain broken here"),
    "spaces": (replaced(3, '"value":36', '"value": 36'), 3, "is not in its canonical form"),
    "a key twice": (replaced(3, '"seq":3', '"seq":3,"seq":3'), 3, "is not in its canonical form"),
    "an unknown key": (replaced(3, '"value":36', '"value":36,"worth":36'), 3, "cannot be read"),
    "no JSON": (lambda path: put(path, 3, "{"), 3, "cannot be read"),
    "deleted": (sql("DELETE FROM facts WHERE seq = 3"), 3, "is missing: the next one here is fact 4"),
    "the first deleted": (sql("DELETE FROM facts WHERE seq = 1"), 1, "is missing"),
    "all deleted": (sql("DELETE FROM facts"), 1, "there are no facts"),
    "deleted and closed up": (
        sql("DELETE FROM facts WHERE seq = 3", "UPDATE facts SET seq = seq - 1 WHERE seq > 3"),
        3,
        "is fact 4 in the place of another",
    ),
    "swapped": (swapped, 3, "is fact 5 in the place of another"),
    "inserted": (inserted, 3, "chain broken here|in the place of another"),
    "before the first": (lambda path: put(path, 0, "{}"), 0, "cannot be read"),
    "end cut off": (sql(CUT), 5, "the head signs 6 facts, but the case has 4"),
    "end cut off, head gone": (sql(CUT, "DELETE FROM head"), None, "there is no signed head|has no readable summary"),
    "written anew with no key": (anew(lambda facts: facts[:3] + facts[4:]), 6, "the head signs"),
    "a changed fact, no key": (
        lambda path: write_anew(path, changed([opened(), *body()], 3, lambda fact: logged(2, 30))),
        6,
        "the head signs",
    ),
    "signed by a stranger": (anew(lambda facts: facts, stranger()), None, "signed by another key than the facts name"),
    "the definition": (
        lambda path: write_anew(path, changed([opened(), *body()], 1, another_definition), signer()),
        1,
        "the copy of the definition is not the one that was in force",
    ),
    "times, signed anew": (
        lambda path: write_anew(path, changed([opened(), *body()], 3, later), signer()),
        4,
        "was written down before the fact before it",
    ),
    "a number, signed anew": (
        lambda path: write_anew(path, changed([opened(), *body()], 3, lambda fact: logged(4, 30)), signer()),
        3,
        "is line 4, where line 2 should be",
    ),
    "a second opening": (
        lambda path: write_anew(path, [opened(), *body(), opened()], signer()),
        7,
        "opens the case a second time",
    ),
    "a sound": (
        sql(f"UPDATE beside SET content = x'664c614300' WHERE sha256 = '{SOUNDS[0].sha256}'"),
        None,
        "a sound block is not what its fingerprint says",
    ),
    "a foreign sound": (sql(FOREIGN), None, "a sound block is here that no fact names"),
    "identifiers": (
        sql(f"UPDATE beside SET content = x'7b7d' WHERE sha256 = '{BLOCK.sha256}'"),
        None,
        "an? identifiers block is not what its fingerprint says",
    ),
    "identifiers gone": (sql("DELETE FROM beside WHERE kind = 'identifiers'"), None, "identifiers .* is missing"),
    "identifiers hidden": (sql("UPDATE beside SET kind = 'x' WHERE kind = 'identifiers'"), None, "is missing"),
    "a sound as identifiers": (sql("UPDATE beside SET kind = 'identifiers'"), None, "that no fact names"),
    "no trigger": (without_trigger, None, "the file is damaged: it lacks: CREATE TRIGGER facts_are_never_changed"),
    "another trigger": (other_trigger, None, "it contains unknown tables, views or triggers: CREATE TRIGGER mine"),
    "two heads": (
        sql("INSERT INTO head SELECT 2, head, summary FROM head"),
        None,
        "more than one head",
    ),
    "head of another case": (other_head, None, "the head is that of another case"),
    "the signature": (
        sql("UPDATE head SET head = replace(head, 'ture\":\"', 'ture\":\"0')"),
        None,
        "signature of the head",
    ),
    "a head in the wrong place": (sql("UPDATE head SET one = 0"), None, "in the wrong place"),
    "the summary": (sql("UPDATE head SET summary = replace(summary, '3', '2')"), None, "the summary for the list"),
}


def test_a_case_that_nobody_touched_verifies(tmp_path: Path) -> None:
    report = verify(make(tmp_path))
    assert report.problems == ()
    assert report.sounds_missing == ()
    assert (report.facts, report.sounds, report.first_broken) == (6, 2, None)


@pytest.mark.parametrize(("tampering", "first", "told"), TAMPERINGS.values(), ids=TAMPERINGS)
def test_what_was_done_to_a_case_is_found(tmp_path: Path, tampering: Tampering, first: int | None, told: str) -> None:
    path = make(tmp_path)
    tampering(path)
    report = verify(path)
    assert report.first_broken == first, report.problems
    assert re.search(told, "\n".join(map(str, report.problems))), report.problems


def test_a_sound_that_was_taken_away_is_missing_and_one_that_was_removed_is_not(tmp_path: Path) -> None:
    path = make(tmp_path)
    tamper(path, f"DELETE FROM beside WHERE sha256 = '{SOUNDS[1].sha256}'")
    report = verify(path)
    assert report.sounds_missing == (SOUNDS[1].sha256,)
    assert report.problems == ()
