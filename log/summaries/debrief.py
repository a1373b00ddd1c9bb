"""The debriefing of a finished case: how long each step took, how near the numbers came to their limits, what became
of findings and questions, and what was corrected, missed or not heard.

Facts and figures from the record alone: nobody is judged and nothing is scored. Every time is one that the record
holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from log.definition.protocol import Milestone
from log.facts.events import CaptureGap, FindingAcknowledged, FindingRaised, FindingSettled, NotUnderstoodHeard
from log.facts.line import Change, Line
from log.facts.record import Record
from log.facts.second_hearing import Reviewed, reviewed
from log.rules.comparisons import Measured, measured
from log.rules.course import Course
from log.rules.milestones import applies
from log.rules.removing import observed

State = Literal["reached", "undone", "passed over", "not reached", "not part of this case"]
"""`undone`: reached, and taken back by something later. `passed over`: something that comes after it is reached."""

Outcome = Literal[
    "logged at once",
    "entered late",
    "asked and confirmed",
    "asked and answered otherwise",
    "asked and struck",
    "never answered",
]
OUTCOMES: tuple[Outcome, ...] = (
    "logged at once",
    "entered late",
    "asked and confirmed",
    "asked and answered otherwise",
    "asked and struck",
    "never answered",
)

Fate = Literal["settled", "acknowledged", "never answered"]


@dataclass(frozen=True, slots=True)
class StepTaken:
    """A step of the protocol."""

    milestone: Milestone
    state: State
    at: datetime | None = None
    """When it was reached, if it ever was."""
    since_start: timedelta | None = None
    since_before: timedelta | None = None
    """Since the step reached before it, or the opening of the log."""
    tube: int = 1
    """The number of the tube that it was done for."""


@dataclass(frozen=True, slots=True)
class FindingStory:
    """A finding and what became of it."""

    raised: FindingRaised
    settled: FindingSettled | None
    acknowledged: FindingAcknowledged | None
    open_for: timedelta
    """Until it was settled, or the record ends."""

    @property
    def fate(self) -> Fate:
        """The end it came to."""
        if self.settled is not None:
            return "settled"
        return "acknowledged" if self.acknowledged is not None else "never answered"


@dataclass(frozen=True, slots=True)
class ReadBack:
    """The way of one line into the log, and whether it stayed as it was."""

    line: Line
    outcome: Outcome
    answered_after: timedelta | None
    """Time from question to answer."""
    corrected: bool
    """Given another value or time after it stood."""
    struck: bool
    """Struck after it stood."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A line that was changed after it stood, or struck."""

    line: Line
    change: Change
    after: timedelta
    """Since the line was said to have happened first."""


@dataclass(frozen=True, slots=True)
class Debrief:
    """A whole case."""

    began: datetime
    ended: datetime
    """When the last fact was written down."""
    steps: tuple[StepTaken, ...]
    """Steps that were reached in the order of time, then the rest in the order of the definition."""
    numbers: tuple[Measured, ...]
    findings: tuple[FindingStory, ...]
    read_back: tuple[ReadBack, ...]
    corrections: tuple[Correction, ...]
    late: tuple[tuple[Line, timedelta], ...]
    """Late entries, and how long after they happened they were written down."""
    gaps: tuple[CaptureGap, ...]
    missed: tuple[NotUnderstoodHeard, ...]
    """Speech that made no entry."""
    observed: tuple[tuple[str, timedelta], ...]
    """In a removal: each balloon that went down, and how long one looked before the next step."""
    heard_again: Reviewed | None
    """How far the second hearing has come; None where there was none."""

    @property
    def answers(self) -> tuple[timedelta, ...]:
        """The times from question to answer, shortest first."""
        return tuple(sorted(one.answered_after for one in self.read_back if one.answered_after is not None))


def debrief(course: Course, record: Record, ended: datetime) -> Debrief:
    """All of it. `course` is that of `record`; `ended`: when its last fact was written down.

    Raises ValueError for a record without an opening.
    """
    if record.opened is None:
        raise ValueError("the record has no opening")
    began = record.opened.logged_at
    return Debrief(
        began,
        ended,
        tuple(_steps(course, began)),
        measured(course.procedure, course.steps),
        tuple(_story(record, one.raised, one.settled, ended) for one in record.findings),
        tuple(_read_back(line) for line in record.lines),
        corrections(record),
        tuple((line, by) for line in record.lines if (by := line.late_by) is not None),
        tuple(record.gaps),
        tuple(record.missed),
        tuple(looked for step in course.steps for looked in observed(course.procedure.tube, step)),
        reviewed(record),
    )


def _steps(course: Course, began: datetime) -> Iterator[StepTaken]:
    ever = _reached_for_each_tube(course)
    place = {milestone.id: (number, milestone) for number, milestone in enumerate(course.procedure.milestone)}
    known = sorted((at, *place[name], tube) for (name, tube), at in ever.items())
    before = began
    for at, _, milestone, tube in known:
        undone = tube == course.end.situation.number and milestone.id not in course.end.reached
        yield StepTaken(milestone, "undone" if undone else "reached", at, at - began, at - before, tube)
        before = at
    passed_over = {milestone.id for milestone in course.next.passed_over}
    for milestone in course.procedure.milestone:
        if all(name != milestone.id for name, _ in ever):
            yield StepTaken(milestone, _unreached(course, milestone, passed_over))


def _reached_for_each_tube(course: Course) -> dict[tuple[str, int], datetime]:
    """By milestone and tube. A step that was done for the patient once is that of the first tube."""
    ever: dict[tuple[str, int], datetime] = {}
    for stage in course.stages:
        tube = stage.after.situation.number
        for name, at in stage.after.reached.items():
            if all(ever.get((name, earlier)) != at for earlier in range(1, tube)):
                ever[name, tube] = at
    return ever


def _unreached(course: Course, milestone: Milestone, passed_over: set[str]) -> State:
    if milestone.id in passed_over:
        return "passed over"
    return "not reached" if applies(milestone, course.end.situation) else "not part of this case"


def _story(record: Record, raised: FindingRaised, settled: FindingSettled | None, ended: datetime) -> FindingStory:
    until = settled.logged_at if settled is not None else ended
    return FindingStory(raised, settled, record.acknowledged(raised), until - raised.logged_at)


def _read_back(line: Line) -> ReadBack:
    if not line.candidates:
        outcome: Outcome = "entered late" if line.late_reason else "logged at once"
        return ReadBack(line, outcome, None, *_later(line.changes))
    if not line.changes:
        return ReadBack(line, "never answered", None, corrected=False, struck=False)
    answer, later = line.changes[0], line.changes[1:]
    if answer.what == "struck":
        return ReadBack(line, "asked and struck", None, corrected=False, struck=False)
    outcome = "asked and confirmed" if answer.after == line.candidates[0] else "asked and answered otherwise"
    return ReadBack(line, outcome, answer.at - line.first_said_at, *_later(later))


def _later(changes: tuple[Change, ...]) -> tuple[bool, bool]:
    whats = {change.what for change in changes}
    return bool(whats & {"amended", "answered"}), "struck" in whats


def corrections(record: Record) -> tuple[Correction, ...]:
    """In the order in which they were made. An answer to a question is none."""
    found = (
        Correction(line, change, change.at - line.first_said_at)
        for line in record.lines
        for change in line.changes
        if change.what != "answered"
    )
    return tuple(sorted(found, key=lambda one: (one.change.at, one.line.number)))
