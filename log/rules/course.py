"""The course of a case under its definition: every line in the order in which things happened, with the situation, the
running clocks and the findings that it led to.

One more line at the end costs the same however long the case is. A correction changes the past: everything from the
corrected line on is worked out again, and nothing before it.

A property test holds a corrected course to one that is worked out from nothing. Records and courses are plain tuples,
copied for each fact: a transaction that fails leaves the old ones as they were.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType

from log.basics.patterns import LEVELS, Pattern
from log.definition.procedure import Procedure
from log.facts.events import AboutALine, Fact
from log.facts.line import Line
from log.facts.record import Record
from log.rules import BY_NAME, Clocks, Finding, RunningClock, begun_after, clocks_after, due, stepwise, still_begun
from log.rules.clocks import clocks_if_any
from log.rules.life import Ending, Open, can_end, endings, stands_already
from log.rules.milestones import NONE_REACHED, Next, Reached, next_of, reached_after
from log.state.question import after_question, may_be
from log.state.tube import Step, TubeState, matches
from log.state.tube_after import after_entry

NO_CLOCKS: Clocks = MappingProxyType({})

Place = tuple[datetime, int]
"""Where a line belongs: when it happened, then its number."""


@dataclass(frozen=True, slots=True)
class State:
    """The state that one line hands on to the next."""

    situation: TubeState
    clocks: Clocks = field(default_factory=lambda: NO_CLOCKS)
    begun: frozenset[str] = frozenset()
    """The orders of the definition that are past for this tube in this place, kept or broken."""
    reached: Reached = field(default_factory=lambda: NONE_REACHED)
    """The milestones of the definition that are reached, and when."""
    standing: tuple[Open, ...] = ()
    """The findings that a later line can end, the oldest first."""

    @property
    def running(self) -> tuple[RunningClock, ...]:
        """The clocks that run; not those that are paused."""
        return tuple(clock for clock in self.clocks.values() if not clock.paused)


@dataclass(frozen=True, slots=True)
class Stage:
    """One line in its place. One that is struck changes nothing, an open question only what may be in a balloon;
    neither has findings."""

    line: Line
    before: State
    after: State
    findings: tuple[Finding, ...] = ()
    ended: tuple[Ending, ...] = ()
    """Findings of earlier lines that this one ends."""

    @property
    def place(self) -> Place:
        """Where it belongs."""
        return _place(self.line)

    @property
    def step(self) -> Step:
        """The line with the situation before and after it."""
        return Step(self.line, self.before.situation, self.after.situation)


@dataclass(frozen=True, slots=True)
class Course:
    """A case by its definition."""

    procedure: Procedure
    stages: tuple[Stage, ...] = ()

    @property
    def end(self) -> State:
        """The state after the last line."""
        return self.stages[-1].after if self.stages else State(TubeState())

    @property
    def steps(self) -> tuple[Step, ...]:
        """The standing lines, each with what it changed."""
        return tuple(stage.step for stage in self.stages if stage.line.status == "stands")

    def steps_of(self, kinds: Set[str]) -> tuple[Step, ...]:
        """The standing lines of these kinds of entry."""
        stages = (stage for stage in self.stages if stage.line.entry.kind in kinds)
        return tuple(stage.step for stage in stages if stage.line.status == "stands")

    @property
    def next(self) -> Next:
        """The next step of the protocol, and the earlier ones that are not logged."""
        return next_of(self.procedure, self.end.situation, self.end.reached)

    def stage(self, line: Line) -> Stage:
        """The stage of a line. Raises KeyError if the course does not know it."""
        index = _index(self.stages, _place(line))
        if index == len(self.stages) or self.stages[index].line.number != line.number:
            raise KeyError(line.number)
        return self.stages[index]

    def follow(self, before: Record, after: Record, facts: Iterable[Fact]) -> Course:
        """The course after these facts, which led from one record to the other."""
        course = self
        for number in dict.fromkeys(_touched(facts)):
            old = before.line(number) if number < before.next_number else None
            course = course._with(old, after.line(number))
        return course

    def changed_since(self, earlier: Course) -> int:
        """The place from which on the stages differ from those of an earlier course of the same case. Stages that
        were not worked out anew are the same objects, so the last that is the same ends the search."""
        index = min(len(self.stages), len(earlier.stages))
        while index and self.stages[index - 1] is not earlier.stages[index - 1]:
            index -= 1
        return index

    def due(self, now: datetime) -> tuple[Finding, ...]:
        """Due moments that the running clocks have reached."""
        return tuple(due(self.procedure, self.end.clocks, now, self._said))

    def _said(self, pattern: Pattern) -> bool:
        """Whether a standing line is what a pattern means."""
        return any(matches(pattern, stage.line.entry) for stage in self.stages if stage.line.status == "stands")

    def findings(self, now: datetime) -> tuple[Finding, ...]:
        """Everything the rules have to say at this moment, most urgent first, the newest of these first."""
        standing: dict[Finding, None] = {}
        for stage in self.stages:
            for ending in stage.ended:
                standing.pop(ending.finding, None)
            standing.update(dict.fromkeys(stage.findings))
        return most_urgent_first((*standing, *self.due(now)))

    def _with(self, old: Line | None, line: Line) -> Course:
        """With one line new or changed."""
        first = min(_index(self.stages, _place(known)) for known in (old, line) if known is not None)
        lines = [stage.line for stage in self.stages[first:] if stage.line.number != line.number]
        insort(lines, line, key=_place)
        return self._worked_out(first, lines)

    def _worked_out(self, index: int, lines: Sequence[Line]) -> Course:
        """The stages from `index` on, anew from these lines."""
        stages: list[Stage] = []
        state = self.stages[index - 1].after if index else State(TubeState())
        for line in lines:
            stages.append(_stage(self.procedure, state, line))
            state = stages[-1].after
        return replace(self, stages=(*self.stages[:index], *stages))


def course_of(procedure: Procedure, record: Record) -> Course:
    """The course of a whole record."""
    return Course(procedure)._worked_out(0, sorted(record.lines, key=_place))


def most_urgent_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """By priority, then the newest line first."""
    return tuple(sorted(findings, key=lambda finding: (LEVELS.index(finding.level), -(finding.number or 0))))


def check(procedure: Procedure, record: Record, now: datetime) -> tuple[Finding, ...]:
    """Everything the rules have to say about a record at this moment, most urgent first."""
    return course_of(procedure, record).findings(now)


def _stage(procedure: Procedure, before: State, line: Line) -> Stage:
    if line.status == "struck":
        return Stage(line, before, before)
    if line.status == "asked":
        return Stage(line, before, _while_asked(procedure, before, line))
    step = Step(line, before.situation, after_entry(procedure, before.situation, line.entry, line.said_at))
    said = stepwise(procedure, step, still_begun(procedure, before.begun, step))
    found = tuple(finding for finding in said if not stands_already(before.standing, finding))
    ended = tuple(endings(BY_NAME, procedure, before.standing, step, found))
    after = State(
        step.after,
        clocks_after(procedure, before.clocks, step),
        begun_after(procedure, before.begun, step),
        reached_after(procedure, before.reached, step),
        _standing(before.standing, line, found, ended),
    )
    return Stage(line, before, after, found, ended)


def _standing(
    before: tuple[Open, ...], line: Line, found: Sequence[Finding], ended: Sequence[Ending]
) -> tuple[Open, ...]:
    """The findings that can still end; the same object if nothing has changed."""
    new = [Open(finding, line.entry) for finding in found if can_end(BY_NAME, finding)]
    over = {ending.finding for ending in ended}
    return (*(one for one in before if one.finding not in over), *new) if new or over else before


def _while_asked(procedure: Procedure, before: State, line: Line) -> State:
    """A question counts in no total and leads to no finding, but what may be in a balloon may be, and clocks run."""
    candidates, s = line.candidates or (line.entry,), before.situation
    situation = after_question(procedure, s, candidates, line.said_at)
    if situation is s:
        return before
    steps = (
        Step(replace(line, entry=one), s, after_entry(procedure, s, one, line.said_at))
        for one in may_be(candidates)
        if one is not None
    )
    clocks = clocks_if_any(before.clocks, [clocks_after(procedure, before.clocks, step) for step in steps])
    return replace(before, situation=situation, clocks=clocks)


def _touched(facts: Iterable[Fact]) -> Iterable[int]:
    """The numbers of the lines that these facts are about."""
    for fact in facts:
        if isinstance(fact, AboutALine):
            yield fact.number


def _place(line: Line) -> Place:
    return line.said_at, line.number


def _index(stages: Sequence[Stage], place: Place) -> int:
    """Where a line with this place is, or would be. Most belong at the end."""
    if not stages or stages[-1].place < place:
        return len(stages)
    low, high = 0, len(stages)
    while low < high:
        middle = (low + high) // 2
        if stages[middle].place < place:
            low = middle + 1
        else:
            high = middle
    return low
