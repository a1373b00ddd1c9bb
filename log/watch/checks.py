"""Repeated checks, and things that were begun and wait for their end: a film that nobody has read, air under
which nothing hangs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from log.basics.ahead import later
from log.basics.patterns import Pattern
from log.definition.procedure import Procedure
from log.definition.watch_plan import Check, WatchPlan
from log.rules import means
from log.rules.finding import first_air
from log.state.tube import Step
from log.watch.item import Item, when_due


def of_checks(
    procedure: Procedure, plan: WatchPlan, steps: Sequence[Step], now: datetime, late: timedelta
) -> Iterator[Item]:
    """A check that is due every so many hours."""
    for check in plan.check:
        since = _last_done(check, steps)
        if since is None:
            continue
        title, due_at = check.title, later(since, check.every_h)
        if not check.done:  # nobody can say that it was done: the time that has just come, or the next
            times = math.ceil((now - late - since) / timedelta(hours=1) / check.every_h)
            due_at = later(since, check.every_h * max(times, 1))
            title = f"{title} (not logged)"
        yield Item(check.id, title, due_at, when_due(due_at, now, late), procedure.cite(check), "low", check.every_h)


def _last_done(check: Check, steps: Sequence[Step]) -> datetime | None:
    """When the check was last done, or what it is about began; None while there is nothing to check."""
    since: datetime | None = None
    for step in steps:
        if any(means(stop, step) for stop in check.stops):
            since = None
        elif (since is None and means(check.starts, step)) or (
            since is not None and any(means(done, step) for done in check.done)
        ):
            since = step.line.said_at
    return since


def of_waiting(
    procedure: Procedure, plan: WatchPlan, steps: Sequence[Step], now: datetime, late: timedelta
) -> Iterator[Item]:
    """Things that have waited for too long by now, once each."""
    for one in plan.waiting or ():
        since: datetime | None = None
        for step in steps:
            if any(means(pattern, step) for pattern in one.until):
                since = None
            elif since is None and _begins(one.since, step):
                since = step.line.said_at
        due_at = since + timedelta(minutes=one.after_min) if since is not None else None
        if due_at is not None and due_at <= now:
            yield Item(one.id, one.title, due_at, when_due(due_at, now, late), procedure.cite(one), one.level)


def _begins(pattern: Pattern, step: Step) -> bool:
    """Air begins in a flat balloon, traction on a tube that had none: topping up and reading again begin nothing."""
    if pattern.kind == "volume_in":
        return first_air(step, pattern.site)
    return means(pattern, step) and (pattern.kind != "traction" or step.before.traction is None)
