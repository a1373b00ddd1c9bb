"""The one thing that everybody in the room has to see now. Pure: screens and pages only draw it, as large as they can.

The order: an emergency, an open question, words that were not logged, no sound or no saving, a pause, a HIGH finding
that nobody has acknowledged, the last entry. Where nothing is heard, that comes before words that were not logged: to
say them again would not help. In the watch the last entry gives way to what is overdue, due next, and the pressures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from log.facts.record import Record
from log.rules.course import Course
from log.words.wording import figure
from tui.views.bedside import FindingAtAGlance, findings
from tui.views.emergency import EmergencyAtAGlance
from tui.views.last_entry import LastEntry, last_entry
from tui.views.spoken_notes import notes_at_a_glance
from tui.views.watch import Attending, DueAtAGlance

FRESH = timedelta(seconds=30)
"""For which an entry that was just made is read back in the watch."""

No = Literal["NO SOUND", "NOT SAVING", "NOT LISTENING"]


@dataclass(frozen=True, slots=True)
class Emergency:
    """The tube blocks the airway, or is cut."""

    now: EmergencyAtAGlance
    hero: Literal["emergency"] = "emergency"


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A line that waits for an answer: its readings, and the words to say."""

    last: LastEntry
    missed: str = ""
    hero: Literal["question"] = "question"

    @property
    def asks(self) -> str:
        """The readings as one question: "15 or 50 ?"."""
        return f"{' or '.join(self.last.readings)} ?"


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Words that were meant for the log and are not in it."""

    missed: str
    before: LastEntry | None
    hero: Literal["not understood"] = "not understood"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Whatever is said now is lost, or not kept."""

    what: No
    why: str
    before: LastEntry | None = None
    missed: str = ""
    hero: Literal["trouble"] = "trouble"

    @property
    def deaf(self) -> bool:
        """Whether nothing that is said now is heard."""
        return self.what != "NOT SAVING"


@dataclass(frozen=True, slots=True)
class Paused:
    """Somebody wants nothing to be heard."""

    why: str
    before: LastEntry | None = None
    hero: Literal["paused"] = "paused"


@dataclass(frozen=True, slots=True)
class NewHigh:
    """A finding of high priority that is open and that nobody has acknowledged; the newest of them."""

    found: FindingAtAGlance
    others: int
    """How many more of high priority wait."""
    last: LastEntry | None
    """The last entry, which is still read back."""
    hero: Literal["high"] = "high"

    @property
    def of_the_last(self) -> bool:
        """Whether the entry that is read back is the one that raised it."""
        return self.last is not None and self.last.number == self.found.line


@dataclass(frozen=True, slots=True)
class Reading:
    """The last entry with its number, its digits and the total that it leads to."""

    last: LastEntry
    hero: Literal["entry"] = "entry"


@dataclass(frozen=True, slots=True)
class Due:
    """The most urgent check of the watch, overdue, due or next."""

    one: DueAtAGlance
    others: int
    """How many more are due or overdue."""
    last: LastEntry | None
    hero: Literal["due"] = "due"


@dataclass(frozen=True, slots=True)
class Pressures:
    """The pressure of each balloon, where nothing is due."""

    read: tuple[tuple[str, str], ...]
    """Balloon, and mmHg or "" where it was never read."""
    hero: Literal["pressures"] = "pressures"


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing is logged yet: how to begin."""

    lead_word: str
    hero: Literal["nothing"] = "nothing"


Hero = Emergency | OpenQuestion | NotUnderstood | Trouble | Paused | NewHigh | Reading | Due | Pressures | Nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """All that the room knows at a time of day. `course` is that of `record`."""

    course: Course
    record: Record
    now: datetime
    emergency: EmergencyAtAGlance | None = None
    trouble: Trouble | None = None
    paused: str = ""
    """Since when nothing is to be heard; "" where it is."""
    missed: str = ""
    """Words not understood just before, as they are shown; "" once something else was said."""
    line: int | None = None
    """The line that is read back; None for the newest."""
    watch: Attending | None = None
    """The watch, where that is shown."""
    hearing: bool = False
    """Whether somebody speaks."""


def hero(at: Moment) -> Hero:
    """The thing that matters now."""
    last = _noted(at, last_entry(at.course, at.record, at.line))
    if at.emergency is not None:
        return Emergency(at.emergency)
    if last is not None and last.standing == "ASKED":
        return OpenQuestion(last, at.missed)
    if at.missed and not (at.trouble is not None and at.trouble.deaf):
        return NotUnderstood(at.missed, last)
    if at.trouble is not None:
        return Trouble(at.trouble.what, at.trouble.why, last, at.missed)
    if at.paused:
        return Paused(at.paused, last)
    waiting = [found for found in findings(at.record) if found.level == "high" and not found.acknowledged]
    if waiting:
        return NewHigh(waiting[0], len(waiting) - 1, last)
    return _watched(at, at.watch, last) if at.watch is not None else _read_back(at, last)


def _noted(at: Moment, last: LastEntry | None) -> LastEntry | None:
    """The announcement of a spoken note, while one is taken: its seconds, and that nothing becomes an entry."""
    taking = at.record.taking
    notes = notes_at_a_glance(at.record, at.now, at.hearing) if taking else None
    if last is None or taking is None or last.number != taking.number or notes is None or notes.seconds is None:
        return last
    value = "nothing said now becomes an entry"
    return replace(last, what="taking a note", large=str(notes.seconds), unit=notes.of, value=value)


def _watched(at: Moment, watch: Attending, last: LastEntry | None) -> Hero:
    """In the watch an entry is read back while it is fresh; then the duties come first."""
    if last is not None and last.number == at.record.lines[-1].number and at.now - at.record.lines[-1].said_at <= FRESH:
        return Reading(last)
    first = watch.most_urgent
    if first is not None:
        return Due(first, max(watch.waiting - (first.when != "next"), 0), last)
    return _pressures(at.course) if watch.placed else _read_back(at, last)


def _read_back(at: Moment, last: LastEntry | None) -> Hero:
    return Reading(last) if last is not None else Nothing(at.course.procedure.lead_word)


def _pressures(course: Course) -> Pressures:
    balloons = ((site, course.end.situation.balloon(site)) for site in course.procedure.tube.balloons)
    read = ((site, figure(one.pressure) if one.pressure is not None else "") for site, one in balloons)
    return Pressures(tuple(read))
