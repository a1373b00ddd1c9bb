"""Orders and clocks of a definition: what has to come before what, what starts and stops a clock, and what it has
reached.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.definition.procedure import Clock, Order, Procedure
from log.rules.finding import Finding, means
from log.state.tube import Step, TubeState, next_tube, of_a_tube


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
    """Due moments that the running clocks have reached."""
    for clock in procedure.clock:
        since = running.get(clock.id)
        for moment in clock.due if since is not None else ():
            if since is not None and now - since.since >= timedelta(hours=moment.after_h):
                name = due_name(clock, moment.after_h)
                yield Finding(name, since.number, moment.level, moment.message, procedure.cite(moment))


def due_name(clock: Clock, after_h: float) -> str:
    """The rule's name of a clock that has reached a number of hours."""
    return f"{clock.id}-{after_h:g}h"


def required_order(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Finding]:
    """The orders of the definition: reported once, at the first line that came too early. `begun`: the past ones."""
    next_one = step.after.number != step.before.number
    before = next_tube(procedure, step.before) if next_one else step.before
    for order in starting(procedure, step, begun):
        if not _done(order, before):
            yield Finding(order.id, step.line.number, order.level, order.message, procedure.cite(order))


def starting(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Order]:
    """The orders of which this step is the first to be what comes second."""
    for order in procedure.order:
        if order.id not in begun and means(order.then, step) and step.entry.value not in ("off", "down"):
            yield order


def begun_after(procedure: Procedure, begun: frozenset[str], step: Step) -> frozenset[str]:
    """The orders that are past after a step."""
    still = still_begun(procedure, begun, step)
    return still.union(order.id for order in starting(procedure, step, still))


def still_begun(procedure: Procedure, begun: frozenset[str], step: Step) -> frozenset[str]:
    """The orders that are still past: what was kept for one tube says nothing of the next, and once a film no longer
    vouches, what needs one needs another."""
    over: set[str] = set()
    if step.after.number != step.before.number:
        over |= {order.id for order in procedure.order if of_a_tube(procedure, order.then.kind)}
    if lost_its_place(step):
        over |= {order.id for order in procedure.order if order.first.kind in ("xray", "position_check")}
    return begun - over if over else begun


def lost_its_place(step: Step) -> bool:
    """Whether a film vouched for the position until this line."""
    before, after = step.before.film, step.after.film
    return before is not None and before.confirmed_once and not before.void and (after is None or bool(after.void))


def _done(order: Order, before: TubeState) -> bool:
    """Whether the last word on what had to come first is the one that is wanted."""
    found = [
        entry
        for (kind, site), entry in before.latest.items()
        if kind == order.first.kind and order.first.site in (None, site)
    ]
    return bool(found) and all(order.first.has(entry.value) for entry in found)
