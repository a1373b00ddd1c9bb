"""New facts and the case with them: what the rules say of it then becomes facts as well."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Literal

from log.definition.procedure import Clock, Procedure
from log.facts.events import Ended, Fact, FindingRaised, FindingSettled
from log.facts.record import Record, fold
from log.rules import Finding, due_name
from log.rules.course import Course, Stage, most_urgent_first
from log.rules.life import Ending
from log.state.tube import matches


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
    return _and(new, _differences(new, now))


def added(course: Course, record: Record, facts: tuple[Fact, ...]) -> Decided:
    """These facts alone. `course` is that of `record`."""
    after = fold(facts, record)
    return Decided(facts, after, course.follow(record, after, facts))


def _clocks(procedure: Procedure) -> dict[str, Clock]:
    """The clock of each moment that one can reach, by the name of its rule."""
    return {due_name(clock, due.after_h): clock for clock in procedure.clock for due in clock.due}


def _moments_over(
    clocks: Mapping[str, Clock], stages: Sequence[Stage], reached: Iterable[Finding], due: Iterable[Finding]
) -> Iterator[Ending]:
    """The ends of moments that a clock had reached: by the line that stopped, paused or restarted it, or that said what
    its reminder waits for; or it has reached the next. A correction is no end."""
    now = {(clocks[one.rule].id, one.number) for one in due}
    for found in reached:
        by = next((stage.line.number for stage in stages if _ends(clocks[found.rule], found, stage)), None)
        if by is not None:
            yield Ending(found, by, "ended")
        elif found.number is not None and (clocks[found.rule].id, found.number) in now:
            yield Ending(found, found.number, "said anew")


def _ends(clock: Clock, found: Finding, stage: Stage) -> bool:
    before, after = stage.before.clocks.get(clock.id), stage.after.clocks.get(clock.id)
    ran = before is not None and before.number == found.number and not before.paused
    if ran and (after is None or after.paused or after.number != found.number):
        return True
    silencing = [
        one for due in clock.due if due_name(clock, due.after_h) == found.rule for one in due.silenced_by or ()
    ]
    return stage.line.status == "stands" and any(matches(one, stage.line.entry) for one in silencing)


def _and(new: Decided, found: tuple[Fact, ...]) -> Decided:
    """With findings raised and settled as well; they change no line."""
    return Decided((*new.facts, *found), fold(found, new.record), new.course)


def checked(course: Course, new: Decided, now: datetime) -> Decided:
    """With what the rules say of the case that they did not say of its course before, and the other way round."""
    then = new.course
    first = then.changed_since(course)
    old, current = _lives(course.stages[first:]), _lives(then.stages[first:])
    clocks, due = _clocks(course.procedure), then.due(now)
    reached = [_as_finding(raised) for raised in new.record.open_findings if raised.rule in clocks]
    old |= dict.fromkeys(reached, RAISED)
    current |= {one.finding: _Life(False, one) for one in _moments_over(clocks, then.stages[first:], reached, due)}
    current |= dict.fromkeys(due, RAISED)
    return _and(new, _told(new.record, old, current, now))


@dataclass(frozen=True, slots=True)
class _Life:
    """The fate of a finding in a stretch of a case."""

    raised: bool
    """Whether it was raised in that stretch; else before it."""
    ending: Ending | None = None


RAISED = _Life(raised=True)
Lives = dict[Finding, _Life]
State = Literal["absent", "open"] | Ending


def _lives(stages: Sequence[Stage]) -> Lives:
    """Every finding that these stages raise or end."""
    lives: Lives = {}
    for stage in stages:
        for ending in stage.ended:
            lives[ending.finding] = _Life(ending.finding in lives, ending)
        lives.update(dict.fromkeys(stage.findings, RAISED))
    return lives


def _told(record: Record, old: Lives, current: Lives, now: datetime) -> tuple[Fact, ...]:
    """The facts that lead from one life of the findings to the other."""
    settled, raised, over = list[Fact](), list[Finding](), list[Fact]()
    for finding in {**old, **current}:
        was, is_now = old.get(finding), current.get(finding)
        before, after = _state(was, is_now), _state(is_now, was)
        if before == "open" and after != "open":
            settled.append(_settled(record, finding, after, now))
        elif before != "open" and (after == "open" or before == "absent"):
            raised.append(finding)
            if after != "open":
                over.append(_settled(record, finding, after, now))
    return (*settled, *(_raised(finding, now) for finding in most_urgent_first(raised)), *over)


def _state(life: _Life | None, other: _Life | None) -> State:
    """How a finding stands at the end of a stretch. One that only the other stretch knows was raised there, or it was
    raised before both and is open here."""
    if life is not None:
        return life.ending or "open"
    return "absent" if other is not None and other.raised else "open"


def _as_finding(raised: FindingRaised) -> Finding:
    return Finding(raised.rule, raised.number, raised.level, raised.message, raised.source)


def _differences(new: Decided, now: datetime) -> tuple[Fact, ...]:
    """The facts that lead from the open findings of a record to what its course says."""
    clocks, course = _clocks(new.course.procedure), new.course
    old = dict.fromkeys(map(_as_finding, new.record.open_findings))
    current = dict.fromkeys(course.findings(now))
    reached = [found for found in old if found.rule in clocks and found not in current]
    endings = {ending.finding: ending for stage in course.stages for ending in stage.ended}
    endings |= {one.finding: one for one in _moments_over(clocks, course.stages, reached, course.due(now))}
    settled = tuple(
        _settled(new.record, finding, endings.get(finding, "absent"), now) for finding in old if finding not in current
    )
    return (*settled, *(_raised(finding, now) for finding in current if finding not in old))


def _raised(found: Finding, now: datetime) -> Fact:
    return FindingRaised(
        logged_at=now,
        rule=found.rule,
        number=found.number,
        level=found.level,
        message=found.message,
        source=found.source,
    )


def _settled(record: Record, found: Finding, end: State, now: datetime) -> Fact:
    ending = end if isinstance(end, Ending) else None
    return FindingSettled(
        logged_at=now,
        rule=found.rule,
        number=found.number,
        message=found.message,
        how=_how_settled(record, found) if ending is None else f"{HOW[ending.how]} {ending.by}",
        ended=ending.how if ending is not None else None,
        by=ending.by if ending is not None else None,
    )


HOW: Mapping[Ended, str] = MappingProxyType(
    {"back in range": "back in range: line", "ended": "ended by line", "said anew": "said anew by line"}
)


def _how_settled(record: Record, found: Finding) -> str:
    if found.number is None:
        return "no longer holds"
    line = record.line(found.number)
    if line.status == "struck":
        return f"line {found.number} was struck"
    return f"line {found.number} was corrected" if line.changes else "the log was completed or corrected"
