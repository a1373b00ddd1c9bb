"""An emergency lasts from the moment somebody calls it, even if that was unclear, until somebody says that it is over
or the tube is out. A late entry starts none.

A doubtful call raises the emergency page, a doubtful end ends nothing. The page follows from the lines, so striking
the call takes it down. While it is up nothing is read aloud, because the log cannot listen meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile
from typing import Literal

from log.basics.entry import Entry
from log.facts.line import Line
from log.facts.record import Record
from log.rules.course import Course

Call = Literal["airway", "cut"]
CALLS: tuple[Call, ...] = ("airway", "cut")


def calls(entry: Entry) -> bool:
    """Whether an entry calls an emergency."""
    return entry.kind == "emergency" and entry.value in CALLS


def emergency_is_up(course: Course, record: Record) -> bool:
    """Whether one is active."""
    return next(calling(course, record), None) is not None


def calling(course: Course, record: Record) -> Iterator[Line]:
    """The lines that call the emergency that is not over, the newest first."""
    if not record.asked and course.end.situation.emergency is None:
        return iter(())
    since_the_last = takewhile(lambda line: not ends_it(line), record.newest_first)
    return (line for line in since_the_last if not line.late_reason and may_call(line))


def ends_it(line: Line) -> bool:
    """A doubtful end is none."""
    ended = (line.entry.kind, line.entry.value) in (("emergency", "over"), ("tube", "out"))
    return ended and line.status == "stands"


def may_call(line: Line) -> bool:
    """A question calls it by whatever it could be: nobody has time to answer."""
    return any(map(calls, line.candidates if line.status == "asked" else (line.entry,)))


def call_of(line: Line) -> Call:
    """The emergency that a line calls."""
    meant = line.candidates if line.status == "asked" else (line.entry,)
    return "cut" if next(entry.value for entry in meant if calls(entry)) == "cut" else "airway"
