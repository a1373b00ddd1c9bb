"""The time in which a spoken note is taken: it is short, its end follows from the facts alone, and a cry for help ends
it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from log.basics.entry import Entry
from log.facts.events import (
    CaseClosed,
    CaseResumed,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    QuestionAnswered,
    SpokenNoteKept,
)
from log.facts.origin import Origin

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
"""Longest speech in one piece: longer speech is cut, and a note that goes on is known only when its piece is over."""


@dataclass(frozen=True, slots=True)
class Taking:
    """A note that is being taken, or was the last to be."""

    number: int
    """Number of the line that announced it."""
    begun_at: datetime
    until: datetime
    """Speech that begins until then belongs to it."""


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
