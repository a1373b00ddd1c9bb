"""The team's place in the protocol: which steps are logged, which comes next, and which earlier ones are not logged.

A reminder, never a gate: nothing waits for it, and nothing is refused because of it. It follows from the lines that
stand, so a correction changes it, and a case that was recorded without it has it all the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from log.basics.patterns import Pattern
from log.definition.procedure import Procedure
from log.definition.protocol import Milestone, ancestors
from log.rules.finding import AIR, means
from log.state.tube import Step, TubeState

Reached = Mapping[str, datetime]
"""Id of a milestone -> when it was reached first, unless it was taken back meanwhile."""

NONE_REACHED: Reached = MappingProxyType({})

ENDS = ("off", "down")
"""A kind that takes away does not count as what is meant by a kind alone: "traction off" is no traction."""


@dataclass(frozen=True, slots=True)
class Next:
    """The next step of the protocol."""

    milestone: Milestone | None
    """None when nothing is left."""
    passed_over: tuple[Milestone, ...]
    """Not in the log, though something that comes after them is."""


def reached_after(procedure: Procedure, reached: Reached, step: Step) -> Reached:
    """The milestones that are reached after a step; the same object if nothing has changed."""
    changed = dict(reached)
    if step.after.number != step.before.number:
        changed = {one.id: at for one in procedure.milestone if (at := reached.get(one.id)) and _stays(procedure, one)}
    for milestone in _concerned(procedure, step):
        if any(_counts(pattern, step) for pattern in milestone.undone):
            changed.pop(milestone.id, None)
        elif milestone.id not in changed and _done(procedure, milestone, changed, step):
            changed[milestone.id] = step.line.said_at
    return reached if changed == reached else MappingProxyType(changed)


def _concerned(procedure: Procedure, step: Step) -> Sequence[Milestone]:
    """The milestones that this line could reach or undo: those about its kind, and about air where that was moved."""
    own = frozenset({step.line.entry.kind})
    kinds = own if step.before.balloons is step.after.balloons else own | AIR
    return [one for one in procedure.milestone if any(p.kind in kinds for p in (*one.done, *one.undone))]


def _stays(procedure: Procedure, milestone: Milestone) -> bool:
    """Whether a step that was done for one tube is done for the next: who does what, scissors, airway."""
    patterns = milestone.done
    about_the_patient = all(one.kind == "airway" or procedure.traits(one.kind).group == "kit" for one in patterns)
    return about_the_patient and milestone.since is None


def next_of(procedure: Procedure, situation: TubeState, reached: Reached) -> Next:
    """The next step: the first milestone of this case that nothing before it holds up."""
    behind = {name for reached_one in reached for name in ancestors(procedure.milestone, reached_one)}
    left = [m for m in procedure.milestone if m.id not in reached and applies(m, situation)]
    waiting = {m.id for m in left if m.id not in behind}
    coming = [m for m in left if m.prompted and m.id not in behind and not waiting.intersection(m.after)]
    held_up = {m.id: ancestors(procedure.milestone, m.id) for m in left if m.id in waiting}
    place = {name: number for number, name in enumerate(held_up)}

    def turn(m: Milestone) -> int:
        """A step that holds up one further ahead in the list takes its place."""
        return min(place[name] for name, before in held_up.items() if name == m.id or m.id in before)

    passed_over = tuple(m for m in left if m.prompted and m.id in behind)
    return Next(min(coming, key=turn, default=None), passed_over)


def _done(procedure: Procedure, milestone: Milestone, reached: Reached, step: Step) -> bool:
    if milestone.since is not None and milestone.since not in reached:
        return False
    if milestone.before is not None and milestone.before in reached:
        return False
    if milestone.every and not all(_last_word(pattern, step.after) for pattern in milestone.done):
        return False
    return any(_counts(pattern, step) and _enough(procedure, milestone, pattern, step) for pattern in milestone.done)


def _counts(pattern: Pattern, step: Step) -> bool:
    return means(pattern, step) and (pattern.value is not None or step.entry.value not in ENDS)


def _enough(procedure: Procedure, milestone: Milestone, pattern: Pattern, step: Step) -> bool:
    if milestone.keeps is None or pattern.site is None:
        return True
    limit = procedure.limits.get(milestone.keeps)
    return limit is None or limit.broken_by(step.after.balloon(pattern.site).volume) != "below"


def applies(milestone: Milestone, situation: TubeState) -> bool:
    """Whether it is part of this case as things stand."""
    return not milestone.only_if or any(_holds(pattern, situation) for pattern in milestone.only_if)


def _holds(pattern: Pattern, situation: TubeState) -> bool:
    """Whether that is how things stand. A balloon is up by what is in it, however that was said."""
    if pattern.kind == "balloon" and pattern.site is not None:
        return situation.balloon(pattern.site).up == (pattern.value == "up")
    return _last_word(pattern, situation)


def _last_word(pattern: Pattern, situation: TubeState) -> bool:
    """Whether the last that was said of it, of each balloon if the pattern names none, is what the pattern means."""
    said = [
        entry
        for (kind, site), entry in situation.latest.items()
        if kind == pattern.kind and pattern.site in (None, site)
    ]
    return bool(said) and all(pattern.has(entry.value) for entry in said)
