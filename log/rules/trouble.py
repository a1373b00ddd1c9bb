"""Trouble, said plainly. Each sort has a rule of the same name, so that it counts as soon as it is said."""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.definition.reads import Read
from log.rules.finding import empties, is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step

TROUBLES = (
    "balloon burst",
    "balloon leaking",
    "balloon moved",
    "tube slipped",
    "traction slipped",
    "capnography lost",
    "stridor",
    "chest pain",
    "subcutaneous air",
    "vomiting",
    "aspiration",
    "desaturation",
    "arrest",
    "pressure sore",
)
"""Trouble as it is logged: reference 1.21, in the words of the definition."""


OF_THE_TUBE = frozenset({"balloon burst", "balloon leaking", "balloon moved", "tube slipped", "traction slipped"})
"""Trouble that goes with the tube; all else has happened to the patient, and stands until somebody deals with it."""


def rule_of(trouble: str) -> str:
    """The name of its rule."""
    return trouble.replace(" ", "_")


def _trouble(procedure: Procedure, step: Step) -> Iterator[Said]:
    if is_said(step, "trouble") and step.entry.detail in TROUBLES:
        yield Said(rule_of(step.entry.detail), step.entry.site or "")


def _over(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """Whether trouble is over: its tube is out, or what was lost or slipped is said to be as it should be again."""
    if is_said(step, "tube", "out") and entry.detail in (*OF_THE_TUBE, "stridor"):
        return True
    match entry.detail:
        case "traction slipped":
            return step.entry.kind == "traction" and step.entry.value != "off"
        case "tube slipped" | "balloon moved":
            return is_said(step, "xray", "confirmed")
        case "balloon leaking":
            return entry.site is not None and empties(step, entry.site)
        case "arrest":
            return is_said(step, "circulation", "returned")
        case "capnography lost" | "stridor":
            return is_said(step, "airway", "secured")
        case _:
            return False


@rule(
    later=("bleeds_after_stop",),
    until=lambda procedure, entry, step: is_said(step, "bleeding", "stopped"),
    outlasts=True,
)
def bleeds_after_stop(procedure: Procedure, step: Step) -> Iterator[Said]:
    """It bleeds after it had stopped, with balloons up or after a cut; `removing` has it after one was let down."""
    before = step.before
    last = before.last("bleeding")
    bleeds = is_said(step, "bleeding", "continuing", "restarted")
    if bleeds and not before.let_down and last is not None and last.value == "stopped":
        yield Said("bleeds_after_stop")


RULES: tuple[Rule, ...] = (
    Rule(_trouble, tuple(Read(rule_of(trouble), later=True) for trouble in TROUBLES), until=_over, outlasts=True),
    bleeds_after_stop,
)
