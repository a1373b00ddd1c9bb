"""When a spoken note is being taken: that follows from the facts alone. With sound it is tested in
tests/tui/live/test_spoken_notes.py.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from log.basics.entry import Entry, NotUnderstood, Question, Understood
from log.definition.load import shipped
from log.facts.events import CaseClosed, EntryAmended, EntryLogged, EntryStruck, Fact, SpokenNoteKept
from log.facts.note_taking import (
    BEGINS_WITHIN,
    GOES_ON_WITHIN,
    LASTS_AT_MOST,
    Taking,
    announces,
    taking_after,
)
from log.facts.origin import Origin, Sound
from log.facts.spoken_notes import cries_out, ends_it
from tests import cases

BEGAN = datetime(2026, 10, 4, 14, 0, tzinfo=UTC)
NOTE = Entry(kind="note", value="follows")
TUBE = Entry(kind="tube", value="in")
UNDO = Entry(kind="undo")
CUT = Entry(kind="emergency", value="cut")


def at(second: float) -> datetime:
    return BEGAN + timedelta(seconds=second)


def voice(seconds: float = 0) -> Origin:
    return Origin(sound=Sound(sha256="0" * 64, seconds=seconds) if seconds else None)


def logged(entry: Entry, second: float, number: int = 1, origin: Origin | None = None, late: str = "") -> EntryLogged:
    origin = origin or voice()
    return EntryLogged(
        logged_at=at(second), number=number, entry=entry, said_at=at(second), origin=origin, late_reason=late
    )


def kept(second: float, seconds: float, number: int = 1) -> SpokenNoteKept:
    return SpokenNoteKept(logged_at=at(second), number=number, said_at=at(second), origin=voice(seconds))


def after(*facts: Fact, keeps_sound: bool = True) -> Taking | None:
    taking: Taking | None = None
    for fact in facts:
        taking = taking_after(taking, fact, keeps_sound)
    return taking


def test_it_has_to_begin_soon_after_the_announcement_is_over() -> None:
    taking = after(logged(NOTE, 10, origin=voice(1.5)))
    assert taking is not None and taking.until == at(11.5) + BEGINS_WITHIN


def test_each_stretch_leaves_a_pause_and_the_whole_has_an_end() -> None:
    taking = after(logged(NOTE, 10), kept(14, 6))
    assert taking is not None and taking.until == at(20) + GOES_ON_WITHIN
    taking = after(logged(NOTE, 10), *(kept(14 + 12 * n, 11) for n in range(5)))
    assert taking is not None and taking.until == at(10) + LASTS_AT_MOST


@pytest.mark.parametrize(
    "fact",
    [
        CaseClosed(logged_at=at(20), reason="ended"),
        EntryStruck(logged_at=at(20), number=1, said_at=at(20), reason="struck", origin=Origin()),
        EntryAmended(logged_at=at(20), number=1, entry=TUBE, said_at=at(20), reason="wrong", origin=Origin()),
        logged(CUT, 20, 2),
        logged(CUT, 20, 2, Origin(by="typed")),  # by its key
    ],
)
def test_what_ends_it(fact: Fact) -> None:
    assert after(logged(NOTE, 10), fact) is None


@pytest.mark.parametrize(
    "fact",
    [
        logged(TUBE, 10, 2),  # of the same breath
        logged(TUBE, 20, 2, Origin(by="typed")),
        EntryStruck(logged_at=at(20), number=2, said_at=at(20), reason="struck", origin=Origin()),
        kept(14, 6, number=7),
    ],
)
def test_what_does_not(fact: Fact) -> None:
    assert after(logged(NOTE, 10), fact) == after(logged(NOTE, 10))


@pytest.mark.parametrize(
    "fact",
    [logged(TUBE, 10), logged(NOTE, 10, origin=Origin(by="typed")), logged(NOTE, 10, late="both hands were busy")],
)
def test_what_begins_none(fact: Fact) -> None:
    assert after(fact) is None


def test_none_is_taken_where_no_sound_is_kept() -> None:
    assert after(logged(NOTE, 10), keeps_sound=False) is None


def test_only_scratch_that_alone_and_beyond_doubt_strikes_it() -> None:
    assert ends_it(Understood(items=(UNDO,)))
    doubtful = Question(candidates=(UNDO,), why="indistinct", text="unclear")
    for items in ((UNDO, TUBE), (doubtful,), (TUBE,)):
        assert not ends_it(Understood(items=items))
    assert not ends_it(NotUnderstood(heard="scratch that please"))


@pytest.mark.parametrize("name", shipped())
def test_every_shipped_definition_has_the_announcement_and_the_cries(name: str) -> None:
    procedure = cases.procedure(name)
    (say,) = (say for kind in procedure.kind if kind.id == "note" for say in kind.say)
    assert announces(Entry(kind="note", value=say.value))
    assert cries_out(procedure, Understood(items=(CUT,)))
    assert cries_out(procedure, Understood(items=(Question(candidates=(CUT,), why="indistinct", text="unclear"),)))
    assert not cries_out(procedure, Understood(items=(TUBE, NOTE)))
    assert not cries_out(procedure, NotUnderstood(heard="cut"))
