"""The life of a finding. It stands until a later line ends it: a reading that is back in range, an entry that does what
was missing, the tube that is out, or a newer finding of the same rule. What happened and cannot be undone stands.

A correction is no end: a finding whose line is corrected or struck is no finding of the case any more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from log.basics.entry import Entry
from log.definition.limits import Limit, Of, What
from log.definition.procedure import Order, Procedure
from log.facts.events import Ended
from log.rules.bounds import breaks
from log.rules.clocks import kept
from log.rules.comparisons import compared
from log.rules.finding import Finding, empties, flat, is_said
from log.rules.rule import Rule
from log.state.tube import Step, matches


@dataclass(frozen=True, slots=True)
class Open:
    """A finding that a later line can end, and the entry it stands beside."""

    finding: Finding
    entry: Entry


@dataclass(frozen=True, slots=True)
class Ending:
    """The end of a finding: the line that ended it, and how."""

    finding: Finding
    by: int
    how: Ended


def endings(
    rules: Mapping[str, Rule], procedure: Procedure, standing: Sequence[Open], step: Step, found: Sequence[Finding]
) -> Iterator[Ending]:
    """The findings that this line ends. `found`: its own."""
    anew = {finding.rule for finding in found}
    for one in standing:
        how = _ended(rules, procedure, one, step)
        if how is None and anew and anew & {one.finding.rule, *_said_by(procedure, one.finding.rule)}:
            how = "said anew"
        if how is not None:
            yield Ending(one.finding, step.line.number, how)


def _said_by(procedure: Procedure, name: str) -> Iterator[str]:
    """The limits that are named in place of this one where they are broken."""
    for other, _, of in procedure.held:
        if of.instead_of == name:
            yield other
        elif other == name and of.unless is not None:
            yield of.unless


def stands_already(standing: Sequence[Open], found: Finding) -> bool:
    """Whether the very same is open. What is low is not said again and again; what is urgent is."""
    urgent = found.level in ("high", "medium")
    return not urgent and any(
        (one.finding.rule, one.finding.message) == (found.rule, found.message) for one in standing
    )


def can_end(rules: Mapping[str, Rule], finding: Finding) -> bool:
    """Whether a later line can end it. Of limits and orders all can."""
    rule = rules.get(finding.rule)
    return rule is None or rule.until is not None


def _ended(rules: Mapping[str, Rule], procedure: Procedure, one: Open, step: Step) -> Ended | None:
    name = one.finding.rule
    limit, rule, out = procedure.limits.get(name), rules.get(name), is_said(step, "tube", "out")
    if limit is not None and limit.of is not None:
        gone = out and limit.of.kind in OF_THE_TUBE
        return "ended" if gone else WHAT[limit.of.what](procedure, name, limit, limit.of, step)
    if rule is not None:
        gone = out and not rule.outlasts
        return "ended" if gone or (rule.until is not None and rule.until(procedure, one.entry, step)) else None
    order = next((order for order in procedure.order if order.id == name), None)
    return "ended" if order is not None and (out or _done_since(procedure, order, step)) else None


OF_THE_TUBE = frozenset({"volume_in", "pressure", "depth", "traction"})
"""Kinds whose limits say nothing once the tube is out."""


def _done_since(procedure: Procedure, order: Order, step: Step) -> bool:
    """Whether what should have come first is done now, or what came too early is undone."""
    match order.then.kind:
        case "traction" if step.after.traction is None:
            return True
        case "volume_in" if order.then.site is not None and flat(step, order.then.site):
            return True
    return kept(order, step.after)


def _said(procedure: Procedure, name: str, limit: Limit, of: Of, step: Step) -> Ended | None:
    """A later number of the same is in range, or what it was about is gone. Doses and steps are not read again."""
    if of.kind == "traction" and step.after.traction is None:
        return "ended"
    if of.when == "first air" and is_said(step, "xray", "confirmed"):
        return "ended"
    if of.site in procedure.tube.balloons and empties(step, of.site):
        return "ended"
    if limit.low_until is not None and matches(limit.low_until, step.entry):
        pressure = step.after.balloon(of.site).pressure
        return None if pressure is None or breaks(limit, step.after, pressure) else "ended"
    entry = step.entry
    if entry.kind != of.kind or entry.number is None or of.detail not in (None, entry.detail):
        return None
    here = of.site in (None, entry.site) or of.site in procedure.tube.meant(entry.site)
    if not here or breaks(limit, step.after, entry.number):
        return None
    return "back in range" if of.kind == "traction" or of.kind in procedure.read_again else None


def _total(procedure: Procedure, name: str, limit: Limit, of: Of, step: Step) -> Ended | None:
    if empties(step, of.site) or (of.when == "before the x-ray" and step.after.xray == "confirmed"):
        return "ended"
    before, now = step.before.balloon(of.site), step.after.balloon(of.site)
    known = now is not before and now.volume > 0 and not now.unmeasured
    return "back in range" if known and not any(map(limit.broken_by, now.volumes)) else None


def _compared(procedure: Procedure, name: str, limit: Limit, of: Of, step: Step) -> Ended | None:
    """Movement and rise: the same comparison comes out in range."""
    if of.what == "moved" and step.after.mark is not step.before.mark:
        return "ended"
    if of.what == "rise" and empties(step, of.site):
        return "ended"
    again = any(one.limit == name and not one.beyond for one in compared(procedure, step))
    return "back in range" if again else None


WHAT: Mapping[What, Callable[[Procedure, str, Limit, Of, Step], Ended | None]] = MappingProxyType(
    {"said": _said, "total": _total, "moved": _compared, "rise": _compared}
)
"""Patterns that end the finding of a limit, by the number it holds."""
