"""The limits that hold as things stand, and a number beside one of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from log.basics.entry import Number
from log.definition.limits import Limit, in_words
from log.definition.procedure import Procedure
from log.state.tube import TubeState, matches

Side = Literal["inside", "at", "outside"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A number and one limit."""

    what: str
    """The name of the number, as it stands before it: "traction", "mark further out than 52 cm: moved"."""
    value: float
    unit: str
    limit: str
    """Id of the limit in the definition."""
    low: float | None
    high: float | None
    """The bounds that count here, in the same unit; a balloon that is still being filled has no lower one."""

    @property
    def margin(self) -> float:
        """Distance from the nearest bound, in its unit; below nought it is outside."""
        left = [self.value - self.low] if self.low is not None else []
        right = [self.high - self.value] if self.high is not None else []
        return round(min(left + right), 6)  # without the dust of binary fractions

    @property
    def side(self) -> Side:
        """A value equal to a bound keeps it."""
        return "at" if self.margin == 0 else "inside" if self.margin > 0 else "outside"

    @property
    def beyond(self) -> Literal["above", "below", ""]:
        """The side on which it is outside; "" where it is not."""
        if self.side != "outside":
            return ""
        return "above" if self.high is not None and self.value > self.high else "below"

    @property
    def bounds(self) -> str:
        """The bounds as the room reads them."""
        return in_words(self.low, self.high, self.unit)


def volume_limits(procedure: Procedure, site: str, confirmed: bool) -> tuple[str, ...]:
    """Ids of the limits of what is in a balloon, before or after an X-ray has confirmed the position, the working range
    first. Where there is none of before, those of after count."""
    own = sorted(
        ((name, of.when) for name, _, of in procedure.held if (of.what, of.site) == ("total", site)),
        key=lambda one: float("inf") if (most := procedure.limits[one[0]].max) is None else most,
    )
    first = tuple(name for name, when in own if when == "before the x-ray")
    full = tuple(name for name, when in own if when == "always")
    return full if confirmed else first or full


def pressure_limits(procedure: Procedure, site: str) -> tuple[str, ...]:
    """Ids of the limits that the pressure of a balloon has to keep for as long as it is up, the working range first."""
    own = [
        (name, of.when)
        for name, _, of in procedure.held
        if (of.kind, of.what, of.site) == ("pressure", "said", site)
        and of.when in ("always", "balloon up")
        and of.instead_of is None
    ]
    return tuple(name for name, when in sorted(own, key=lambda one: one[1] == "always"))


def standing(procedure: Procedure, situation: TubeState, site: str) -> Iterator[Compared]:
    """Volume and last pressure of a balloon, beside the limits that hold now; nothing of one that is flat."""
    balloon = situation.balloon(site)
    volumes, pressures = volume_limits(procedure, site, situation.confirmed), pressure_limits(procedure, site)
    if not balloon.up:
        return
    for name in volumes:
        for volume in dict.fromkeys(balloon.volumes):
            yield from _compared(procedure.limits[name], name, situation, volume)
    for name in pressures if balloon.pressure is not None else ():
        yield from _compared(procedure.limits[name], name, situation, balloon.pressure or 0)


def _compared(limit: Limit, name: str, situation: TubeState, value: Number) -> Iterator[Compared]:
    low = lowest(limit, situation)
    if low is not None or limit.max is not None:
        yield Compared(what=limit.about, value=value, unit=limit.unit, limit=name, low=low, high=limit.max)


def lowest(limit: Limit, situation: TubeState) -> float | None:
    """The lower bound of a limit as things stand."""
    until = limit.low_until
    last = situation.last(until.kind) if until is not None else None
    over = until is not None and last is not None and matches(until, last)
    return None if over else limit.min


def breaks(limit: Limit, situation: TubeState, value: Number) -> bool:
    """Whether a value is beyond a limit as things stand."""
    low = lowest(limit, situation)
    return (low is not None and value < low) or (limit.max is not None and value > limit.max)
