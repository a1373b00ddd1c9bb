"""What every screen shows beside the tube, in words: what came out and was given, and whether a note is being taken.
Pure, as what it stands beside (tui/views/bedside.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from log.facts.note_taking import LONGEST_STRETCH, announces
from log.facts.record import Record
from log.facts.spoken_notes import spoken_note, spoken_notes
from log.rules.course import Course
from log.state.fluid_balance import balances, given, infusions, vitals
from log.words.totals import amount, balance_told
from log.words.wording import shown

TOLD_FOR = timedelta(seconds=20)
"""How long it is told that a spoken note has ended."""


def sums(course: Course, now: datetime) -> Iterator[tuple[str, str]]:
    """What came out by port, what was given, what runs in, and the last vital signs: what, and how much."""
    steps, end = course.steps, course.end.situation
    out = [f"{balance.port or 'port not said'} {balance_told(balance)}" for balance in balances(steps, now)]
    in_all = [
        f"{each.name} {amount(each.amount, each.unit)}"
        for kind in ("blood_product", "fluid")
        for each in given(steps, end, kind)
    ]
    running = [infusion.name for infusion in infusions(steps) if infusion.stopped is None]
    read = [f"{sign.name} {shown(sign.last.entry)} ({sign.last.said_at:%H:%M})" for sign in vitals(steps)]
    for what, texts in (("out", out), ("given", in_all), ("running", running), ("vital signs", read)):
        if texts:
            yield what, ", ".join(texts) if what == "running" else "; ".join(texts)


def note_told(record: Record, now: datetime, hearing: bool = False) -> str:
    """What the room has to know of spoken notes: above all whether entries are heard."""
    taking = record.taking
    if taking is None or now > taking.until + TOLD_FOR + LONGEST_STRETCH:
        return _waiting(record)
    note = spoken_note(record, taking.number)
    seconds = note.seconds if note else 0
    if now <= taking.until or (hearing and now <= taking.until + LONGEST_STRETCH):
        left = max(0, round((taking.until - now).total_seconds()))
        kept = f"{seconds:.0f} s kept, silence ends it" if seconds else f"speak now, {left} s left"
        return f"TAKING A NOTE: {kept}. Nothing said now becomes an entry."
    return f"NOTE ENDED: {seconds:.0f} s kept (line {taking.number}). Entries are heard again."


def _waiting(record: Record) -> str:
    if not record.dictated:
        return no_note(record)
    numbers = [str(note.line.number) for note in spoken_notes(record) if note.to_be_written_out]
    return f"Spoken notes to be written out: line {', '.join(numbers)} (w)" if numbers else ""


def no_note(record: Record) -> str:
    """What is said where a note was announced last, in a case that keeps no sound."""
    last = record.lines[-1] if record.lines else None
    if last is None or not announces(last.entry) or last.status != "stands" or keeps_sound(record):
        return ""
    return "NO NOTE IS TAKEN: this case keeps no sound. Entries are heard; have the scribe type the note (t)."


def keeps_sound(record: Record) -> bool:
    """Whether any sound stays with the case."""
    return record.opened is not None and record.opened.keep_sound != "none"
