"""A line of the log in a document, the same in note, page and narrative: what it says with what was struck of it, and
the marks it bears: what was asked, every correction, a late entry.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.exports.document import Run, Strong, Struck, Words
from log.facts.line import Change, Line
from log.summaries.whole import Whole
from log.words.wording import (
    candidates,
    heard,
    is_without_date,
    room_time,
    sentence,
    shown,
    stamp,
    stamp_beside,
)

OPEN = Strong("NOT CONFIRMED - counts in no total")


def entry(procedure: Procedure, line: Line) -> Words:
    """The entry of a line; earlier versions are struck through."""
    if line.status == "asked":
        return OPEN, f": {candidates(procedure, line)}"
    before = [c.before for c in line.changes if c.what in ("amended", "undone") and c.before != c.after]
    if line.status == "struck":
        if unconfirmed(line):
            return Struck(candidates(procedure, line))
        return _spaced(*(Struck(sentence(procedure, entry)) for entry in (*before, line.entry)))
    if before and all(_only_the_value_differs(entry, line.entry) for entry in before):
        return _revalued(procedure, before, line.entry)
    return _spaced(*(Struck(sentence(procedure, entry)) for entry in before), sentence(procedure, line.entry))


def unconfirmed(line: Line) -> bool:
    """True if nobody ever said which of the candidates was meant: such a line has no value."""
    return line.status == "asked" or (line.status == "struck" and line.never_answered)


def _only_the_value_differs(one: Entry, other: Entry) -> bool:
    return one.model_copy(update={"value": other.value}) == other


def _revalued(procedure: Procedure, before: Sequence[Entry], entry: Entry) -> Words:
    """ "gastric volume in ~~50 mL~~ 60 mL"."""
    bare = entry.model_copy(update=dict.fromkeys(("value", "unit", "detail", "second", "second_unit")))
    detail = f"({entry.detail})" if entry.detail else ""
    return _spaced(sentence(procedure, bare), *(Struck(shown(old)) for old in before), shown(entry), detail)


def _spaced(*texts: str | Struck) -> Words:
    known = [text for text in texts if (text if isinstance(text, str) else text.text)]
    spaced: list[Run] = [run for text in known for run in (text, " ")]
    return tuple(spaced[:-1])


def marks(procedure: Procedure, line: Line) -> Iterator[Words]:
    """The question, each change with its time and reason, and the mark of a late entry."""
    if line.candidates:
        yield f"asked: {candidates(procedure, line)} ({line.reason})"
    for change in line.changes:
        yield _change(procedure, line, change)
    if line.late_by is not None:
        why = f": {line.late_reason}" if line.late_reason else ""
        yield Strong("late entry"), f", written down {stamp_beside(line.logged_at, line.said_at)}{why}"


def _change(procedure: Procedure, line: Line, change: Change) -> str:
    says_anew = change.what == "answered" or (change.what == "undone" and change.before != change.after)
    answer = f": {sentence(procedure, change.after)}" if says_anew else ""
    if change.what == "restored":
        return f"put back: {sentence(procedure, change.after)}"
    moved = f", time was {stamp_beside(change.moved_from, line.said_at)}" if change.moved_from else ""
    reason = f", {change.reason}" if change.reason else ""
    return f"{change.what} {stamp_beside(change.at, line.said_at)}{answer}{moved}{reason} ({heard(change.origin)})"


def reading(case: Whole, line: Line) -> str:
    """ "35 mmHg at 14:17:20 (line 20)"."""
    return f"{shown(line.entry)} at {place(case, line)}"


def place(case: Whole, line: Line) -> str:
    """ "14:17:20 (line 20)"."""
    return f"{in_the_room(case, line.said_at)} (line {line.number})"


def in_the_room(case: Whole, moment: datetime) -> str:
    """A time as the room's clock showed it; `zone` says once which day and zone that is."""
    return room_time(moment, case.opened.logged_at)


def zone(case: Whole) -> str:
    """The day and zone of the times that stand without them."""
    opened = case.opened.logged_at
    if is_without_date(opened):
        return "Times count from the opening of the log."
    day, offset = stamp(opened)[:10], stamp(opened)[19:]
    return f"Times are the room's own, UTC{offset}, on {day}; another day stands before its times."


def changed(procedure: Procedure, line: Line, change: Change) -> str:
    """A change in words: "struck: x-ray not confirmed", "gastric pressure 60 mmHg -> gastric pressure 35 mmHg"."""
    if change.what == "answered":
        return f"confirmed when asked: {sentence(procedure, change.after)}"
    if change.what == "struck":
        asked = line.candidates and line.changes[0] is change
        return f"struck: {candidates(procedure, line) if asked else sentence(procedure, change.before)}"
    if change.what == "restored":
        return f"put back: {sentence(procedure, change.after)}"
    moved = f", time was {stamp_beside(change.moved_from, line.said_at)}" if change.moved_from else ""
    after = sentence(procedure, change.after)
    before = "" if change.before == change.after else f"{sentence(procedure, change.before)} -> "
    return f"{'undone: ' if change.what == 'undone' else ''}{before}{after}{moved}"
