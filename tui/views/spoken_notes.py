"""Spoken notes as the room has to see them: above all whether entries are heard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from log.facts.note_taking import LONGEST_STRETCH, announces
from log.facts.record import Record
from log.facts.spoken_notes import spoken_note, spoken_notes

TOLD_FOR = timedelta(seconds=20)
"""How long the end of a spoken note stays on the screen."""


@dataclass(frozen=True, slots=True)
class NotesAtAGlance:
    """How things stand with spoken notes."""

    text: str
    now: bool
    """Whether it changes what the room may say now: a note is taken, has just ended, or is not taken."""
    seconds: int | None = None
    """While a note is taken: for how long it is kept, or may still begin."""
    of: str = ""
    """What these seconds are: "s kept", "s left"."""


def notes_at_a_glance(record: Record, now: datetime, hearing: bool = False) -> NotesAtAGlance | None:
    """The state of spoken notes for the room: above all whether entries are heard."""
    taking = record.taking
    if taking is None or now > taking.until + TOLD_FOR + LONGEST_STRETCH:
        return _waiting(record)
    note = spoken_note(record, taking.number)
    seconds = note.seconds if note else 0
    if now <= taking.until or (hearing and now <= taking.until + LONGEST_STRETCH):
        left = max(0, round((taking.until - now).total_seconds()))
        kept = f"{seconds:.0f} s kept, silence ends it" if seconds else f"speak now, {left} s left"
        text = f"TAKING A NOTE: {kept}. Nothing said now becomes an entry."
        return NotesAtAGlance(text, True, round(seconds) or left, "s kept" if seconds else "s left")
    ended = f"NOTE ENDED: {seconds:.0f} s kept (line {taking.number}). Entries are heard again."
    return NotesAtAGlance(ended, True)


def _waiting(record: Record) -> NotesAtAGlance | None:
    if not record.dictated:
        none = no_note(record)
        return NotesAtAGlance(none, True) if none else None
    numbers = [str(note.line.number) for note in spoken_notes(record) if note.to_be_transcribed]
    return NotesAtAGlance(f"Spoken notes to be transcribed: line {', '.join(numbers)} (h)", False) if numbers else None


def no_note(record: Record) -> str:
    """The message where a note was announced last, in a case that keeps no sound."""
    last = record.lines[-1] if record.lines else None
    if last is None or not announces(last.entry) or last.status != "stands" or keeps_sound(record):
        return ""
    return "NO NOTE IS TAKEN: this case keeps no sound. Entries are heard; have the scribe type the note (t)."


def keeps_sound(record: Record) -> bool:
    """Whether any sound stays with the case."""
    return record.opened is not None and record.opened.keep_sound != "none"
