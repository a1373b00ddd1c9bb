"""The emergency page, for when the tube blocks the airway or has to be cut: what to do, where the scissors are, since
when, and what is inflated. Pure: screens, pages and lines only lay it out. When it is up stands in
log/rules/emergency.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from log.facts.record import Record
from log.rules.course import Course
from log.rules.emergency import Call, call_of, calling
from log.state.tube import TubeState
from log.words.totals import filling
from log.words.wording import elapsed, figure

INDISTINCT = 'unclear: if it is none, say "scratch that" or "emergency over"'
BY_THE_SITE = "This case's definition does not say what to do: follow the protocol of your site."
NO_SCISSORS = "NOT LOGGED: look at the bedside"
WAITS = "it waits until the emergency is over"


@dataclass(frozen=True, slots=True)
class EmergencyAtAGlance:
    """An emergency that is not over."""

    line: int | None
    """The newest line that calls it; None while that is not yet written down."""
    call: Call
    title: str
    steps: tuple[str, ...]
    """The steps, in the definition's words."""
    since: datetime
    elapsed: str
    """Since it was called first: 0:01:32."""
    doubt: str
    """ "" unless it was unclear."""
    scissors: str
    inflated: tuple[str, ...]
    """The volume in each balloon according to the log."""

    @property
    def clock(self) -> str:
        """Minutes and seconds since the call, hours only where there are any."""
        return self.elapsed.removeprefix("0:")

    @property
    def lines(self) -> tuple[str, ...]:
        """The same in words, the steps first."""
        numbered = (f"{number} {step}" for number, step in enumerate(self.steps, start=1))
        return (
            f"EMERGENCY since {self.since:%H:%M:%S}: {self.title}",
            *((f"({self.doubt})",) if self.doubt else ()),
            *numbered,
            f"scissors: {self.scissors}",
            f"inflated: {'; '.join(self.inflated)}",
        )


def emergency(
    course: Course, record: Record, now: datetime, called: tuple[Call, datetime] | None = None
) -> EmergencyAtAGlance | None:
    """The emergency that is up; None if there is none. `course` is that of `record`.

    `called`: one that somebody has just called by hand, and that may not be written down yet.
    """
    lines = tuple(calling(course, record))
    if not lines and called is None:
        return None
    newest = lines[0] if lines else None
    call = called[0] if called is not None else call_of(lines[0])
    since = min((*(line.said_at for line in lines), *((called[1],) if called else ())))
    plan = course.procedure.emergency
    doubtful = called is None and all(line.status == "asked" for line in lines)
    return EmergencyAtAGlance(
        newest.number if newest else None,
        call,
        plan.title(call) if plan else {"airway": "AIRWAY BLOCKED", "cut": "CUT THE TUBE"}[call],
        tuple(step.text for step in plan.steps(call)) if plan else (BY_THE_SITE,),
        since,
        elapsed(since, max(since, now)),
        INDISTINCT if doubtful else "",
        _scissors(record),
        tuple(_inflated(course, course.end.situation)),
    )


def _scissors(record: Record) -> str:
    said = next((li for li in record.newest_first if li.entry.kind == "scissors" and li.status == "stands"), None)
    if said is None:
        return NO_SCISSORS
    if said.entry.value == "missing":
        return f"MISSING at {said.said_at:%H:%M}: send for some"
    return f"{said.entry.value} (said at {said.said_at:%H:%M})"


def _inflated(course: Course, situation: TubeState) -> Iterator[str]:
    for site in course.procedure.tube.balloons:
        balloon = situation.balloon(site)
        pressure = f", {figure(balloon.pressure)} mmHg" if balloon.up and balloon.pressure is not None else ""
        yield f"{site} {filling(balloon)}{pressure}" if balloon.up else f"{site} empty"
