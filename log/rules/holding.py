"""While the tube lies: oesophageal pressure, traction, the mark at the lips, the companion tube, the skin."""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.procedure import Procedure
from log.rules.finding import Finding, Rule, is_said, limited, ruled
from log.state.tube import Step, comparable


def oesophageal_pressure(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The ceiling, for every reading that may be of the oesophageal balloon; the working range while it is up; and that
    the first reading of an inflation is a low one."""
    number = step.entry.number
    if step.entry.kind != "pressure" or number is None or step.entry.site == "gastric":
        return
    if step.entry.site is None:
        yield from ruled(procedure, "site_not_said", step.line)
        yield from limited(procedure, "oesophageal_ceiling", step.line, number, "pressure (balloon not said)")
        return
    ceiling = list(limited(procedure, "oesophageal_ceiling", step.line, number))
    yield from ceiling
    before = step.before.balloon("oesophageal")
    if not ceiling and number > 0 and before.up:
        yield from limited(procedure, "oesophageal_pressure", step.line, number)
    if not ceiling and before.pressure is None and step.before.tube_in:
        yield from limited(procedure, "oesophageal_start", step.line, number)


def traction(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction is a mass and a kind, never just "on"; fixed at the lips it has no mass. The port is clamped first."""
    if step.entry.kind != "traction" or step.entry.value == "off":
        return
    if step.before.traction is None and "gastric" not in step.before.clamped:
        yield from ruled(procedure, "unclamped", step.line)
    if step.entry.value == "fixed":
        return
    if step.entry.number is None:
        yield from ruled(procedure, "traction_mass_not_said", step.line)
        return
    yield from limited(procedure, "traction_mass", step.line, step.entry.number)
    if step.entry.detail is None:
        yield from ruled(procedure, "traction_kind_not_said", step.line)


def mark_migration(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """How far the tube has come out or gone in at the lips since traction was put on."""
    mark = step.before.mark
    if step.entry.kind != "depth" or mark is None or mark.number is None or step.entry.number is None:
        return
    if not comparable(mark, step.entry):
        yield from ruled(procedure, "mark_not_comparable", step.line)
        return
    moved = step.entry.number - mark.number
    side = "further in" if moved > 0 else "further out"
    what = f"mark {side} than {mark.number:g} cm: moved"
    beyond = list(limited(procedure, "mark_migration", step.line, abs(moved), what))
    yield from beyond
    last = step.before.depth
    if not beyond and moved < 0 and (last is None or last.number != step.entry.number):
        yield from ruled(procedure, "mark_moved_a_little", step.line, f"{what} {abs(moved):g} cm")


def mark_when_fixed(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """The mark is the same after the weight has come off as it was before."""
    held = step.before.held_at
    if step.entry.kind != "depth" or held is None or held.number is None or step.entry.number is None:
        return
    if comparable(held, step.entry) and step.entry.number != held.number:
        what = f"{held.number:g} cm under the weight, {step.entry.number:g} cm now"
        yield from ruled(procedure, "mark_moved_at_fixing", step.line, what)


def companion_shows_blood(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """What blood from the companion tube means at its gastric mark, while only the gastric balloon is up."""
    only_gastric = step.before.balloon("gastric").up and not step.before.balloon("oesophageal").up
    if is_said(step, "companion", "bleeding") and only_gastric and step.before.prepared.companion.at == "gastric":
        yield from ruled(procedure, "companion_shows_blood", step.line)


def skin(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Pressure on lips and skin."""
    if is_said(step, "skin", "pressure marks"):
        yield from ruled(procedure, "skin_marked", step.line)
    if is_said(step, "skin", "broken"):
        yield from ruled(procedure, "skin_broken", step.line)


RULES: tuple[Rule, ...] = (
    oesophageal_pressure,
    traction,
    mark_migration,
    mark_when_fixed,
    companion_shows_blood,
    skin,
)
