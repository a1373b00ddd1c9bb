"""Every number of a case beside the limit it is held against: inside, at the bound, or outside, and by how much.

The rules tell what is beyond a limit; here stands what kept it as well. What is compared with what is the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from log.definition.procedure import Procedure
from log.rules.finding import adds_air, first_air, is_said
from log.rules.placing import COMPARED, outside_pressure
from log.state.tube import Step, comparable

Side = Literal["inside", "at", "outside"]


@dataclass(frozen=True, slots=True)
class Measured:
    """A number and one limit."""

    line: int
    at: datetime
    what: str
    value: float
    unit: str
    limit: str
    """Id of the limit in the definition."""
    low: float | None
    high: float | None
    """The bounds that count here, in the same unit; a balloon that is still being filled has no lower one."""

    @property
    def margin(self) -> float:
        """How far it is from the nearest bound, in its unit; below nought it is outside."""
        left = [self.value - self.low] if self.low is not None else []
        right = [self.high - self.value] if self.high is not None else []
        return round(min(left + right), 6)  # without the dust of binary fractions

    @property
    def side(self) -> Side:
        """A value equal to a bound keeps it."""
        return "at" if self.margin == 0 else "inside" if self.margin > 0 else "outside"

    @property
    def bounds(self) -> str:
        """The bounds as the room reads them."""
        if self.low is None:
            return f"at most {self.high:g} {self.unit}"
        if self.high is None:
            return f"at least {self.low:g} {self.unit}"
        return f"{self.low:g} to {self.high:g} {self.unit}"


@dataclass(frozen=True, slots=True)
class _Number:
    limit: str
    value: float
    what: str = ""
    """"" for what the limit says it is about."""
    filling: bool = False


def measured(procedure: Procedure, steps: Sequence[Step]) -> tuple[Measured, ...]:
    """All of them, in the order in which things happened. A limit that nobody has set is held against nothing."""
    return tuple(_with_limits(procedure, steps))


def _with_limits(procedure: Procedure, steps: Sequence[Step]) -> Iterator[Measured]:
    for step in steps:
        for number in _numbers(procedure, step):
            limit = procedure.limits.get(number.limit)
            low = None if limit is None or number.filling else limit.min
            if limit is not None and (low is not None or limit.max is not None):
                what = number.what or limit.about
                yield Measured(
                    step.line.number, step.line.said_at, what, number.value, limit.unit, number.limit, low, limit.max
                )


def _numbers(procedure: Procedure, step: Step) -> Iterator[_Number]:
    yield from _gastric(procedure, step)
    yield from _pressures(procedure, step)
    number = step.entry.number
    if is_said(step, "head_up") and number is not None:
        yield _Number("head_up", number)
    if is_said(step, "traction") and number is not None:
        yield _Number("traction_mass", number)
    mark = step.before.mark
    comparison = is_said(step, "depth") and mark is not None and comparable(mark, step.entry)
    if comparison and mark is not None and mark.number is not None and number is not None:
        yield _Number("mark_migration", round(abs(number - mark.number), 6))


def _gastric(procedure: Procedure, step: Step) -> Iterator[_Number]:
    """What is in the balloon that anchors the tube, whenever air is added and whenever something relies on it."""
    before, after = step.before.balloon("gastric"), step.after.balloon("gastric")
    if adds_air(step, "gastric"):
        if first_air(step, "gastric") and step.before.depth is not None and step.before.depth.number is not None:
            yield _Number("insertion_depth", step.before.depth.number)
        if step.before.xray != "confirmed" and after.volume > 0:
            yield _Number("first_gastric_volume", after.volume)
        if is_said(step, "volume_in") and step.entry.number is not None and before.volume > 0:
            yield _Number("gastric_step", step.entry.number)
        limit = procedure.limits.get("gastric_volume")
        beyond = limit is not None and limit.broken_by(after.volume) == "above"
        if after.volume > 0 and (step.before.xray == "confirmed" or beyond):
            yield _Number("gastric_volume", after.volume, filling=True)
    pulled = is_said(step, "traction") and step.entry.value != "off" and step.before.traction is None
    if pulled and not (after.volume == 0 and after.said_up):
        yield _Number("gastric_volume", after.volume, "gastric volume when traction was put on")
    if first_air(step, "oesophageal") and after.volume > 0:
        yield _Number("gastric_volume", after.volume, "gastric volume when the oesophageal balloon went up")


def _pressures(procedure: Procedure, step: Step) -> Iterator[_Number]:
    number, site = step.entry.number, step.entry.site
    if not is_said(step, "pressure") or number is None:
        return
    if site != "gastric":
        yield _Number("oesophageal_ceiling", number, "" if site else "pressure (balloon not said)")
    before = step.before.balloon("oesophageal")
    if site in ("oesophageal", "both"):
        if number > 0 and before.up:
            yield _Number("oesophageal_pressure", number, "oesophageal pressure in its working range")
        if before.pressure is None and step.before.tube_in:
            yield _Number("oesophageal_start", number)
    if site in (COMPARED, "both") and step.before.tube_in:
        gastric = step.before.balloon(COMPARED)
        table = step.before.prepared.outside.get(COMPARED, {})
        outside = outside_pressure(procedure, table, 0 if gastric.unmeasured else gastric.volume)
        if outside is not None:
            yield _Number("gastric_pressure_rise", round(number - outside, 6))
