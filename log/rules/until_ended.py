"""The findings that end by themselves once the room has ended what they are about: an emergency that is over or whose
tube is out, scissors that are there at last.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from log.definition.procedure import Procedure
from log.rules.finding import Finding, is_said
from log.rules.rule import Rule, Said, findings, rule
from log.state.tube import Step

Standing = Mapping[str, Finding]
"""By the name of the rule."""

NONE_STANDING: Standing = MappingProxyType({})


def standing_after(procedure: Procedure, standing: Standing, step: Step) -> Standing:
    """The findings of this sort that stand after a step; the same object if nothing has changed."""
    ended = {name for name in standing if _over(name, step)}
    begun = {found.rule: found for found in findings(RULES, procedure, step)}
    begun = {name: found for name, found in begun.items() if name not in standing or name == "emergency"}
    if not ended and not begun:
        return standing
    return MappingProxyType({**{name: found for name, found in standing.items() if name not in ended}, **begun})


def _over(name: str, step: Step) -> bool:
    if name == "emergency":
        return step.after.emergency is None
    return not step.after.tube_in or step.after.prepared.scissors not in (None, "missing")


@rule(later=("emergency",))
def emergency(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Advice, as the definition words it."""
    called = step.after.emergency
    if called is None or called is not step.entry:
        return
    what = ""
    if procedure.emergency is not None:
        steps = procedure.emergency.steps(str(called.value))
        numbered = " ".join(f"{number}. {one.text}" for number, one in enumerate(steps, start=1))
        what = f"{procedure.emergency.title(str(called.value))}. {numbered}"
    yield Said("emergency", then=what)


@rule(later=("no_scissors",))
def scissors(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Scissors lie ready as long as the tube is in."""
    where = step.after.prepared.scissors
    asked = is_said(step, "tube", "in") or (step.after.tube_in and is_said(step, "scissors"))
    if asked and where in (None, "missing"):
        yield Said("no_scissors", "scissors missing" if where else "")


RULES: tuple[Rule, ...] = (emergency, scissors)

ENDED_BY_ENTRIES = frozenset(read.name for one in RULES for read in one.reads)
"""The names of such findings."""
