"""Corrections by hand: strike, amend, answer, enter late. Each is a fact with its author, its time and its reason;
what stood there before stays in the record.

Sources of what is asked of a correction: CMS Program Integrity Manual, chapter 3, 3.3.2.5 (marked as such, dated, by
whom, original readable); 21 CFR 11.10(e) (a change must not hide what was recorded before).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from log.basics.entry import Entry
from log.basics.errors import InputError
from log.basics.patterns import LEVELS
from log.facts.act import Act
from log.facts.events import (
    AcknowledgementUndone,
    ChangeUndone,
    EntryAmended,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    FindingAcknowledged,
    FindingRaised,
    NoteWritten,
    QuestionAnswered,
    ReviewUndone,
    SpokenNoteWritten,
)
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.facts.spoken_notes import spoken_note

LONGEST_NOTE = 4000


@dataclass(frozen=True, slots=True)
class Correction:
    """Who corrects, when, and why."""

    author: str
    reason: str
    at: datetime
    typed: str = ""
    """The words of the new entry, as typed."""

    @property
    def origin(self) -> Origin:
        """Where the words come from."""
        return Origin(by="typed", author=self.author, heard=self.typed)


def strike(record: Record, number: int, by: Correction) -> EntryStruck:
    """A line is struck through. Raises InputError if it is not there or struck already."""
    _changeable(record, number, by)
    return EntryStruck(logged_at=by.at, number=number, said_at=by.at, reason=by.reason, origin=by.origin)


def amend(
    record: Record, number: int, entry: Entry | None, happened_at: datetime | None, by: Correction
) -> EntryAmended | QuestionAnswered:
    """A line gets another value, another time, or both; an open question is answered with it.

    Raises InputError if the line is not there or struck, if nothing would change, or for a time that has not come yet.
    """
    line = _changeable(record, number, by)
    new = entry or line.entry
    _not_in_the_future(happened_at, by)
    if line.status == "asked":
        if entry is None:
            raise InputError(f"line {number} is an open question", "say what was meant before its time is corrected")
        if happened_at is not None:
            raise InputError(f"line {number} is an open question", "answer it first, then correct its time")
        return QuestionAnswered(logged_at=by.at, number=number, entry=new, said_at=by.at, origin=by.origin)
    if new == line.entry and happened_at in (None, line.said_at):
        raise InputError(f"line {number} says that already", "give another value or time")
    return EntryAmended(
        logged_at=by.at,
        number=number,
        entry=new,
        said_at=by.at,
        reason=by.reason,
        origin=by.origin,
        happened_at=happened_at,
    )


def enter_late(record: Record, entry: Entry, happened_at: datetime, by: Correction) -> EntryLogged:
    """Something that happened earlier and was not logged then. Raises InputError for a time that has not come yet."""
    explained(by)
    _not_in_the_future(happened_at, by)
    return EntryLogged(
        logged_at=by.at,
        number=record.next_number,
        entry=entry,
        said_at=happened_at,
        origin=by.origin,
        late_reason=by.reason,
    )


def acknowledge(record: Record, found: FindingRaised, by: Correction) -> Fact:
    """A finding was seen, and may stand for a reason. Raises InputError if it is not open."""
    explained(by)
    if found not in record.open_findings:
        raise InputError("this finding is no longer open", "nothing has to be done about it")
    return FindingAcknowledged(
        logged_at=by.at,
        rule=found.rule,
        number=found.number,
        message=found.message,
        reason=by.reason,
        author=by.author,
    )


def to_be_acknowledged(record: Record, number: int | None = None) -> FindingRaised | None:
    """The most urgent finding that nobody has acknowledged, of this line if one is given; None if none waits."""
    waiting = (
        found for found in record.open_findings if not record.acknowledged(found) and number in (None, found.number)
    )
    return min(waiting, key=lambda found: (LEVELS.index(found.level), found.number or 0), default=None)


def last_act(record: Record) -> Act | None:
    """The act to be taken back now; None if nothing can be. An acknowledgement can as long as its finding is open."""
    waiting = {(found.number, found.rule, found.message) for found in record.open_findings}

    def matters(act: Act) -> bool:
        return act.what != "acknowledged" or (act.number, act.rule, act.message) in waiting

    return next(filter(matters, reversed(record.acts)), None)


def undo(record: Record, by: Correction) -> Fact:
    """Takes back what was done last; both stay readable. Raises InputError if there is nothing."""
    explained(by)
    act = last_act(record)
    if act is None:
        raise InputError("nothing was changed by hand", "there is nothing to put back")
    return undone(act, by.at, by.at, by.reason, by.origin)


def undone(act: Act, logged_at: datetime, said_at: datetime, reason: str, origin: Origin) -> Fact:
    """The fact that takes an act back."""
    if act.difference is not None and act.number is None:
        return ReviewUndone(logged_at=logged_at, difference=act.difference, reason=reason, author=origin.author)
    if act.number is None or act.what == "acknowledged":
        return AcknowledgementUndone(
            logged_at=logged_at,
            rule=act.rule,
            number=act.number,
            message=act.message,
            reason=reason,
            author=origin.author,
        )
    kind = EntryRestored if act.what == "struck" else ChangeUndone
    return kind(logged_at=logged_at, number=act.number, said_at=said_at, reason=reason, origin=origin)


def note(record: Record, text: str, about: int | None, author: str, at: datetime) -> Fact:
    """Free words about a line, or about this moment. Raises InputError for no words or a line that is not there."""
    if not text.strip() or not author.strip():
        raise InputError("a note has to have words and an author", "fill in both")
    if len(text) > LONGEST_NOTE:
        raise InputError(f"a note has at most {LONGEST_NOTE} characters", "write two")
    try:
        said_at = record.line(about).said_at if about is not None else at
    except IndexError as error:
        raise InputError(str(error), "leave the line empty for this moment") from None
    return NoteWritten(logged_at=at, text=text, number=about, said_at=said_at, author=author)


def transcribe(record: Record, number: int, text: str, author: str, at: datetime) -> SpokenNoteWritten:
    """The words of a spoken note. Raises InputError for no words, or a line that announced none that was kept."""
    if not text.strip() or not author.strip():
        raise InputError("a spoken note is transcribed with its words and an author", "fill in both")
    if len(text) > LONGEST_NOTE:
        raise InputError(f"a note has at most {LONGEST_NOTE} characters", "write the rest as a note of its own")
    known = spoken_note(record, number)
    if known is None or not known.kept:
        raise InputError(f"line {number} has no spoken note", "choose the line of one")
    return SpokenNoteWritten(logged_at=at, number=number, text=text, author=author)


def _changeable(record: Record, number: int, by: Correction) -> Line:
    explained(by)
    try:
        line = record.line(number)
    except IndexError as error:
        raise InputError(str(error), f"it has lines 1 to {len(record.lines)}" if record.lines else "") from None
    if line.status == "struck":
        raise InputError(f"line {number} is struck already", "enter it anew as a late entry")
    return line


def explained(by: Correction) -> None:
    """Raises InputError for a correction without an author or a reason."""
    for what, text in (("author", by.author), ("reason", by.reason)):
        if not text.strip():
            article = "an" if what == "author" else "a"
            raise InputError(f"a correction needs {article} {what}", f"give it with --{what}")


def _not_in_the_future(happened_at: datetime | None, by: Correction) -> None:
    if happened_at is not None and happened_at > by.at:
        raise InputError(
            f"{happened_at.isoformat(sep=' ', timespec='seconds')} has not come yet", "check date and time"
        )
