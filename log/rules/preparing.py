"""Before the tube goes in: kit, scissors, leak tests, flat balloons, marks on the companion tube; and numbers that
nobody would expect anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.rules.finding import is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step, TubeState


def _read_again(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """The same was said with a number that one would expect."""
    new = step.entry
    same = (new.kind, new.site, new.detail, new.unit) == (entry.kind, entry.site, entry.detail, entry.unit)
    return same and new.number is not None and _unexpected(procedure, new) is None


@rule("implausible", until=_read_again)
def plausible(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A number nobody would expect in this place is more often a slip than a fact."""
    expected = _unexpected(procedure, step.entry)
    if expected is not None:
        low, high = expected
        number = f"{step.entry.number:g} {step.entry.unit or ''}"
        yield Said("implausible", f"{number} ({low:g} to {high:g} expected)")


def _unexpected(procedure: Procedure, entry: Entry) -> tuple[float, float] | None:
    """The number that one would expect, where the number of an entry lies outside it."""
    kind = procedure.kind_named(entry.kind)
    if kind is None or kind.role == "command":
        return None
    slot = procedure.slot_of(entry)
    if slot is None or slot.plausible is None or entry.number is None:
        return None
    low, high = slot.plausible
    return None if low <= entry.number <= high else (low, high)


def _head_low(procedure: Procedure, situation: TubeState) -> bool:
    """Whether the head of the bed was last said to be lower than its limit, with no airway secured."""
    head, airway = situation.last("head_up"), situation.last("airway")
    if head is None or head.number is None or (airway is not None and airway.value == "secured"):
        return False
    limits = [limit for _, limit, of in procedure.held if of.kind == head.kind]
    return any(limit.broken_by(head.number) == "below" for limit in limits)


@rule(
    later=("flat_without_airway",),
    until=lambda procedure, entry, step: not _head_low(procedure, step.after),
)
def head_and_airway(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Who is not intubated does not lie flat with the tube in."""
    asked = is_said(step, "tube", "in") or (step.before.tube_in and is_said(step, "head_up"))
    if asked and _head_low(procedure, step.after):
        yield Said("flat_without_airway")


def _at_hand(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return step.after.prepared.scissors not in (None, "missing")


@rule(later=("no_scissors",), until=_at_hand)
def scissors(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Scissors lie ready as long as the tube is in."""
    where = step.after.prepared.scissors
    passed = is_said(step, "tube", "in") and not step.before.tube_in
    asked = passed or (step.after.tube_in and is_said(step, "scissors"))
    if asked and where in (None, "missing"):
        yield Said("no_scissors", "scissors missing" if where else "")


@rule(later=("kit_missing",), until=lambda procedure, entry, step: not step.after.prepared.missing)
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


def _deflated(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """Whether somebody says that the balloons are down."""
    return is_said(step, "balloon", "down") or is_said(step, "volume_out")


@rule(later=("air_at_insertion",), until=_deflated)
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
            where = f", {companion.above_cm:g} cm above it ({companion.note})" if companion.above_cm is not None else ""
            yield Said("companion_not_marked", f"mark for the {' and '.join(unmarked)} balloon{where}")


RULES: tuple[Rule, ...] = (kit, head_and_airway, scissors, leak_test, flat_before_insertion, companion_marked)
