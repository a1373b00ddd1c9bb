"""Every number of a case beside the limit it is held against: inside, at the bound, or outside, and by how much.

There is one generator, `compared`, and it goes by what each limit says it is `of`. A number outside its bounds is a
finding; the same numbers are the table of the debriefing, and screens, chart and hand-over ask here as well which
limits hold for what they show.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from log.basics.entry import Number
from log.basics.units import held_against
from log.definition.limits import Limit, Of, What, When
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.rules.bounds import Compared, lowest
from log.rules.finding import Finding, adds_air, first_air, is_said
from log.state.film import moved_cm
from log.state.preparation import Pressures
from log.state.tube import Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Compared):
    """A number that one line gave, and one limit."""

    line: int
    at: datetime


@dataclass(frozen=True, slots=True)
class _Number:
    """A number that a line gives a limit to hold."""

    value: float
    what: str = ""
    """ "" for what the limit says it is about."""
    counts: tuple[Literal["low", "high"], ...] = ("low", "high")
    """The bounds that it has to keep here."""


def measured(procedure: Procedure, steps: Sequence[Step]) -> tuple[Measured, ...]:
    """All of a case, in the order in which things happened."""
    return tuple(one for step in steps for one in compared(procedure, step))


def compared(procedure: Procedure, step: Step) -> Iterator[Measured]:
    """The comparisons of one line. A limit that nobody has set holds nothing, and one that yields to another
    (`unless`, `instead_of`) says nothing of a number that breaks the other; that other is nothing to go by else."""
    touched = [one for one in procedure.held if _touches(one[2], step)]
    found = [(of, one) for name, limit, of in touched for one in _against(procedure, name, limit, of, step)]
    broken = {one.limit: of.instead_of for of, one in found if one.side == "outside"} if found else {}
    told = ((of, one) for of, one in found if of.instead_of is None or one.limit in broken)
    return (one for of, one in told if of.unless not in broken and one.limit not in broken.values())


def _touches(of: Of, step: Step) -> bool:
    """Whether a line could give a limit its number. What is in a balloon also counts when something relies on it."""
    return of.kind == step.entry.kind or of.what == "total" or of.when == "first air"


def _against(procedure: Procedure, name: str, limit: Limit, of: Of, step: Step) -> Iterator[Measured]:
    for number in NUMBERS[of.what](procedure, limit, of, step):
        low = lowest(limit, step.after) if "low" in number.counts else None
        high = limit.max if "high" in number.counts else None
        if low is not None or high is not None:
            yield Measured(
                line=step.line.number,
                at=step.line.said_at,
                what=number.what or limit.about,
                value=number.value,
                unit=limit.unit,
                limit=name,
                low=low,
                high=high,
            )


def beyond(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The findings of all limits: what one line gives that is outside, and air of which nobody said how much."""
    for one in compared(procedure, step):
        if one.beyond:
            amount = f"{one.what} {one.value:g} {one.unit} is {one.beyond} the limit"
            yield _finding(procedure, one.limit, step, amount)
    if step.before.balloons is step.after.balloons:
        return
    for name, _, of in procedure.held:
        if of.what == "total" and of.when == "before the x-ray" and _fills(of, step) and not _volume(of, step):
            yield _finding(procedure, name, step, f"{of.site} balloon up before X-ray confirmation, volume not said")


def _finding(procedure: Procedure, name: str, step: Step, what: str) -> Finding:
    limit = procedure.limits[name]
    text = f"{what} ({limit.bounds}). {limit.advice}"
    return Finding(name, step.line.number, limit.level, text, procedure.cite(limit))


# ---- which number a line gives -------------------------------------------------------------------------------------


def _said(procedure: Procedure, limit: Limit, of: Of, step: Step) -> Iterator[_Number]:
    """The number of the entry itself, or the last one before the first air."""
    if of.when == "first air":
        last = step.before.last(of.kind)
        if last is not None and last.number is not None and first_air(step, procedure.tube.stomach):
            yield _Number(last.number)
        return
    entry = step.entry
    if entry.kind != of.kind or entry.number is None or of.detail not in (None, entry.detail):
        return
    if not WHEN[of.when](step, of):
        return
    if of.site is None or of.site in procedure.tube.meant(entry.site):
        yield _Number(held_against(entry.number, entry.unit, limit.unit))
    elif entry.site is None and of.when == "always":  # it may be there: nobody said where
        place = "balloon" if of.site in procedure.tube.balloons else "place"
        yield _Number(entry.number, f"{procedure.title_of(of.kind).lower()} ({place} not said)")


def _total(procedure: Procedure, limit: Limit, of: Of, step: Step) -> Iterator[_Number]:
    """The volume in the balloon whenever air is added, and whenever something relies on it. Where it is not certain,
    the most that it may be is held against the upper bound and the least against the lower one."""
    balloon, confirmed = step.after.balloon(of.site), step.before.confirmed
    least, most = balloon.volume, balloon.most
    doubt = f"{limit.about}, not confirmed, up to" if balloon.may_hold else ""
    if of.when == "before the x-ray":
        if _fills(of, step) and most:
            yield _Number(most, doubt, counts=("high",))
        return
    grows = adds_air(step, of.site) and most and (confirmed or limit.broken_by(most) == "above")
    if grows or _back_from(procedure, of, step):
        yield _Number(most, doubt, counts=("high",))
    if of.site != procedure.tube.stomach:
        return
    said_elsewhere = not balloon.up and "traction_without_anchor" in procedure.rules
    if _put_on(step) and not said_elsewhere and (least or not balloon.up or balloon.may_hold):
        yield _Number(least, f"traction with a {of.site} volume of", ("low",))
    for other in procedure.tube.balloons:
        if other != of.site and first_air(step, other) and (least or balloon.may_hold):
            yield _Number(least, f"{other} balloon inflated on a {of.site} volume of", ("low",))


def _back_from(procedure: Procedure, of: Of, step: Step) -> bool:
    """Whether air was let out of a balloon that was beyond the limit this one yields to, so that it counts again."""
    far, before, after = (
        procedure.limits.get(of.unless or ""),
        step.before.balloon(of.site),
        step.after.balloon(of.site),
    )
    return far is not None and 0 < after.most < before.most and far.broken_by(before.most) == "above"


def _moved(procedure: Procedure, limit: Limit, of: Of, step: Step) -> Iterator[_Number]:
    moved = movement(step)
    if moved is not None:
        yield _Number(abs(moved), movement_text(step, moved))


def _rise(procedure: Procedure, limit: Limit, of: Of, step: Step) -> Iterator[_Number]:
    number = step.entry.number
    outside = outside_at(procedure, of.site, step) if read_in_patient(procedure.tube, of, step) else None
    if outside is not None and number is not None:
        volume = step.before.balloon(of.site).volume
        what = f"{of.site} pressure {number:g} mmHg against {outside:g} outside at {volume:g} mL: higher by"
        yield _Number(round(number - outside, 6), what)  # without the dust, which would be "more than"


NUMBERS: Mapping[What, Callable[[Procedure, Limit, Of, Step], Iterator[_Number]]] = MappingProxyType(
    {"said": _said, "total": _total, "moved": _moved, "rise": _rise}
)

WHEN: Mapping[When, Callable[[Step, Of], bool]] = MappingProxyType(
    {
        "always": lambda step, of: True,
        "before the x-ray": lambda step, of: not step.before.confirmed,
        "further air": lambda step, of: step.before.balloon(of.site).most > 0 and adds_air(step, of.site),
        "balloon up": lambda step, of: (step.entry.number or 0) > 0 and step.before.balloon(of.site).up,
        "first reading": lambda step, of: step.before.tube_in and step.before.balloon(of.site).pressure is None,
    }
)
"""Whether a number that was said counts."""


def _fills(of: Of, step: Step) -> bool:
    return not step.before.confirmed and adds_air(step, of.site)


def _volume(of: Of, step: Step) -> Number:
    return step.after.balloon(of.site).most


def _put_on(step: Step) -> bool:
    return is_said(step, "traction") and step.entry.value != "off" and step.before.traction is None


def movement(step: Step) -> Number | None:
    """Centimetres from the first depth under traction to this one, further in above nought; None where this line is no
    depth, or cannot be compared."""
    mark = step.before.mark
    return moved_cm(mark, step.entry) if is_said(step, "depth") and mark is not None else None


def movement_text(step: Step, moved: Number) -> str:
    """The mark and its direction, as they stand before the centimetres."""
    mark = step.before.mark
    side = "further in than" if moved > 0 else "further out than" if moved < 0 else "still at"
    return f"mark {side} {mark.number if mark is not None else 0:g} cm: moved"


def read_in_patient(tube: Tube, of: Of, step: Step) -> bool:
    """Whether a line is a pressure of this balloon, read with the tube in."""
    said = is_said(step, of.kind) and step.entry.number is not None
    return said and step.before.tube_in and of.site in tube.meant(step.entry.site)


def outside_at(procedure: Procedure, site: str | None, step: Step) -> float | None:
    """The pressure (mmHg) that was read outside the patient at the volume that is in the balloon now."""
    balloon = step.before.balloon(site)
    table = step.before.prepared.outside.get(site or "", {})
    return outside_pressure(procedure, table, balloon.measured)


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
