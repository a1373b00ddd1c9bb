"""Taking the tube out: traction off, oesophageal balloon down, gastric balloon down, tube out; time to look between.

A tube that is cut in an emergency is pulled as it is; then only the order of the balloons is checked.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.rules.finding import empties, flat, is_said
from log.rules.rule import Rule, Said, rule
from log.state.tube import Step


def _anchored(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return flat(step, procedure.tube.oesophagus) or not flat(step, procedure.tube.stomach)


@rule("gastric_down_first", whose="both balloons", until=_anchored)
def anchor_last(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The balloon in the stomach goes down after the one in the oesophagus."""
    if empties(step, procedure.tube.stomach) and step.after.balloon(procedure.tube.oesophagus).up:
        yield Said("gastric_down_first")


@rule("traction_still_on", whose="stomach", until=lambda procedure, entry, step: step.after.traction is None)
def traction_off_first(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Nothing pulls on the tube when the balloon that holds it goes down."""
    if step.before.emergency is None and empties(step, procedure.tube.stomach) and step.after.traction is not None:
        yield Said("traction_still_on")


@rule("tube_out_while_up")
def flat_at_removal(procedure: Procedure, step: Step) -> Iterator[Said]:
    """No balloon is up when the tube comes out."""
    still_up = [site for site in procedure.tube.balloons if step.before.balloon(site).up]
    if step.before.emergency is None and is_said(step, "tube", "out") and still_up:
        yield Said("tube_out_while_up", " and ".join(still_up))


def observed(tube: Tube, step: Step) -> Iterator[tuple[str, timedelta]]:
    """Time that a balloon was down before the next one went down or the tube came out: (its site, the time)."""
    anchor, other = tube.stomach or "", tube.oesophagus or ""
    if empties(step, anchor) and other in step.after.down:
        yield other, step.line.said_at - step.after.down[other]
    if is_said(step, "tube", "out") and (anchor or other) in step.before.down:
        yield anchor or other, step.line.said_at - step.before.down[anchor or other]


@rule(later=("observed_too_briefly",))
def observation(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Only where the site has chosen how long it wants to look for bleeding after each balloon."""
    wanted = procedure.watch.observe if procedure.watch is not None else None
    if wanted is None or step.before.emergency is not None:
        return
    for site, time in observed(procedure.tube, step):
        if time < timedelta(hours=wanted.least_h):
            minutes = time / timedelta(minutes=1)
            what = f"{site} balloon down for {minutes:.4g} min, {wanted.least_h:g} h wanted here"
            yield Said("observed_too_briefly", what, standing=wanted)


@rule(
    later=("bleeds_again",),
    until=lambda procedure, entry, step: is_said(step, "bleeding", "stopped"),
    outlasts=True,
)
def bleeds_again(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Bleeding after a balloon was deflated, unless that was done because it did not lie well."""
    if is_said(step, "bleeding", "continuing", "restarted") and step.before.let_down:
        yield Said("bleeds_again", f"{' and '.join(sorted(step.before.down))} balloon down")


RULES: tuple[Rule, ...] = (anchor_last, traction_off_first, flat_at_removal, observation, bleeds_again)
