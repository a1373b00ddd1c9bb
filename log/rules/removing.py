"""Taking the tube out: traction off, oesophageal balloon down, gastric balloon down, tube out; time to look between.

A tube that is cut in an emergency is pulled as it is: then only that the gastric balloon goes down first is still told.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from log.definition.procedure import Procedure
from log.rules.finding import Finding, Rule, empties, finding, is_said, ruled
from log.state.tube import Step


def removal_order(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Traction off, oesophageal balloon down, gastric balloon down, tube out."""
    if empties(step, "gastric") and step.after.balloon("oesophageal").up:
        yield from ruled(procedure, "gastric_down_first", step.line)
    if step.before.emergency is not None:
        return
    if empties(step, "gastric") and step.after.traction is not None:
        yield from ruled(procedure, "traction_still_on", step.line)
    still_up = [site for site in procedure.tube.balloons if step.before.balloon(site).up]
    if is_said(step, "tube", "out") and still_up:
        yield from ruled(procedure, "tube_out_while_up", step.line, " and ".join(still_up))


def observed(step: Step) -> Iterator[tuple[str, timedelta]]:
    """How long a balloon was down before the next one went down or the tube came out: (its site, the time)."""
    if empties(step, "gastric") and "oesophageal" in step.after.down:
        yield "oesophageal", step.line.said_at - step.after.down["oesophageal"]
    if is_said(step, "tube", "out") and "gastric" in step.before.down:
        yield "gastric", step.line.said_at - step.before.down["gastric"]


def observation(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Only where the site has chosen how long it wants to look for bleeding after each balloon."""
    wanted = procedure.watch.observe if procedure.watch is not None else None
    rule = procedure.rules.get("observed_too_briefly")
    if wanted is None or rule is None or step.before.emergency is not None:
        return
    for site, time in observed(step):
        if time < timedelta(hours=wanted.least_h):
            minutes = time / timedelta(minutes=1)
            text = f"{site} balloon down for {minutes:.4g} min, {wanted.least_h:g} h wanted here: {rule.message}"
            local = rule.model_copy(update={"tag": wanted.tag, "source": wanted.source})
            yield finding(procedure, "observed_too_briefly", local, step.line, text)


def bleeds_again(procedure: Procedure, step: Step) -> Iterator[Finding]:
    """Bleeding after a balloon was let down, unless that was done because it did not lie well."""
    if is_said(step, "bleeding", "continuing") and step.before.down and step.before.xray == "confirmed":
        what = f"{' and '.join(sorted(step.before.down))} balloon down"
        yield from ruled(procedure, "bleeds_again", step.line, what)


RULES: tuple[Rule, ...] = (removal_order, observation, bleeds_again)
