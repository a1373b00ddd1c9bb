"""Measures for the patient beside the tube, and the plan: the bundle of such a night with its times.

Nothing is missing because the log lacks it: what nobody said is None, and a reader sees that it was not logged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from log.basics.entry import Number
from log.definition.medicines import Use
from log.definition.procedure import Procedure
from log.facts.line import Line
from log.state.fluid_balance import Infusion, balances, doses, infusions
from log.state.tube import Step
from log.summaries.complications import Complication, complications

DEFINITIVE = frozenset({"endoscopy", "shunt", "stent", "surgery", "transfer", "no further treatment"})
"""Decisions that say how the bleeding is to be treated for good."""

ENDOSCOPY = ("endoscopy team called", "endoscopy accepted", "endoscopy expected")
"""Details of a preparation that are about who was called."""

RATIO = ("red cells", "plasma", "platelets")
"""The products whose ratio is looked at."""

BRIDGE = "since-insertion"
"""The clock that ends the bridge with its first due time."""


@dataclass(frozen=True, slots=True)
class Transfused:
    """Blood products of a case, in units."""

    units: Mapping[str, Number]
    """By product, the first given first."""
    last_hour: Mapping[str, Number]
    """The same within the hour before now."""
    last_at: datetime | None = None
    """When the last was given."""

    @property
    def ratio(self) -> str:
        """ "4:2:1 red cells:plasma:platelets"; "" unless at least two of them were given."""
        given = [self.units.get(product, 0) for product in RATIO]
        if sum(amount > 0 for amount in given) < 2:
            return ""
        return f"{':'.join(f'{amount:g}' for amount in given)} {':'.join(RATIO)}"


@dataclass(frozen=True, slots=True)
class Night:
    """The case beside the tube at one moment."""

    airway: Line | None
    vasoactive: Line | None
    """The first vasoactive drug."""
    antibiotic: Line | None
    """The first antibiotic."""
    called: tuple[Line, ...]
    """Endoscopy called, accepted, expected: the last word on each."""
    decisions: tuple[Line, ...]
    definitive: Line | None
    """The last decision on definitive treatment."""
    bridge_ends: datetime | None
    """When the time ends that a tube may bridge; None while none is in."""
    cut: Line | None
    """The tube was cut in an emergency."""
    drugs: tuple[Line, ...]
    infusions: tuple[Infusion, ...]
    transfused: Transfused
    infused_ml: Number
    came_out_ml: Number
    """Out of the ports, net of lavage."""
    blood_loss: tuple[Line, ...]
    """Each estimate that somebody gave; nobody said whether they add up."""
    complications: tuple[Complication, ...]
    no_complications: Line | None
    """Somebody said that there were none."""
    outcome: Line | None
    reckoned: Reckoned


@dataclass(frozen=True, slots=True)
class Reckoned:
    """Figures derived from the last vital signs: arithmetic, no rule (reference: derived)."""

    mean_pressure: int | None
    """mmHg: a third of the upper and two thirds of the lower blood pressure."""
    shock_index: float | None
    """Heart rate by the upper pressure, where both were read within `TOGETHER`."""
    read_at: datetime | None = None
    """When that blood pressure was read."""


TOGETHER = timedelta(minutes=30)
"""Two readings so far apart are still of one state. Our choice; no published figure was found."""


def reckoned(lines: Sequence[Line]) -> Reckoned:
    """From the last blood pressure and heart rate."""
    pressure, rate = _last(_of(lines, "vital", "blood pressure")), _last(_of(lines, "vital", "heart rate"))
    upper = pressure.entry.number if pressure is not None else None
    if pressure is None or not upper:
        return Reckoned(None, None)
    lower = pressure.entry.second
    mean = round((upper + 2 * lower) / 3) if lower is not None else None
    together = rate is not None and abs(rate.said_at - pressure.said_at) <= TOGETHER
    index = round((rate.entry.number or 0) / upper, 2) if rate is not None and together else None
    return Reckoned(mean, index or None, pressure.said_at)


def night(procedure: Procedure, steps: Sequence[Step], now: datetime) -> Night:
    """The night up to now. `steps` are in the order of time and end at that moment."""
    lines = [step.line for step in steps]
    outcome = _last(_of(lines, "outcome"))
    decisions = tuple(_of(lines, "decision"))
    return Night(
        airway=_last(_of(lines, "airway")),
        vasoactive=_first_drug(procedure, lines, "vasoactive"),
        antibiotic=_first_drug(procedure, lines, "antibiotic"),
        called=tuple({line.entry.detail: line for line in _of(lines, "preparation", *ENDOSCOPY)}.values()),
        decisions=decisions,
        definitive=_last(line for line in decisions if line.entry.value in DEFINITIVE),
        bridge_ends=None if died(outcome) else bridge_ends(procedure, steps),
        cut=_last(line for line in _of(lines, "emergency") if line.entry.value == "cut"),
        drugs=doses(steps),
        infusions=infusions(steps),
        transfused=_transfused(lines, now),
        infused_ml=sum(line.entry.number or 0 for line in _of(lines, "fluid") if line.entry.unit == "mL"),
        came_out_ml=sum(one.net for one in balances(procedure, steps, now)),
        blood_loss=tuple(_of(lines, "blood_loss")),
        complications=complications(steps),
        no_complications=_last(_of(lines, "complication")),
        outcome=outcome,
        reckoned=reckoned(lines),
    )


def died(outcome: Line | None) -> bool:
    """Whether the last word on the outcome is that the patient died."""
    return outcome is not None and outcome.entry.value == "died"


def bridge_ends(procedure: Procedure, steps: Sequence[Step]) -> datetime | None:
    """The first due time of the tube that is in, by the definition; None without a tube or without such a clock."""
    went_in = _last(step.line for step in steps if step.after.tube_in and not step.before.tube_in)
    hours = [due.after_h for clock in procedure.clock if clock.id == BRIDGE for due in clock.due]
    if went_in is None or not hours or not steps[-1].after.tube_in:
        return None
    return went_in.said_at + timedelta(hours=min(hours))


def _first_drug(procedure: Procedure, lines: Sequence[Line], use: Use) -> Line | None:
    names = {one.id for one in procedure.medicine or () if one.use == use}
    return next((line for line in _of(lines, "drug") if line.entry.detail in names), None)


def _transfused(lines: Sequence[Line], now: datetime) -> Transfused:
    blood = [line for line in _of(lines, "blood_product") if line.entry.unit == "unit"]
    recent = [line for line in blood if line.said_at > now - timedelta(hours=1)]
    return Transfused(_summed(blood), _summed(recent), max((line.said_at for line in blood), default=None))


def _summed(lines: Sequence[Line]) -> Mapping[str, Number]:
    found: dict[str, Number] = {}
    for line in lines:
        name = line.entry.detail or "name not said"
        found[name] = found.get(name, 0) + (line.entry.number or 0)
    return MappingProxyType(found)


def _of(lines: Sequence[Line], kind: str, *details: str) -> Iterator[Line]:
    return (line for line in lines if line.entry.kind == kind and (not details or line.entry.detail in details))


def _last(lines: Iterator[Line]) -> Line | None:
    return next(iter(reversed([*lines])), None)
