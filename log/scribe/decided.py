"""New facts and the case with them: what the rules say of it then becomes facts as well."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from log.facts.events import Fact, FindingRaised, FindingSettled
from log.facts.record import Record, fold
from log.rules import Finding, due_name
from log.rules.course import Course, most_urgent_first
from log.rules.until_ended import ENDED_BY_ENTRIES


@dataclass(frozen=True, slots=True)
class Decided:
    """New facts, in order, and the case with them: whoever writes the facts keeps the rest as it is."""

    facts: tuple[Fact, ...]
    record: Record
    course: Course


def with_findings(course: Course, record: Record, facts: tuple[Fact, ...], now: datetime) -> Decided:
    """These facts, and what the rules say of the case with them. `course` is that of `record`."""
    return checked(course, added(course, record, facts), now)


def rechecked(course: Course, record: Record, facts: tuple[Fact, ...], now: datetime) -> Decided:
    """These facts, and all that the rules say now of the whole case, word for word: the program may be a newer one."""
    new = added(course, record, facts)
    return _and(
        new, _differences(new.record, map(_as_finding, new.record.open_findings), new.course.findings(now), now)
    )


def added(course: Course, record: Record, facts: tuple[Fact, ...]) -> Decided:
    """These facts alone. `course` is that of `record`."""
    after = fold(facts, record)
    return Decided(facts, after, course.follow(record, after, facts))


def _and(new: Decided, found: tuple[Fact, ...]) -> Decided:
    """With findings raised and settled as well; they change no line."""
    return Decided((*new.facts, *found), fold(found, new.record), new.course)


def checked(course: Course, new: Decided, now: datetime) -> Decided:
    """With what the rules say of the case that they did not say of its course before, and the other way round."""
    then = new.course
    changed = then.changed_since(course)
    known = [found for stage in course.stages[changed:] for found in stage.findings]
    current = [found for stage in then.stages[changed:] for found in stage.findings]
    running = {due_name(clock, due.after_h) for clock in course.procedure.clock for due in clock.due}
    known_due = [_as_finding(raised) for raised in new.record.open_findings if raised.rule in running]
    known += (*course.end.standing.values(), *known_due)
    current += (*then.end.standing.values(), *then.due(now))
    return _and(new, _differences(new.record, known, current, now))


def _as_finding(raised: FindingRaised) -> Finding:
    return Finding(raised.rule, raised.number, raised.level, raised.message, raised.source)


def _differences(
    record: Record, known: Iterable[Finding], current: Iterable[Finding], now: datetime
) -> tuple[Fact, ...]:
    """The facts that lead from the findings that were known to the current ones."""
    old = {(f.rule, f.number, f.message): f for f in known}
    new = {(f.rule, f.number, f.message): f for f in most_urgent_first(current)}
    settled = tuple(
        FindingSettled(logged_at=now, rule=f.rule, number=f.number, message=f.message, how=_how_settled(record, f))
        for key, f in old.items()
        if key not in new
    )
    raised = tuple(
        FindingRaised(logged_at=now, rule=f.rule, number=f.number, level=f.level, message=f.message, source=f.source)
        for key, f in new.items()
        if key not in old
    )
    return settled + raised


def _how_settled(record: Record, found: Finding) -> str:
    if found.number is None:
        return "no longer holds"
    line = record.line(found.number)
    if line.status == "struck":
        return f"line {found.number} was struck"
    if found.rule in ENDED_BY_ENTRIES:
        return "a later entry ended it, or the log was corrected"
    return f"line {found.number} was corrected" if line.changes else "the log was completed or corrected"
