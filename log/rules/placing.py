"""Where the tube lies: depth, position checks, resistance, X-ray, and the pressure against the one read outside the
patient at the same volume.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Number
from log.definition.procedure import Procedure
from log.rules.finding import Finding, Rule, adds_air, finding, first_air, is_said, limited, ruled
from log.state.preparation import Pressures
from log.state.tube import Situation, Step

COMPARED = "gastric"
"""The balloon whose pressure tells whether it lies in the stomach."""


def insertion_depth(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """How deep the tube is when the first air goes into the gastric balloon."""
    if first_air(step, "gastric") and step.before.depth is not None and step.before.depth.number is not None:
        yield from limited(procedure, "insertion_depth", step.line, step.before.depth.number)


def first_gastric_volume(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Only a little air may be in the gastric balloon until an X-ray shows it below the diaphragm."""
    limit = procedure.limits["first_gastric_volume"]
    if adds_air(step, "gastric") and step.before.xray != "confirmed":
        volume = step.after.balloon("gastric").volume
        yield from limited(procedure, "first_gastric_volume", step.line, volume)
        if volume == 0:
            what = f"gastric balloon up before X-ray confirmation, volume not said ({limit.bounds}). {limit.advice}"
            yield finding(procedure, "first_gastric_volume", limit, step.line, what)


def x_ray_wrong(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """An X-ray that does not confirm the position, with air in the gastric balloon."""
    told = is_said(step, "xray", "not_confirmed")
    if (told or adds_air(step, "gastric")) and step.after.xray == "not_confirmed" and step.after.balloon("gastric").up:
        yield from ruled(procedure, "x_ray_wrong", step.line)


def position_failed(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Air into the gastric balloon though a check spoke against the stomach and neither its opposite nor an X-ray has
    taken that back."""
    if step.before.xray != "confirmed" and adds_air(step, "gastric"):
        against = failed_checks(procedure, step.before)
        if against:
            yield from ruled(procedure, "position_failed", step.line, " and ".join(against))


def failed_checks(procedure: Procedure, situation: Situation) -> tuple[str, ...]:
    """The position checks that speak against the stomach: said to have failed, and not taken back since."""
    checks = situation.prepared.checks
    if not procedure.position:
        return tuple(how or "position check" for how, result in checks[-1:] if result == "failed")
    taken_back_by = {position.failed: position.passed for position in procedure.position}
    places = {how: place for place, (how, _) in enumerate(checks)}
    return tuple(
        how or "position check"
        for place, (how, result) in enumerate(checks)
        if result == "failed" and places.get(taken_back_by.get(how, ""), -1) < place
    )


def resistance(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """A balloon in the stomach fills against little resistance."""
    if is_said(step, "resistance", "felt"):
        yield from ruled(procedure, "resistance", step.line)


def reading_in_place(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """What is said as a reading outside the patient while the tube is in cannot be one."""
    if is_said(step, "manometry") and step.before.tube_in:
        yield from ruled(procedure, "manometry_in_place", step.line)


def pressure_rise(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The gastric pressure in the patient against the one at the same volume outside. The rule is "more than": exactly
    at the limit only says so. Where there is nothing to compare with, it says that, once for each volume (once in
    all if nothing was read outside), and never that all is well."""
    entry, limit = step.entry, procedure.limits.get("gastric_pressure_rise")
    here = entry.kind == "pressure" and entry.site in (COMPARED, "both") and step.before.tube_in
    if limit is None or not here or entry.number is None:
        return
    balloon, table = step.before.balloon(COMPARED), step.before.prepared.outside.get(COMPARED, {})
    volume = 0 if balloon.unmeasured else balloon.volume
    outside = outside_pressure(procedure, table, volume)
    if outside is None:
        if balloon.pressure is None or (table and balloon.read_at != balloon.volume):
            yield from ruled(procedure, "rise_not_comparable", step.line, _why(table, volume))
        return
    rise = round(entry.number - outside, 6)  # without the dust of binary fractions, which would be "more than"
    what = f"gastric pressure {entry.number:g} mmHg against {outside:g} outside at {volume:g} mL: higher by"
    yield from limited(procedure, "gastric_pressure_rise", step.line, rise, what)
    if rise == limit.max:
        yield from ruled(procedure, "rise_at_limit", step.line, f"{what} {rise:g} mmHg")


def outside_pressure(procedure: Procedure, table: Pressures, volume: Number) -> float | None:
    """The pressure (mmHg) that was read outside at this volume (mL): itself, or, where the definition allows it, on the
    straight line between its neighbours. None if there is none, or if the volume is not known."""
    if volume <= 0:
        return None
    if volume in table or procedure.manometry is None or not procedure.manometry.interpolate:
        return table.get(volume)
    below = max((read for read in table if read < volume), default=None)
    above = min((read for read in table if read > volume), default=None)
    if below is None or above is None:
        return None
    return table[below] + (table[above] - table[below]) * (volume - below) / (above - below)


def _why(table: Pressures, volume: Number) -> str:
    if volume <= 0:
        return "its volume is not known by the log"
    if not table:
        return f"no pressure was read outside the patient at {volume:g} mL or any volume"
    read = ", ".join(f"{one:g}" for one in sorted(table))
    return f"no pressure was read outside the patient at {volume:g} mL, only at {read}"


RULES: tuple[Rule, ...] = (
    first_gastric_volume,
    x_ray_wrong,
    position_failed,
    resistance,
    insertion_depth,
    reading_in_place,
    pressure_rise,
)
