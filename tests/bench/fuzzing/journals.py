"""Journals that a kill left: cut and flipped anywhere, beside the file they belong to and beside older and newer ones.

Whatever is there, the case is read after at most one word of warning, as it was at some moment, never less than the
file alone holds; it verifies, and goes on.
"""

from __future__ import annotations

import random
import tempfile
from functools import cache
from pathlib import Path

from log.basics.errors import InputError
from log.facts.events import Fact
from log.facts.record import fold
from log.store import case as store
from log.store.journal import journal_of
from log.store.own_heads import memory_path
from log.store.verify import verify
from tests.bench.fuzzing.mutation import Given, Target, bytewise
from tests.case_file import at, body, logged, opened

ENTRIES = 40
STATES = ("old", "same", "new")
"""Of the file beside the journal."""


def one(number: int) -> Fact:
    """An entry at the end of the case."""
    return logged(number, 30 + number % 10).model_copy(update={"logged_at": at(5), "said_at": at(4.5)})


@cache
def killed() -> tuple[dict[str, bytes], bytes, tuple[Fact, ...]]:
    """A case's file at three moments, the journal of the second, and all its facts."""
    states: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as name:
        with store.create(Path(name), opened()) as case:
            there: list[Fact] = list(case.facts())
            journal = b""
            for number, fact in enumerate([*body()[:2], *(one(n) for n in range(3, ENTRIES))], start=1):
                there.append(fact)
                case.append([fact], fold(there).summary)
                if number in (8, 20, ENTRIES - 2):
                    journal = journal_of(case.path).read_bytes() if number > 20 else journal
                    case.fold_in()
                    states[STATES[len(states)]] = case.path.read_bytes()
        return states, journal, tuple(there)


def journal(rng: random.Random) -> Given:
    """The journal, cut or spoilt; its name says beside which file it is put."""
    _, whole, _ = killed()
    spoilt = whole[: rng.randrange(len(whole))] if rng.random() < 0.5 else bytewise(rng, whole)
    return Given(f"{rng.choice(STATES)}.case-wal", spoilt if rng.random() < 0.95 else whole)


def use_journal(path: Path, folder: Path) -> None:
    """Reads, verifies and goes on with the case that it lies beside."""
    states, _, whole = killed()
    with tempfile.TemporaryDirectory(dir=folder) as name:
        case = Path(name) / "case.case"
        case.write_bytes(states[path.name.partition(".")[0]])
        alone = len(store.read(case.parent, "case").facts)
        journal_of(case).write_bytes(path.read_bytes())
        memory_path().unlink(missing_ok=True)
        there = _read(case)
        assert there == whole[: len(there)], "a state that never was"
        assert len(there) >= alone, "less than the file alone holds"
        assert not verify(case).problems, "it does not verify"
        with store.resume(case.parent, "case") as going_on:
            going_on.append([one(len(there))], fold([*there, one(len(there))]).summary)
        assert len(_read(case)) == len(there) + 1, "what was added is not there"


def _read(case: Path) -> tuple[Fact, ...]:
    try:
        return store.read(case.parent, "case").facts
    except InputError as error:
        assert "set-aside" in str(error), str(error)
    return store.read(case.parent, "case").facts


TARGETS = (Target("journal", 2, journal, use_journal),)
