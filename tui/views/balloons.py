"""The balloons at a glance: what is in them, at what pressure, against which limits; whether a film vouches for them,
the mark, how long they are up, and how many findings of high priority are open. It stands on every screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from log.basics.entry import Number
from log.definition.procedure import Procedure
from log.facts.record import Record
from log.rules.bounds import lowest, pressure_limits, standing, volume_limits
from log.rules.course import Course
from log.state.film import moved_cm
from log.state.tube import TubeState
from log.words.totals import filling, may_read
from log.words.wording import figure, hours

Way = Literal["up", "down", "level", ""]
"""Which way the last two readings go; "" where there are not two of one filling."""

ARROWS: dict[Way, str] = {"up": "↗", "down": "↘", "level": "→", "": ""}


@dataclass(frozen=True, slots=True)
class Gauge:
    """A number of a balloon against the bounds that hold now."""

    values: tuple[Number, ...]
    """Its value, or the values that it may have, the least first; empty where it was not read."""
    unit: str
    low: float | None
    high: float | None
    beyond: Literal["above", "below", ""]
    bounds: str
    """The bounds in words; "" where there is no limit."""
    way: Way = ""

    @property
    def text(self) -> str:
        """ "250 mL", "265-300 mL?", "-- mmHg"."""
        if not self.values:
            return f"-- {self.unit}"
        span = f"{figure(self.values[0])}-{figure(self.values[-1])}" if len(self.values) > 1 else ""
        return f"{span or figure(self.values[0])} {self.unit}{'?' if span else ''}"


@dataclass(frozen=True, slots=True)
class BalloonAtAGlance:
    """One balloon."""

    site: str
    volume: str
    volume_range: str
    pressure: str
    pressure_range: str
    doubt: str
    """ "ABOVE", "BELOW" or ""."""
    up: bool
    filled: Gauge
    held: Gauge


@dataclass(frozen=True, slots=True)
class TubeAtAGlance:
    """All balloons, and what they rely on."""

    balloons: tuple[BalloonAtAGlance, ...]
    film: str
    """The last word on the X-ray: "confirmed", "not logged"."""
    confirmed: bool
    mark: str
    """ "52 cm", "52 cm, moved out 3 cm", "not logged"."""
    moved: bool
    """Whether the tube has moved further than a limit allows."""
    up: str
    """Hours and minutes since the first balloon that is up went up; "" while none is."""
    high: int
    """Open findings of high priority, acknowledged ones included."""


def tube_at_a_glance(course: Course, record: Record, now: datetime) -> TubeAtAGlance:
    """How the tube stands. `course` is that of `record`."""
    situation = course.end.situation
    up_since = [b.since for site in course.procedure.tube.balloons if (b := situation.balloon(site)).since is not None]
    mark, moved = _mark(course.procedure, situation)
    return TubeAtAGlance(
        tuple(balloons(course)),
        (situation.xray or "not logged").replace("_", " "),
        situation.confirmed,
        mark,
        moved,
        hours(max(now - min(up_since), timedelta(0))) if up_since else "",
        sum(found.level == "high" for found in record.open_findings),
    )


def balloons(course: Course) -> Iterator[BalloonAtAGlance]:
    """Each balloon of the tube, in the definition's order."""
    return (_balloon(course, site) for site in course.procedure.tube.balloons)


def _balloon(course: Course, site: str) -> BalloonAtAGlance:
    procedure, situation = course.procedure, course.end.situation
    balloon = situation.balloon(site)
    of_volume, of_pressure = volume_limits(procedure, site, situation.confirmed), pressure_limits(procedure, site)
    read = balloon.may_read or (() if balloon.pressure is None else (balloon.pressure,))
    filled = _gauge(course, site, of_volume, balloon.volumes, "mL")
    held = replace(_gauge(course, site, of_pressure, read, "mmHg"), way=_way(course, site))
    return BalloonAtAGlance(
        site,
        filling(balloon),
        filled.bounds,
        may_read(balloon) or (held.text if read else "no reading"),
        held.bounds,
        (filled.beyond or held.beyond).upper(),
        balloon.up,
        filled,
        held,
    )


def _gauge(course: Course, site: str, names: Sequence[str], values: tuple[Number, ...], unit: str) -> Gauge:
    """Values against the first of these limits; whether they are beyond any of them."""
    situation = course.end.situation
    beyond = (one.beyond for one in standing(course.procedure, situation, site) if one.unit == unit and one.beyond)
    limit = course.procedure.limits[names[0]] if names else None
    if limit is None:
        return Gauge(values, unit, None, None, next(beyond, ""), "")
    return Gauge(values, unit, lowest(limit, situation), limit.max, next(beyond, ""), limit.bounds)


def _way(course: Course, site: str) -> Way:
    """From the reading before the last to the last, as long as the balloon stayed up in between."""
    read: list[Number] = []
    for step in (stage.step for stage in reversed(course.stages) if stage.line.status == "stands"):
        pressure = step.after.balloon(site).pressure
        if pressure is None or len(read) == 2:
            break
        if step.entry.kind == "pressure" and step.entry.site in (site, "both"):
            read.append(pressure)
    if len(read) < 2:
        return ""
    last, before = read
    return "up" if last > before else "down" if last < before else "level"


def _mark(procedure: Procedure, situation: TubeState) -> tuple[str, bool]:
    """The mark, how far the tube has moved since, and whether that is further than a limit allows."""
    mark, depth = situation.mark, situation.depth
    if mark is None or mark.number is None:
        return "not logged", False
    text = f"{figure(mark.number)} {mark.unit or 'cm'}"
    moved = moved_cm(mark, depth) if depth is not None and depth is not mark else None
    if not moved:
        return text, False
    allowed = [limit for _, limit, of in procedure.held if of.what == "moved"]
    too_far = any(limit.broken_by(abs(moved)) == "above" for limit in allowed)
    return f"{text}, moved {'in' if moved > 0 else 'out'} {figure(abs(moved))} cm", too_far
