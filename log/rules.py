"""The only place with clinical rules. Each is a pure function from one step of the case, with the situation before and
after it, to findings; none refuses an entry.

Numbers, priorities, sources and wording stand in the definition; what is compared with what stands here. A finding
sits beside the line that caused it, and disappears by itself when that line is corrected.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.procedure import Backed, Clock, Level, Limit, NumberSlot, Order, Pattern, Procedure
from log.record import Line
from log.situation import Situation, Step, matches
from log.spoken import Entry


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule's word about the record."""

    rule: str
    number: int | None
    """The line it stands beside."""
    level: Level
    message: str
    source: str
    """Tag and citation, as printed."""


Rule = Callable[[Procedure, Step], Iterator[Finding]]


def _finding(procedure: Procedure, name: str, backed: Backed, line: Line, message: str) -> Finding:
    return Finding(name, line.number, backed.level, message, procedure.cite(backed))


def _ruled(procedure: Procedure, name: str, line: Line, what: str = "") -> Finding:
    rule = procedure.rules[name]
    return _finding(procedure, name, rule, line, f"{what}: {rule.message}" if what else rule.message)


def _limited(procedure: Procedure, name: str, line: Line, value: float, what: str = "") -> Iterator[Finding]:
    """A finding if `value` breaks the limit of this name."""
    limit: Limit = procedure.limits[name]
    side = limit.broken_by(value)
    if side is not None:
        text = f"{what or limit.about} {value:g} {limit.unit} is {side} the limit ({limit.bounds}). {limit.advice}"
        yield _finding(procedure, name, limit, line, text)


def plausible(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """A number nobody would expect in this place is more often a slip than a fact."""
    kind = procedure.kind_named(step.entry.kind)
    if kind is None or kind.role == "command":
        return
    slot = procedure.slot_of(step.entry)
    number = step.entry.number
    if isinstance(slot, NumberSlot) and slot.plausible is not None and number is not None:
        low, high = slot.plausible
        if not low <= number <= high:
            what = f"{number:g} {step.entry.unit or ''} ({low:g} to {high:g} expected)"
            yield _ruled(procedure, "implausible", step.line, what)


def first_gastric_volume(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Only a little air may be in the gastric balloon until an X-ray shows it below the diaphragm."""
    limit = procedure.limits["first_gastric_volume"]
    if _adds_air(step, "gastric") and step.before.xray != "confirmed":
        volume = step.after.balloon("gastric").volume
        yield from _limited(procedure, "first_gastric_volume", step.line, volume)
        if volume == 0:
            what = f"gastric balloon up before X-ray confirmation, volume not said ({limit.bounds}). {limit.advice}"
            yield _finding(procedure, "first_gastric_volume", limit, step.line, what)


def x_ray_wrong(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """An X-ray that does not confirm the position, with air in the gastric balloon."""
    told = step.entry.kind == "xray" and step.entry.value == "not_confirmed"
    if (told or _adds_air(step, "gastric")) and step.after.xray == "not_confirmed" and step.after.balloon("gastric").up:
        yield _ruled(procedure, "x_ray_wrong", step.line)


def gastric_volume(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Above the tube's range at any time; below it when traction or the oesophageal balloon relies on it."""
    limit = procedure.limits["gastric_volume"]
    volume = step.after.balloon("gastric").volume
    side = limit.broken_by(volume)
    if side == "above" and _adds_air(step, "gastric"):
        yield from _limited(procedure, "gastric_volume", step.line, volume)
    relied_on = step.entry.kind == "traction" and step.entry.value != "off" and step.before.traction is None
    unknown = volume == 0 and step.after.balloon("gastric").said_up
    if side == "below" and relied_on and not unknown:
        yield from _limited(procedure, "gastric_volume", step.line, volume, "traction with a gastric volume of")
    if side == "below" and _first_air(step, "oesophageal") and volume > 0:
        what = "oesophageal balloon inflated on a gastric volume of"
        yield from _limited(procedure, "gastric_volume", step.line, volume, what)


def gastric_first(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The gastric balloon anchors the tube; without it the oesophageal balloon can block the airway."""
    if _adds_air(step, "oesophageal") and not step.before.balloon("gastric").up and step.entry.site != "both":
        yield _ruled(procedure, "gastric_first", step.line)


def before_oesophageal(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction and its mark belong before the first air into the oesophageal balloon."""
    if _first_air(step, "oesophageal"):
        if step.before.traction is None:
            yield _ruled(procedure, "traction_first", step.line)
        elif step.before.mark is None:
            yield _ruled(procedure, "mark_missing", step.line)


def oesophageal_pressure(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The ceiling, for every reading that may be of the oesophageal balloon; the working range while it is up."""
    number = step.entry.number
    if step.entry.kind != "pressure" or number is None or step.entry.site == "gastric":
        return
    if step.entry.site is None:
        yield _ruled(procedure, "site_not_said", step.line)
        yield from _limited(procedure, "oesophageal_ceiling", step.line, number, "pressure (balloon not said)")
        return
    ceiling = list(_limited(procedure, "oesophageal_ceiling", step.line, number))
    yield from ceiling
    if not ceiling and number > 0 and step.before.balloon("oesophageal").up:
        yield from _limited(procedure, "oesophageal_pressure", step.line, number)


def insertion_depth(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """How deep the tube is when the first air goes into the gastric balloon."""
    if _first_air(step, "gastric") and step.before.depth is not None and step.before.depth.number is not None:
        yield from _limited(procedure, "insertion_depth", step.line, step.before.depth.number)


def traction(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction is a mass and a kind, never just "on"."""
    if step.entry.kind != "traction" or step.entry.value == "off":
        return
    if step.entry.number is None:
        yield _ruled(procedure, "traction_mass_not_said", step.line)
        return
    yield from _limited(procedure, "traction_mass", step.line, step.entry.number)
    if step.entry.detail is None:
        yield _ruled(procedure, "traction_kind_not_said", step.line)


def mark_migration(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """How far the tube has come out or gone in at the lips since traction was put on."""
    mark = step.before.mark
    if step.entry.kind != "depth" or mark is None or mark.number is None or step.entry.number is None:
        return
    if mark.site is not None and step.entry.site is not None and mark.site != step.entry.site:
        yield _ruled(procedure, "mark_not_comparable", step.line)
        return
    moved = step.entry.number - mark.number
    what = f"mark {'further in' if moved > 0 else 'further out'} than {mark.number:g} cm: moved"
    yield from _limited(procedure, "mark_migration", step.line, abs(moved), what)


def volumes_add_up(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Nobody can take out more than went in."""
    entry = step.entry
    if entry.kind == "volume_out" and entry.site is not None and entry.number is not None:
        before = step.before.balloon(entry.site)
        if entry.number > before.volume and not before.said_up:
            yield _ruled(procedure, "more_out_than_in", step.line, f"{entry.number:g} of {before.volume:g} mL")


def removal_order(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction off, oesophageal balloon down, gastric balloon down, tube out."""
    if _empties(step, "gastric"):
        if step.after.balloon("oesophageal").up:
            yield _ruled(procedure, "gastric_down_first", step.line)
        if step.after.traction is not None:
            yield _ruled(procedure, "traction_still_on", step.line)
    out = step.entry.kind == "tube" and step.entry.value == "out"
    still_up = [site for site in procedure.tube.balloons if step.before.balloon(site).up]
    if out and still_up:
        yield _ruled(procedure, "tube_out_while_up", step.line, " and ".join(still_up))


def required_order(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Finding]:
    """The orders of the definition: told once, at the first line that came too early. `begun`: those that are past."""
    for order in starting(procedure, step, begun):
        if not _done(order, step.before):
            yield _finding(procedure, order.id, order, step.line, order.message)


def starting(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Order]:
    """The orders of which this step is the first to be what comes second."""
    for order in procedure.order:
        if order.id not in begun and means(order.then, step) and step.entry.value not in ("off", "down"):
            yield order


@dataclass(frozen=True, slots=True)
class RunningClock:
    """A clock of the definition that has started and not stopped."""

    clock: str
    title: str
    since: datetime
    number: int


Clocks = Mapping[str, RunningClock]
"""By the clock's id."""


def clocks_after(procedure: Procedure, running: Clocks, step: Step) -> Clocks:
    """The clocks that run after a step. A clock of readings starts again with each, the others with the first."""
    after = dict(running)
    for clock in procedure.clock:
        if any(means(stop, step) for stop in clock.stops):
            after.pop(clock.id, None)
        elif means(clock.starts, step) and (clock.restarts or clock.id not in after):
            after[clock.id] = RunningClock(clock.id, clock.title, step.line.said_at, step.line.number)
    return after


def due(procedure: Procedure, running: Clocks, now: datetime) -> Iterator[Finding]:
    """What the running clocks have reached."""
    for clock in procedure.clock:
        since = running.get(clock.id)
        for moment in clock.due if since is not None else ():
            if since is not None and now - since.since >= timedelta(hours=moment.after_h):
                name = due_name(clock, moment.after_h)
                yield Finding(name, since.number, moment.level, moment.message, procedure.cite(moment))


def due_name(clock: Clock, after_h: float) -> str:
    """The rule's name of a clock that has reached a number of hours."""
    return f"{clock.id}-{after_h:g}h"


def stepwise(procedure: Procedure, step: Step, begun: Set[str]) -> tuple[Finding, ...]:
    """All that the rules say of one step."""
    found = [finding for rule in RULES for finding in rule(procedure, step)]
    return (*found, *required_order(procedure, step, begun))


def _done(order: Order, before: Situation) -> bool:
    """Whether the last word on what had to come first is the one that is wanted."""
    found = [
        entry
        for (kind, site), entry in before.latest.items()
        if kind == order.first.kind and order.first.site in (None, site)
    ]
    return bool(found) and all(order.first.value in (None, entry.value) for entry in found)


def means(pattern: Pattern, step: Step) -> bool:
    """Whether a line is what a pattern means. First air and last air count however they were said."""
    if matches(pattern, step.entry):
        return True
    sites = (pattern.site,) if pattern.site else tuple(step.after.balloons)
    if pattern.kind == "volume_in" and pattern.value is None:
        return any(_adds_air(step, site) for site in sites)
    return (pattern.kind, pattern.value) == ("balloon", "down") and any(_empties(step, site) for site in sites)


def _adds_air(step: Step, site: str) -> bool:
    """Whether this line put air into the balloon, or said that it is up."""
    before, after = step.before.balloon(site), step.after.balloon(site)
    if before is after:  # most lines are about something else
        return False
    return after.volume > before.volume or (after.said_up and not before.said_up)


def _first_air(step: Step, site: str) -> bool:
    return _adds_air(step, site) and not step.before.balloon(site).up


def _empties(step: Step, site: str) -> bool:
    return step.before.balloon(site).up and not step.after.balloon(site).up


RULES: tuple[Rule, ...] = (
    first_gastric_volume,
    x_ray_wrong,
    gastric_first,
    before_oesophageal,
    oesophageal_pressure,
    gastric_volume,
    insertion_depth,
    traction,
    mark_migration,
    volumes_add_up,
    removal_order,
    plausible,
)


def as_entry_text(procedure: Procedure, entry: Entry) -> str:
    """An entry in one line of plain words: "gastric volume in 50 mL"."""
    value = f"{entry.value:g}" if isinstance(entry.value, int | float) else entry.value
    at = None if entry.second is None else f"{entry.second:g}"
    pair = at is not None and entry.unit == entry.second_unit  # "90/60 mmHg", but "12 mmHg at 100 mL"
    words = (
        entry.site,
        procedure.title_of(entry.kind).lower(),
        f"{value}/{at}" if pair else value,
        entry.unit,
        *(("at", at, entry.second_unit) if at is not None and not pair else ()),
        f"({entry.detail})" if entry.detail else None,
    )
    return " ".join(str(word).replace("_", " ") for word in words if word is not None)
