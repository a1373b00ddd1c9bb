"""Spoken notes: "log take a note", and what is said next is kept whole as sound, whatever the engines make of it, for
somebody to transcribe later. While one is taken (log/facts/note_taking.py) nothing that is said becomes an entry.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from log.basics.entry import Entry, Meaning, NotUnderstood, entries
from log.definition.procedure import Procedure
from log.facts.events import SpokenNoteKept, SpokenNoteWritten
from log.facts.line import Line
from log.facts.note_taking import announces
from log.facts.record import Record


@dataclass(frozen=True, slots=True)
class SpokenNote:
    """One spoken note with what became of it."""

    line: Line
    kept: tuple[SpokenNoteKept, ...]
    written: SpokenNoteWritten | None
    """The words of the last who wrote it out."""

    @property
    def seconds(self) -> float:
        """Length of its sound."""
        return sum(part.origin.sound.seconds for part in self.kept if part.origin.sound)

    @property
    def to_be_transcribed(self) -> bool:
        """Whether there is sound that nobody has put into words."""
        return bool(self.kept) and self.written is None and self.line.status != "struck"

    @property
    def in_words(self) -> str:
        """In a few words: "spoken note, 6 s, to be transcribed"."""
        if not self.kept:
            return "spoken note: nothing was kept of it"
        words = f'transcribed: "{self.written.text}"' if self.written else "to be transcribed"
        return f"spoken note, {self.seconds:.0f} s, {words}"


def ends_it(meaning: Meaning) -> bool:
    """Whether "scratch that" was said beyond doubt, and nothing else: it strikes the note that is being taken."""
    if isinstance(meaning, NotUnderstood) or len(meaning.items) != 1:
        return False
    (item,) = meaning.items
    return isinstance(item, Entry) and item.kind == "undo"


def cries_out(procedure: Procedure, meaning: Meaning) -> bool:
    """Whether something was said of a kind that may be said without the lead word, for nobody has time for one."""
    kinds = (procedure.kind_named(entry.kind) for entry in entries(meaning))
    return any(say.urgent for kind in kinds if kind is not None for say in kind.say)


def spoken_notes(record: Record) -> Iterator[SpokenNote]:
    """Each spoken note, struck ones too, in the order in which they were announced."""
    kept: dict[int, list[SpokenNoteKept]] = {}
    for part in record.dictated:
        kept.setdefault(part.number, []).append(part)
    for line in record.lines:
        if line.number in kept or (announces(line.entry) and line.status != "asked"):
            yield SpokenNote(line, tuple(kept.get(line.number, ())), record.transcribed.get(line.number))


def spoken_note(record: Record, number: int) -> SpokenNote | None:
    """The spoken note that this line announced."""
    return next((note for note in spoken_notes(record) if note.line.number == number), None)
