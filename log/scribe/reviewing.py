"""A difference of the second hearing is taken or left by hand. Whoever takes it amends, strikes, enters late or
transcribes in the same way as without a second hearing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from log.basics.entry import Entry
from log.basics.errors import InputError
from log.facts.events import AboutALine, DifferenceHeard, DifferenceReviewed, Fact, SpokenNoteWritten
from log.facts.record import Record
from log.facts.second_hearing import waiting
from log.scribe.correct import LONGEST_NOTE, Correction, amend, enter_late, explained, strike, transcribe

Change = AboutALine | SpokenNoteWritten

TAKEN = "heard again"
"""The reason that stands in the log where none is given."""


def take(record: Record, difference: int, by: Correction, entry: Entry | None = None) -> tuple[Fact, ...]:
    """The change that the difference asks for, then that it was taken. `entry`: another one than was heard;
    `by.typed`: the words of a draft as they should be. Raises InputError."""
    one = _waiting(record, difference)
    by = replace(by, reason=by.reason or TAKEN)
    explained(by)
    words = (by.typed or one.text) if one.differs == "words" else ""
    if len(words) > LONGEST_NOTE:
        raise InputError(f"a draft has at most {LONGEST_NOTE} characters", "shorten it")
    change = _change(record, one, entry or one.entry, words, replace(by, typed=by.typed or one.origin.heard))
    number = one.number if change is None else change.number
    taken = _reviewed(one, by, number, taken=True, text=words)
    return (taken,) if change is None else (change, taken)


def leave(record: Record, difference: int, by: Correction) -> Fact:
    """The log stays as it is. Raises InputError for a difference that does not wait."""
    explained(by)
    one = _waiting(record, difference)
    return _reviewed(one, by, one.number, taken=False)


def _reviewed(
    one: DifferenceHeard, by: Correction, number: int | None, taken: bool, text: str = ""
) -> DifferenceReviewed:
    return DifferenceReviewed(
        logged_at=by.at,
        difference=one.difference,
        taken=taken,
        number=number,
        text=text,
        reason=by.reason,
        author=by.author,
    )


def _change(record: Record, one: DifferenceHeard, entry: Entry | None, words: str, by: Correction) -> Change | None:
    """The fact that changes the log; None for words that belong to no line: the review holds them."""
    if one.differs == "words":
        return transcribe(record, one.number, words, by.author, by.at) if one.number is not None else None
    if entry is None:
        return strike(record, one.number or 0, by)
    if one.number is None:
        return enter_late(record, entry, one.said_at, by)
    return amend(record, one.number, entry, None, by)


def _waiting(record: Record, difference: int) -> DifferenceHeard:
    waits = waiting(record)
    found = next((one for one in waits if one.difference == difference), None)
    if found is None:
        remedy = f"these wait: {', '.join(_numbers(waits))}" if waits else "none waits"
        raise InputError(f"no difference {difference} of the second hearing waits", remedy)
    return found


def _numbers(waits: tuple[DifferenceHeard, ...]) -> Iterator[str]:
    return (str(one.difference) for one in waits)
