"""While the tube lies: a pressure says of which balloon it is; traction, the mark at the lips, the companion tube, the
skin; and an emergency.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.rules.comparisons import movement, outside_at
from log.rules.finding import adds_air, empties, flat, is_said
from log.rules.rule import Rule, Said, rule
from log.state.film import comparable
from log.state.tube import Step
from log.state.tube_after import least_anchor


def _said_where(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return is_said(step, "pressure") and step.entry.site is not None


@rule("site_not_said", until=_said_where)
def pressure(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A pressure says which balloon it was read in."""
    if is_said(step, "pressure") and step.entry.number is not None and step.entry.site is None:
        yield Said("site_not_said")


def _hangs(step: Step) -> bool:
    """Whether a line says that something pulls; fixed at the lips it has no mass."""
    return is_said(step, "traction") and step.entry.value not in ("off", "fixed")


def _mass_known(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return is_said(step, "traction") and (step.entry.number is not None or not _hangs(step))


@rule("traction_mass_not_said", until=_mass_known)
def traction_mass(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Traction is a mass, never just "on"."""
    if _hangs(step) and step.entry.number is None:
        yield Said("traction_mass_not_said")


def _kind_known(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return is_said(step, "traction") and (step.entry.detail is not None or not _hangs(step))


@rule("traction_kind_not_said", until=_kind_known)
def traction_kind(procedure: Procedure, step: Step) -> Iterator[Said]:
    """It also has a kind."""
    if _hangs(step) and step.entry.number is not None and step.entry.detail is None:
        yield Said("traction_kind_not_said")


def _clamped(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return procedure.tube.stomach in step.after.clamped or step.after.traction is None


def _holds_again(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """Whether the balloon was filled again, nothing hangs on it, or a reading is as high again as it should be."""
    anchor = procedure.tube.stomach
    refilled = adds_air(step, anchor) and step.after.balloon(anchor).volume >= least_anchor(procedure)
    let_go = step.after.traction is None and not any(step.after.balloon(site).up for site in procedure.tube.balloons)
    read_again = entry.kind == "pressure" and _reads_anchor(procedure, step)
    return refilled or let_go or (read_again and not _collapsed(procedure, step))


@rule(later=("anchor_lost",), whose="stomach", until=_holds_again)
def anchor_lost(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The balloon that the tube hangs on: no pressure though there is air in it, less than half of the one outside or
    of the highest at the same volume, or too little air left under traction."""
    anchor = procedure.tube.stomach
    before, after = step.before.balloon(anchor), step.after.balloon(anchor)
    if _reads_anchor(procedure, step):
        if (why := _collapsed(procedure, step)) and before.up:
            yield Said("anchor_lost", why)
    elif step.after.traction is None or is_said(step, "balloon") or _rides_up(procedure, step):
        return
    elif after.most < before.most and after.volume < least_anchor(procedure):
        yield Said("anchor_lost", f"{after.volume:g} mL left under traction")


def _reads_anchor(procedure: Procedure, step: Step) -> bool:
    sites = procedure.tube.meant(step.entry.site)
    return is_said(step, "pressure") and procedure.tube.stomach in sites and step.before.tube_in


def _rides_up(procedure: Procedure, step: Step) -> bool:
    """Whether it is emptied under the other balloon, which `removing` tells."""
    return empties(step, procedure.tube.stomach) and step.after.balloon(procedure.tube.oesophagus).up


def _collapsed(procedure: Procedure, step: Step) -> str:
    """Why a reading says that the air is gone; "" where it does not. That less than half is left is our choice: no
    published figure was found."""
    now, before = step.entry.number, step.after.balloon(procedure.tube.stomach).readings[:-1]
    outside, highest = outside_at(procedure, procedure.tube.stomach, step), max(before, default=0)
    if now is None:
        return ""
    if now == 0:
        return "pressure 0 mmHg with the balloon up"
    if outside is not None and now < outside / 2:
        return f"pressure {now:g} mmHg, outside the patient {outside:g} at this volume"
    return f"pressure fell from {highest:g} to {now:g} mmHg" if now < highest / 2 else ""


READ_TO = 2
"""mmHg between the marks of an aneroid manometer: less than that is no fall."""
FALLS = 3
"""Falls in a row that are no chance. Common practice; no source gives a number."""


def _filled_or_held(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """Whether the balloon's air was changed since, or a reading is not lower than the one before."""
    for site in procedure.tube.meant(entry.site):
        before, after = step.before.balloon(site), step.after.balloon(site)
        read = len(after.readings) > len(before.readings)
        held = read and (not before.readings or after.readings[-1] >= before.readings[-1])
        if before.volumes != after.volumes or not after.up or held:
            return True
    return False


@rule(later=("pressure_falling",), until=_filled_or_held)
def pressure_falling(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Each of the last readings lower than the one before, though nobody let air out; not while the pressure is let
    down because bleeding has stopped."""
    last = step.after.last("bleeding")
    let_down = last is not None and last.value == "stopped"
    for site in procedure.tube.meant(step.entry.site) if is_said(step, "pressure") and step.before.tube_in else ():
        run = step.after.balloon(site).readings[-FALLS - 1 :]
        falls = all(high - low >= READ_TO for high, low in pairwise(run))
        if len(run) > FALLS and falls and not (let_down and site == procedure.tube.oesophagus):
            yield Said("pressure_falling", f"{site} pressure {', '.join(f'{one:g}' for one in run)} mmHg")


def _anchored(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return step.after.traction is None or not flat(step, procedure.tube.stomach)


@rule(later=("traction_without_anchor",), whose="stomach", until=_anchored)
def anchored(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Traction pulls on the balloon in the stomach; without it on nothing but the tube."""
    put_on = is_said(step, "traction") and step.entry.value != "off" and step.before.traction is None
    if put_on and flat(step, procedure.tube.stomach):
        yield Said("traction_without_anchor")


@rule(later=("unclamped",), whose="stomach", until=_clamped)
def clamped(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The port of the balloon that is pulled on is clamped first."""
    put_on = is_said(step, "traction") and step.entry.value != "off" and step.before.traction is None
    if put_on and procedure.tube.stomach not in step.before.clamped:
        yield Said("unclamped")


def _back_at_the_mark(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return step.after.mark is None or movement(step) == 0


def _compared_again(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return step.after.mark is None or movement(step) is not None


@rule("mark_not_comparable", until=_compared_again)
def mark(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The mark is read at the same place each time; how far it may move is a limit."""
    first = step.before.mark
    if not is_said(step, "depth") or first is None or first.number is None or step.entry.number is None:
        return
    if movement(step) is None:
        yield Said("mark_not_comparable")


@rule(later=("mark_moved_at_fixing",), until=_back_at_the_mark)
def mark_when_fixed(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The mark is the same after the weight has come off as it was before."""
    held = step.before.held_at
    if not is_said(step, "depth") or held is None or held.number is None or step.entry.number is None:
        return
    if comparable(held, step.entry) and step.entry.number != held.number:
        yield Said("mark_moved_at_fixing", f"{held.number:g} cm under the weight, {step.entry.number:g} cm now")


def _no_more_blood(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return is_said(step, "companion", "clear") or is_said(step, "bleeding", "stopped")


@rule(later=("companion_shows_blood",), whose="companion", until=_no_more_blood)
def companion_shows_blood(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Blood from the companion tube at its mark above the stomach, while only the balloon there is up."""
    tube, before = procedure.tube, step.before
    only_the_anchor = before.balloon(tube.stomach).up and not before.balloon(tube.oesophagus).up
    if is_said(step, "companion", "bleeding") and only_the_anchor and before.prepared.companion.at == tube.stomach:
        yield Said("companion_shows_blood")


@rule(
    later=("skin_marked", "skin_broken"),
    until=lambda procedure, entry, step: is_said(step, "skin", "intact"),
    outlasts=True,
)
def skin(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Pressure on lips and skin."""
    if is_said(step, "skin", "marked", "pressure marks"):
        yield Said("skin_marked")
    if is_said(step, "skin", "broken"):
        yield Said("skin_broken")


@rule(later=("emergency",), until=lambda procedure, entry, step: step.after.emergency is None)
def emergency(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Advice, as the definition words it, until the room says that it is over or the tube is out."""
    called = step.after.emergency
    if called is None or called is not step.entry:
        return
    what = ""
    if procedure.emergency is not None:
        steps = procedure.emergency.steps(str(called.value))
        numbered = " ".join(f"{number}. {one.text}" for number, one in enumerate(steps, start=1))
        what = f"{procedure.emergency.title(str(called.value))}. {numbered}"
    yield Said("emergency", then=what)


RULES: tuple[Rule, ...] = (
    emergency,
    pressure,
    anchor_lost,
    pressure_falling,
    anchored,
    clamped,
    traction_mass,
    traction_kind,
    mark,
    mark_when_fixed,
    companion_shows_blood,
    skin,
)
