"""A placed tube as one team reports it to the next: what is inflated, since when and at which pressure, what is due,
where mark, traction and X-ray stand, what came out, what nobody has settled, and where the scissors are.

It follows from what happened up to one moment. Corrections count as they stand now. Nothing is added that
is not in the log: what nobody said is shown as not logged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile

from log.basics.entry import Number
from log.definition.protocol import EmergencyStep
from log.facts.events import CaptureGap, CaseClosed, ClockCorrected, FindingAcknowledged, FindingRaised
from log.facts.line import Line
from log.facts.record import Record
from log.facts.spoken_notes import spoken_notes
from log.rules import Finding
from log.rules.course import Course
from log.rules.finding import first_air
from log.rules.gauges import Gauge, gauges
from log.state.balloon import Balloon
from log.state.episode import Episode, episodes
from log.state.film import moved_cm
from log.state.fluid_balance import GivenInAll, PortBalance, Reading, balances, given, vitals
from log.state.tube import Step, TubeState
from log.summaries.night import Night, night
from log.watch.due import Watch, watch


@dataclass(frozen=True, slots=True)
class BalloonNow:
    """One balloon."""

    site: str
    balloon: Balloon
    since: datetime | None
    """When it went up; None: it is not up."""
    put_in: Number
    """Millilitres said to have been put in, in all."""
    taken_out: Number
    """Millilitres said to have been taken out, in all."""
    reading: Line | None
    """Its last pressure, if it still says anything of what is in it."""
    trouble: Line | None
    """It was said to have burst or to leak, and has not been emptied and filled since."""


@dataclass(frozen=True, slots=True)
class MarkNow:
    """The mark at the lips: where it was under traction first, and where it was read last."""

    first: Line
    last: Line
    """The same line while it was read only once."""

    @property
    def moved_cm(self) -> Number | None:
        """Centimetres since the first reading, further in above nought; None where the two cannot be compared."""
        return moved_cm(self.first.entry, self.last.entry)


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """Something the rules say at this moment, and who has said why it may stand."""

    finding: Finding
    acknowledged: FindingAcknowledged | None
    read_again: Line | None
    """The last reading of the same after the one that the finding is about; None where there is none."""


@dataclass(frozen=True, slots=True)
class Handover:
    """A case at one moment."""

    now: datetime
    clocks: tuple[ClockCorrected, ...]
    """Corrections of the clock up to now; all times here are after them."""
    watch: Watch
    situation: TubeState
    tubes: tuple[Episode, ...]
    """Every tube of the case; what follows is of the last one."""
    balloons: tuple[BalloonNow, ...]
    depth: Line | None
    mark: MarkNow | None
    """None without traction, or while nobody has read it."""
    traction: Line | None
    """The pull on the tube; None when there is none."""
    traction_since: datetime | None
    xray: Line | None
    """The last word on the position, else on the X-ray."""
    xray_void: str
    """Why that film no longer vouches for the position; "" while it does."""
    bleeding: Line | None
    ports: tuple[PortBalance, ...]
    vitals: tuple[Reading, ...]
    """Each vital sign that was read; the hand-over shows its last reading."""
    gauges: tuple[Gauge, ...]
    """Whatever else is read again, with its limits."""
    given: tuple[GivenInAll, ...]
    """Blood products, then fluids, each in all."""
    night: Night
    """Measures beside the tube, and the plan."""
    findings: tuple[OpenFinding, ...]
    """The most urgent first."""
    asked: tuple[Line, ...]
    """Questions that nobody has answered: they count in no total."""
    to_be_transcribed: tuple[Line, ...]
    """Lines that announced a spoken note which nobody has put into words."""
    gaps: tuple[CaptureGap, ...]
    scissors: Line | None
    """The last word on where they are; None: not logged."""
    emergency: tuple[str, tuple[EmergencyStep, ...]] | None
    """The steps when the tube blocks the airway, in the definition's words; None where it has none."""
    last_entry: Line | None
    closed: CaseClosed | None
    """Since when nobody listens; None while somebody does."""


def handover(course: Course, record: Record, now: datetime) -> Handover:
    """The case at this moment, by what happened up to then. `course` is that of `record`."""
    then = _until(course, now)
    procedure, situation, steps = course.procedure, then.end.situation, then.steps
    plan = procedure.emergency
    tubes = episodes(steps)
    now_in = tubes[-1]
    traction = now_in.last("traction") if situation.traction is not None else None
    return Handover(
        now=now,
        clocks=tuple(one for one in record.clocks if one.logged_at <= now),
        watch=watch(course, now, record),
        situation=situation,
        tubes=tubes,
        balloons=tuple(_balloon(site, now_in.steps, situation) for site in _sites(course, situation)),
        depth=now_in.last("depth") if situation.depth is not None else None,
        mark=_mark(now_in) if situation.mark is not None else None,
        traction=traction,
        traction_since=now_in.traction_since,
        xray=now_in.film,
        xray_void=situation.film.void if situation.film is not None else "",
        bleeding=_last(steps, "bleeding"),
        ports=balances(procedure, steps, now),
        vitals=vitals(procedure, steps),
        gauges=gauges(procedure, steps),
        given=given(procedure, steps, situation),
        night=night(procedure, steps, now),
        findings=tuple(_open(then, record, now)),
        asked=tuple(line for line in record.lines if line.status == "asked" and line.said_at <= now),
        to_be_transcribed=tuple(
            note.line for note in spoken_notes(record) if note.to_be_transcribed and note.line.said_at <= now
        ),
        gaps=tuple(gap for gap in record.gaps if gap.began_at <= now),
        scissors=_last(steps, "scissors") if situation.prepared.scissors is not None else None,
        emergency=(plan.title("airway"), plan.steps("airway")) if plan is not None else None,
        last_entry=steps[-1].line if steps else None,
        closed=record.closed if record.closed is not None and record.closed.logged_at <= now else None,
    )


def _until(course: Course, now: datetime) -> Course:
    return Course(course.procedure, tuple(takewhile(lambda stage: stage.line.said_at <= now, course.stages)))


def _sites(course: Course, situation: TubeState) -> Iterator[str]:
    return iter(dict.fromkeys((*course.procedure.tube.balloons, *situation.balloons)))


def _last(steps: Sequence[Step], kind: str) -> Line | None:
    return next((step.line for step in reversed(steps) if step.entry.kind == kind), None)


def _balloon(site: str, steps: Sequence[Step], situation: TubeState) -> BalloonNow:
    balloon = situation.balloon(site)
    readings = [step.line for step in _at(steps, "pressure", site) if step.entry.number is not None]
    return BalloonNow(
        site,
        balloon,
        balloon.since,
        _summed(steps, "volume_in", site),
        _summed(steps, "volume_out", site),
        readings[-1] if readings and balloon.pressure is not None else None,
        _trouble(site, steps),
    )


FAILED = ("balloon burst", "balloon leaking")


def _trouble(site: str, steps: Sequence[Step]) -> Line | None:
    said: Line | None = None
    for step in steps:
        if step.entry.kind == "trouble" and step.entry.detail in FAILED and step.entry.site in (site, "both"):
            said = step.line
        elif first_air(step, site):
            said = None
    return said


def _summed(steps: Sequence[Step], kind: str, site: str) -> Number:
    return sum(step.entry.number or 0 for step in _at(steps, kind, site))


def _at(steps: Sequence[Step], kind: str, site: str) -> Iterator[Step]:
    """The lines about a balloon, or about both. A case from elsewhere, or without free text, may call it anything."""
    return (step for step in steps if step.entry.kind == kind and step.entry.site in (site, "both"))


def _mark(tube: Episode) -> MarkNow | None:
    first, last = tube.mark, tube.last("depth")
    return MarkNow(first, last or first) if first is not None else None


def _open(course: Course, record: Record, now: datetime) -> Iterator[OpenFinding]:
    """The findings of this course, each with its acknowledgement and the last reading since."""
    raised = {_name(one.raised): one.raised for one in record.findings if one.settled is None}
    kinds = course.procedure.read_again
    readings = [step.line for step in course.steps if step.entry.kind in kinds]
    places = {line.number: place for place, line in enumerate(readings)}
    last = {_read(line): place for place, line in enumerate(readings) if line.entry.number is not None}
    for found in course.findings(now):
        own = raised.get(_name(found))
        seen = record.acknowledged(own) if own is not None else None
        place = places.get(found.number) if found.number is not None else None
        latest = last.get(_read(readings[place]), place) if place is not None else None
        again = readings[latest] if place is not None and latest is not None and latest > place else None
        yield OpenFinding(found, seen if seen is not None and seen.logged_at <= now else None, again)


def _name(found: Finding | FindingRaised) -> tuple[str, int | None, str]:
    return found.rule, found.number, found.message


def _read(line: Line) -> tuple[str, str | None, str | None]:
    """The quantity that a line reads."""
    return line.entry.kind, line.entry.site, line.entry.detail
