"""Air in and out: what comes before the balloon in the oesophagus, and that volumes add up."""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.rules.finding import adds_air, first_air, flat, is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step


def _in_order(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return flat(step, procedure.tube.oesophagus) or not flat(step, procedure.tube.stomach)


@rule("gastric_first", whose="both balloons", until=_in_order)
def gastric_first(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The balloon in the stomach anchors the tube; without it the other one can block the airway."""
    tube = procedure.tube
    if adds_air(step, tube.oesophagus) and not step.before.balloon(tube.stomach).up and step.entry.site != "both":
        yield Said("gastric_first")


def _pulled(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return flat(step, procedure.tube.oesophagus) or step.after.traction is not None


@rule("traction_first", whose="both balloons", until=_pulled)
def traction_first(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Traction comes before the first air into the balloon in the oesophagus."""
    if first_air(step, procedure.tube.oesophagus) and step.before.traction is None:
        yield Said("traction_first")


def _marked(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return step.after.mark is not None or step.after.traction is None


@rule("mark_missing", whose="both balloons", until=_marked)
def mark_first(procedure: Procedure, step: Step) -> Iterator[Said]:
    """So does the mark under that traction."""
    before = step.before
    if first_air(step, procedure.tube.oesophagus) and before.traction is not None and before.mark is None:
        yield Said("mark_missing")


def _companion_back(procedure: Procedure, entry: Entry, step: Step) -> bool:
    above = procedure.tube.oesophagus
    return flat(step, above) or step.after.prepared.companion.at == above


@rule(later=("companion_not_back",), whose="companion", until=_companion_back)
def companion_back(procedure: Procedure, step: Step) -> Iterator[Said]:
    """So does the companion tube at its own mark."""
    above = procedure.tube.oesophagus
    if procedure.companion is not None and first_air(step, above) and step.before.prepared.companion.at != above:
        yield Said("companion_not_back")


def _volume_known(procedure: Procedure, entry: Entry, step: Step) -> bool:
    told = is_said(step, "volume_total") or is_said(step, "balloon", "down")
    return told and step.entry.site in (entry.site, "both")


@rule("more_out_than_in", until=_volume_known)
def volumes_add_up(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Nobody can take out more than went in."""
    entry = step.entry
    if entry.kind == "volume_out" and entry.site is not None and entry.number is not None:
        before = step.before.balloon(entry.site)
        if entry.number > before.most and not before.said_up:
            yield Said("more_out_than_in", f"{entry.number:g} of {before.most:g} mL")


RULES: tuple[Rule, ...] = (gastric_first, traction_first, mark_first, companion_back, volumes_add_up)
