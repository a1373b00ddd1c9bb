"""Before the tube goes in: kit, leak tests, flat balloons, marks on the companion tube; and numbers that nobody would
expect anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.procedure import Procedure
from log.rules.finding import is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step


@rule("implausible")
def plausible(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A number nobody would expect in this place is more often a slip than a fact."""
    kind = procedure.kind_named(step.entry.kind)
    if kind is None or kind.role == "command":
        return
    slot = procedure.slot_of(step.entry)
    number = step.entry.number
    if slot is not None and slot.plausible is not None and number is not None:
        low, high = slot.plausible
        if not low <= number <= high:
            yield Said("implausible", f"{number:g} {step.entry.unit or ''} ({low:g} to {high:g} expected)")


@rule(later=("kit_missing",))
def kit(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Kit that was said to be missing, and not to be there since."""
    if is_said(step, "tube", "in") and step.before.prepared.missing:
        yield Said("kit_missing", ", ".join(step.before.prepared.missing))


@rule(later=("leak_test_volume_not_said",))
def leak_test(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A leak test says with how much air it was passed: sources differ from 50 mL to the full volume."""
    if is_said(step, "leak_test", "passed"):
        tests = step.after.prepared.leak_tests
        unsaid = [site for site in procedure.tube.meant(step.entry.site) if tests[site].volume is None]
        if unsaid:
            yield Said("leak_test_volume_not_said", " and ".join(unsaid))


@rule(later=("air_at_insertion",))
def flat_before_insertion(procedure: Procedure, step: Step) -> Iterator[Said]:
    """No air may be in a balloon when the tube goes in."""
    if not is_said(step, "tube", "in") or step.before.tube_in:
        return
    filled = {
        site: f"{volume:g} mL" if (volume := step.before.balloon(site).volume) else "volume not said"
        for site in procedure.tube.balloons
        if step.before.balloon(site).up
    }
    for site, test in step.before.prepared.leak_tests.items():
        if test.air_left:
            filled.setdefault(site, "of the leak test")
    if filled:
        yield Said("air_at_insertion", " and ".join(f"{site} ({how})" for site, how in filled.items()))


@rule(later=("companion_not_marked",), whose="companion")
def companion_marked(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A companion tube gets a mark for each balloon before the tube goes in."""
    companion = procedure.companion
    if companion is not None and is_said(step, "tube", "in") and not step.before.tube_in:
        unmarked = [site for site in procedure.tube.balloons if site not in step.before.prepared.companion.marked]
        if unmarked:
            marks = f"mark for the {' and '.join(unmarked)} balloon, {companion.above_cm:g} cm above it"
            yield Said("companion_not_marked", f"{marks} ({companion.note})")


RULES: tuple[Rule, ...] = (kit, leak_test, flat_before_insertion, companion_marked)
