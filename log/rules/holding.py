"""While the tube lies: a pressure says of which balloon it is; traction, the mark at the lips, the companion tube, the
skin.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.procedure import Procedure
from log.rules.comparisons import compared, movement, movement_text
from log.rules.finding import is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step, comparable


@rule("site_not_said")
def pressure(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A pressure says which balloon it was read in."""
    if is_said(step, "pressure") and step.entry.number is not None and step.entry.site is None:
        yield Said("site_not_said")


@rule("traction_mass_not_said", "traction_kind_not_said")
def traction(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Traction is a mass and a kind, never just "on"; fixed at the lips it has no mass."""
    if not is_said(step, "traction") or step.entry.value in ("off", "fixed"):
        return
    if step.entry.number is None:
        yield Said("traction_mass_not_said")
    elif step.entry.detail is None:
        yield Said("traction_kind_not_said")


@rule(later=("unclamped",), whose="stomach")
def clamped(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The port of the balloon that is pulled on is clamped first."""
    put_on = is_said(step, "traction") and step.entry.value != "off" and step.before.traction is None
    if put_on and procedure.tube.stomach not in step.before.clamped:
        yield Said("unclamped")


@rule("mark_not_comparable", later=("mark_moved_a_little",))
def mark(procedure: Procedure, step: Step) -> Iterator[Said]:
    """How far the tube has come out at the lips since traction was put on, within the limit."""
    first, last, entry = step.before.mark, step.before.depth, step.entry
    if not is_said(step, "depth") or first is None or first.number is None or entry.number is None:
        return
    moved = movement(step)
    if moved is None:
        yield Said("mark_not_comparable")
    elif moved < 0 and (last is None or last.number != entry.number) and not _too_far(procedure, step):
        yield Said("mark_moved_a_little", f"{movement_text(step, moved)} {abs(moved):g} cm")


def _too_far(procedure: Procedure, step: Step) -> bool:
    limits = {name for name, _, of in procedure.held if of.what == "moved"}
    return any(one.limit in limits and one.beyond for one in compared(procedure, step))


@rule(later=("mark_moved_at_fixing",))
def mark_when_fixed(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The mark is the same after the weight has come off as it was before."""
    held = step.before.held_at
    if not is_said(step, "depth") or held is None or held.number is None or step.entry.number is None:
        return
    if comparable(held, step.entry) and step.entry.number != held.number:
        yield Said("mark_moved_at_fixing", f"{held.number:g} cm under the weight, {step.entry.number:g} cm now")


@rule(later=("companion_shows_blood",), whose="companion")
def companion_shows_blood(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Blood from the companion tube at its mark above the stomach, while only the balloon there is up."""
    tube, before = procedure.tube, step.before
    only_the_anchor = before.balloon(tube.stomach).up and not before.balloon(tube.oesophagus).up
    if is_said(step, "companion", "bleeding") and only_the_anchor and before.prepared.companion.at == tube.stomach:
        yield Said("companion_shows_blood")


@rule(later=("skin_marked", "skin_broken"))
def skin(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Pressure on lips and skin."""
    if is_said(step, "skin", "marked", "pressure marks"):
        yield Said("skin_marked")
    if is_said(step, "skin", "broken"):
        yield Said("skin_broken")


RULES: tuple[Rule, ...] = (pressure, clamped, traction, mark, mark_when_fixed, companion_shows_blood, skin)
