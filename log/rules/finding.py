"""A finding, and the questions that the rules share: whether a line is what a pattern means, put air into a balloon,
was the first to do so, or emptied it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from log.basics.patterns import Level, Pattern
from log.state.tube import Step, matches


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule's word about the record. Two with the same rule, line and message are the same."""

    rule: str
    number: int | None
    """The line it stands beside."""
    level: Level = field(compare=False)
    message: str
    source: str = field(compare=False)
    """Tag and citation, as printed."""


AIR = frozenset({"volume_in", "balloon"})
"""Kinds of which a pattern may mean a line of another kind, if that moves air."""


def means(pattern: Pattern, step: Step) -> bool:
    """Whether a line is what a pattern means. First air and last air count however they were said."""
    entry = step.line.entry
    if pattern.kind == entry.kind and matches(pattern, entry):
        return True
    if pattern.kind not in AIR or step.before.balloons is step.after.balloons:  # most lines move no air
        return False
    sites = (pattern.site,) if pattern.site else tuple(step.after.balloons)
    if pattern.kind == "volume_in" and pattern.value is None:
        return any(adds_air(step, site) for site in sites)
    return (pattern.kind, pattern.value) == ("balloon", "down") and any(empties(step, site) for site in sites)


def is_said(step: Step, kind: str, *values: str) -> bool:
    """Whether a line is an entry of this kind, with one of these values if any are wanted."""
    entry = step.line.entry
    return entry.kind == kind and (not values or entry.value in values)


def adds_air(step: Step, site: str | None) -> bool:
    """Whether this line put air into the balloon, or said that it is up."""
    before, after = step.before.balloon(site), step.after.balloon(site)
    if before is after:  # most lines are about something else
        return False
    return after.most > before.most or (after.said_up and not before.said_up)


def first_air(step: Step, site: str | None) -> bool:
    """Whether it did so in a balloon that was flat."""
    return adds_air(step, site) and not step.before.balloon(site).up


def flat(step: Step, site: str | None) -> bool:
    """Whether the balloon is not up after this line, according to the log."""
    return not step.after.balloon(site).up


def empties(step: Step, site: str | None) -> bool:
    """Whether the balloon was up before this line and is not after it."""
    return step.before.balloon(site).up and not step.after.balloon(site).up
