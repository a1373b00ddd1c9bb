"""Spoken notes: "log take a note", and what is said next is kept whole as sound, whatever the engines make of it, for
somebody to write out later. While one is taken nothing that is said becomes an entry; so it is short, its end follows
from the facts alone, and a cry for help breaks through.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from log.basics.entry import Entry, Meaning, NotUnderstood, Question
from log.definition.procedure import Procedure
from log.facts.events import (
    CaseClosed,
    CaseResumed,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    Origin,
    QuestionAnswered,
    SpokenNoteKept,
    SpokenNoteWritten,
)

if TYPE_CHECKING:
    from log.facts.record import Line, Record

KIND, FOLLOWS = "note", "follows"
"""The entry that announces one: its kind and value."""

EMERGENCY = "emergency"
"""The kind of entry that ends every note, whoever logs it."""

BEGINS_WITHIN = timedelta(seconds=15)
"""After the announcement the note has to begin; our choice, as are the next two."""

GOES_ON_WITHIN = timedelta(seconds=3)
"""A pause that is longer ends it."""

LASTS_AT_MOST = timedelta(seconds=60)
"""From the announcement on: in a room that never falls silent, entries must not be lost to a note for ever."""


LONGEST_STRETCH = timedelta(seconds=12)
"""Of speech in one piece (voice/sound/endpoint.py): a note that goes on is known only when the piece is over."""


@dataclass(frozen=True, slots=True)
class Taking:
    """A note that is being taken, or was the last to be."""

    number: int
    """Of the line that announced it."""
    begun_at: datetime
    until: datetime
    """What begins to be said until then belongs to it."""


@dataclass(frozen=True, slots=True)
class SpokenNote:
    """One spoken note with what became of it."""

    line: Line
    kept: tuple[SpokenNoteKept, ...]
    written: SpokenNoteWritten | None
    """The words of the last who wrote it out."""

    @property
    def seconds(self) -> float:
        """How long its sound is."""
        return sum(part.origin.sound.seconds for part in self.kept if part.origin.sound)

    @property
    def to_be_written_out(self) -> bool:
        """Whether there is sound that nobody has put into words."""
        return bool(self.kept) and self.written is None and self.line.status != "struck"

    @property
    def told(self) -> str:
        """In a few words: "spoken note, 6 s, to be written out"."""
        if not self.kept:
            return "spoken note: nothing was kept of it"
        words = f'written out: "{self.written.text}"' if self.written else "to be written out"
        return f"spoken note, {self.seconds:.0f} s, {words}"


def taking_after(taking: Taking | None, fact: Fact, keeps_sound: bool) -> Taking | None:
    """The note that is being taken after one more fact. Where no sound is kept, none ever is."""
    match fact:
        case CaseResumed() | CaseClosed():
            return None
        case EntryLogged() | QuestionAnswered() if _announces(fact) and keeps_sound:
            until = fact.said_at + _length(fact.origin) + BEGINS_WITHIN
            return Taking(fact.number, fact.said_at, until)
        case SpokenNoteKept() if taking is not None and taking.number == fact.number:
            until = fact.said_at + _length(fact.origin) + GOES_ON_WITHIN
            return replace(taking, until=min(until, taking.begun_at + LASTS_AT_MOST))
        case EntryLogged() | EntryAsked() if fact.origin.by == "voice" and taking and fact.said_at > taking.begun_at:
            return None  # a cry for help
        case EntryLogged() if fact.entry.kind == EMERGENCY and not fact.late_reason:
            return None  # by its key
        case EntryStruck() | EntryAmended() if taking is not None and taking.number == fact.number:
            return None
        case _:
            return taking


def _announces(fact: EntryLogged | QuestionAnswered) -> bool:
    late = isinstance(fact, EntryLogged) and fact.late_reason
    return announces(fact.entry) and fact.origin.by == "voice" and not late


def announces(entry: Entry) -> bool:
    """Whether this entry says that a note follows."""
    return entry.kind == KIND and entry.value == FOLLOWS


def _length(origin: Origin) -> timedelta:
    return timedelta(seconds=origin.sound.seconds if origin.sound else 0)


def ends_it(meaning: Meaning) -> bool:
    """Whether "scratch that" was said beyond doubt, and nothing else: it strikes the note that is being taken."""
    if isinstance(meaning, NotUnderstood) or len(meaning.items) != 1:
        return False
    (item,) = meaning.items
    return isinstance(item, Entry) and item.kind == "undo"


def cries_out(procedure: Procedure, meaning: Meaning) -> bool:
    """Whether something was said of a kind that may be said without the lead word, for nobody has time for one."""
    if isinstance(meaning, NotUnderstood):
        return False
    said = (item.candidates[0] if isinstance(item, Question) else item for item in meaning.items)
    kinds = (procedure.kind_named(entry.kind) for entry in said)
    return any(say.urgent for kind in kinds if kind is not None for say in kind.say)


def spoken_notes(record: Record) -> Iterator[SpokenNote]:
    """Each spoken note, struck ones too, in the order in which they were announced."""
    kept: dict[int, list[SpokenNoteKept]] = {}
    for part in record.dictated:
        kept.setdefault(part.number, []).append(part)
    for line in record.lines:
        if line.number in kept or (announces(line.entry) and line.status != "asked"):
            yield SpokenNote(line, tuple(kept.get(line.number, ())), record.written_out.get(line.number))


def spoken_note(record: Record, number: int) -> SpokenNote | None:
    """The spoken note that this line announced."""
    return next((note for note in spoken_notes(record) if note.line.number == number), None)
