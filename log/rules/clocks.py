"""Orders and clocks of a definition: what has to come before what, what starts, pauses and stops a clock, and what it
has reached.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from log.basics.ahead import later
from log.basics.patterns import Pattern
from log.definition.procedure import Clock, Order, Procedure
from log.rules.finding import Finding, means
from log.state.tube import Step, TubeState
from log.state.tube_after import next_tube, of_a_tube


@dataclass(frozen=True, slots=True)
class RunningClock:
    """A clock of the definition that has started and not stopped."""

    clock: str
    title: str
    since: datetime
    """When it was started last."""
    number: int
    earlier: timedelta = timedelta(0)
    """The time that it ran before that."""
    paused: bool = False

    def ran(self, now: datetime) -> timedelta:
        """For how long it has run in all."""
        return self.earlier if self.paused else self.earlier + (now - self.since)

    def reaches(self, after_h: float) -> datetime:
        """When it reaches so many hours, if it is not paused."""
        return later(self.since, after_h) - self.earlier


Clocks = Mapping[str, RunningClock]
"""By the clock's id; the paused ones too."""


def clocks_after(procedure: Procedure, running: Clocks, step: Step) -> Clocks:
    """The clocks after a step. A clock of readings starts again with each, the others with the first."""
    after = dict(running)
    for clock in procedure.clock:
        own, at = after.get(clock.id), step.line.said_at
        if any(means(stop, step) for stop in clock.stops):
            after.pop(clock.id, None)
        elif own is not None and not own.paused and any(means(pause, step) for pause in clock.pauses or ()):
            after[clock.id] = replace(own, earlier=own.ran(at), paused=True)
        elif _starts(procedure, clock, step) and (own is None or own.paused or clock.restarts):
            earlier = own.earlier if own is not None and own.paused else timedelta(0)
            after[clock.id] = RunningClock(clock.id, clock.title, at, step.line.number, earlier)
    return after


def _starts(procedure: Procedure, clock: Clock, step: Step) -> bool:
    """A pressure of a balloon that is down is not read again."""
    sites = procedure.tube.meant(step.entry.site) if clock.starts.kind == "pressure" else ()
    return means(clock.starts, step) and (not sites or any(step.after.balloon(site).up for site in sites))


def clocks_if_any(running: Clocks, possible: Sequence[Clocks]) -> Clocks:
    """The clocks that run while a question is open: those that any answer would start, and those that not every answer
    stops, from when they ran before."""
    names = dict.fromkeys(name for one in possible for name in one)
    found = {name: [one.get(name) for one in possible] for name in (*running, *names)}
    return {
        name: each[0] if each[0] is not None and all(one == each[0] for one in each) else running.get(name, first)
        for name, each in found.items()
        if (first := next((one for one in each if one is not None), None)) is not None
    }


def due(
    procedure: Procedure, running: Clocks, now: datetime, said: Callable[[Pattern], bool] = lambda _: False
) -> Iterator[Finding]:
    """Due moments that the running clocks have reached, of each clock the last. `said`: whether an entry was, for what
    silences a reminder."""
    for clock in procedure.clock:
        own = running.get(clock.id)
        if own is None or own.paused:
            continue
        reached = [moment for moment in clock.due if now >= own.reaches(moment.after_h) + _grace(procedure, clock)]
        for moment in sorted(reached, key=lambda moment: moment.after_h)[-1:]:
            if any(map(said, moment.silenced_by or ())):
                continue
            name = due_name(clock, moment.after_h)
            yield Finding(name, own.number, moment.level, moment.message, procedure.cite(moment))


def _grace(procedure: Procedure, clock: Clock) -> timedelta:
    """A number that is read again and again is called overdue only after a while, by the watch as well."""
    plan = procedure.watch
    return timedelta(minutes=plan.late.after_min) if clock.restarts and plan is not None else timedelta(0)


def due_name(clock: Clock, after_h: float) -> str:
    """The rule's name of a clock that has reached a number of hours."""
    return f"{clock.id}-{after_h:g}h"


def required_order(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Finding]:
    """The orders of the definition: reported once, at the first line that came too early. `begun`: the past ones."""
    next_one = step.after.number != step.before.number
    before = next_tube(procedure, step.before) if next_one else step.before
    for order in starting(procedure, step, begun):
        if not kept(order, before):
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


def kept(order: Order, situation: TubeState) -> bool:
    """Whether the last word on what has to come first is the one that is wanted."""
    found = [
        entry
        for (kind, site), entry in situation.latest.items()
        if kind == order.first.kind and order.first.site in (None, site)
    ]
    return bool(found) and all(order.first.has(entry.value) for entry in found)
