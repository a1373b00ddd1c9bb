"""Urgent findings that stand and that nobody has acknowledged: after a while they are overdue like anything else."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from log.definition.watch_plan import WatchPlan
from log.facts.record import Record
from log.rules.course import Course
from log.watch.item import Item, when_due


def of_ignored(plan: WatchPlan, course: Course, record: Record, now: datetime, late: timedelta) -> Iterator[Item]:
    """One for each that is high and has stood for longer than the definition's time. `course`: up to now."""
    after = timedelta(minutes=plan.ignored.after_min) if plan.ignored is not None else None
    told = (one.raised for one in record.findings if one.raised.logged_at <= now)
    raised = {(one.rule, one.number, one.message): one.logged_at for one in told}
    for found in course.findings(now) if after is not None else ():
        seen = record.acknowledgements.get((found.rule, found.number, found.message))
        if after is None or found.level != "high" or found.number is None or (seen and seen.logged_at <= now):
            continue
        due_at = raised.get((found.rule, found.number, found.message), now) + after
        if due_at <= now:
            title = f"HIGH, not dealt with and not acknowledged: {found.message.partition('. ')[0]}"
            yield Item(f"{found.rule}-ignored", title, due_at, when_due(due_at, now, late), found.source, "high")
