"""Air in and out: what comes before the balloon in the oesophagus, and that volumes add up."""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.procedure import Procedure
from log.rules.finding import adds_air, first_air
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step


@rule("gastric_first", whose="both balloons")
def gastric_first(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The balloon in the stomach anchors the tube; without it the other one can block the airway."""
    tube = procedure.tube
    if adds_air(step, tube.oesophagus) and not step.before.balloon(tube.stomach).up and step.entry.site != "both":
        yield Said("gastric_first")


@rule("traction_first", "mark_missing", whose="both balloons")
def before_oesophageal(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Traction and its mark come before the first air into the balloon in the oesophagus."""
    if not first_air(step, procedure.tube.oesophagus):
        return
    if step.before.traction is None:
        yield Said("traction_first")
    elif step.before.mark is None:
        yield Said("mark_missing")


@rule(later=("companion_not_back",), whose="companion")
def companion_back(procedure: Procedure, step: Step) -> Iterator[Said]:
    """So does the companion tube at its own mark."""
    above = procedure.tube.oesophagus
    if procedure.companion is not None and first_air(step, above) and step.before.prepared.companion.at != above:
        yield Said("companion_not_back")


@rule("more_out_than_in")
def volumes_add_up(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Nobody can take out more than went in."""
    entry = step.entry
    if entry.kind == "volume_out" and entry.site is not None and entry.number is not None:
        before = step.before.balloon(entry.site)
        if entry.number > before.volume and not before.said_up:
            yield Said("more_out_than_in", f"{entry.number:g} of {before.volume:g} mL")


RULES: tuple[Rule, ...] = (gastric_first, before_oesophageal, companion_back, volumes_add_up)
