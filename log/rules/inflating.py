"""Air in and out: how much is in the gastric balloon, in which steps, and what comes before the oesophageal one."""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.procedure import Procedure
from log.rules.finding import Finding, Rule, adds_air, first_air, limited, ruled
from log.state.tube import Step


def gastric_volume(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Above the tube's range at any time; below it when traction or the oesophageal balloon relies on it."""
    limit = procedure.limits["gastric_volume"]
    volume = step.after.balloon("gastric").volume
    side = limit.broken_by(volume)
    if side == "above" and adds_air(step, "gastric"):
        yield from limited(procedure, "gastric_volume", step.line, volume)
    relied_on = step.entry.kind == "traction" and step.entry.value != "off" and step.before.traction is None
    unknown = volume == 0 and step.after.balloon("gastric").said_up
    if side == "below" and relied_on and not unknown:
        yield from limited(procedure, "gastric_volume", step.line, volume, "traction with a gastric volume of")
    if side == "below" and first_air(step, "oesophageal") and volume > 0:
        what = "oesophageal balloon inflated on a gastric volume of"
        yield from limited(procedure, "gastric_volume", step.line, volume, what)


def gastric_step(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """After the first volume the gastric balloon is filled in small steps. A total says nothing of its steps."""
    number, further = step.entry.number, step.before.balloon("gastric").volume > 0
    if step.entry.kind == "volume_in" and number is not None and further and adds_air(step, "gastric"):
        yield from limited(procedure, "gastric_step", step.line, number)


def gastric_first(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The gastric balloon anchors the tube; without it the oesophageal balloon can block the airway."""
    if adds_air(step, "oesophageal") and not step.before.balloon("gastric").up and step.entry.site != "both":
        yield from ruled(procedure, "gastric_first", step.line)


def before_oesophageal(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction, its mark, and the companion tube at its own mark come before the first air into this balloon."""
    if not first_air(step, "oesophageal"):
        return
    if step.before.traction is None:
        yield from ruled(procedure, "traction_first", step.line)
    elif step.before.mark is None:
        yield from ruled(procedure, "mark_missing", step.line)
    if procedure.companion is not None and step.before.prepared.companion.at != "oesophageal":
        yield from ruled(procedure, "companion_not_back", step.line)


def volumes_add_up(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Nobody can take out more than went in."""
    entry = step.entry
    if entry.kind == "volume_out" and entry.site is not None and entry.number is not None:
        before = step.before.balloon(entry.site)
        if entry.number > before.volume and not before.said_up:
            what = f"{entry.number:g} of {before.volume:g} mL"
            yield from ruled(procedure, "more_out_than_in", step.line, what)


RULES: tuple[Rule, ...] = (gastric_first, before_oesophageal, gastric_volume, gastric_step, volumes_add_up)
