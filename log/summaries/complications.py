"""Complications of a case, according to the log: each with the line that said it first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from log.facts.line import Line
from log.state.tube import Step


@dataclass(frozen=True, slots=True)
class Complication:
    """One complication."""

    name: str
    first: Line
    last: Line
    """The line that said it last; the same while it was said once."""
    times: int
    """The number of times it was said."""


def complications(steps: Sequence[Step]) -> tuple[Complication, ...]:
    """In the order in which each was said first. `steps` are in the order of time."""
    found: dict[str, Complication] = {}
    for step in steps:
        for name in _named(step):
            before = found.get(name, Complication(name, step.line, step.line, 0))
            found[name] = replace(before, last=step.line, times=before.times + 1)
    return tuple(found.values())


def _named(step: Step) -> Iterator[str]:
    entry = step.entry
    last = step.before.last("bleeding")
    match entry.kind, entry.value:
        case "trouble", _:
            yield " ".join(part for part in (entry.site, entry.detail) if part) or "trouble"
        case "emergency", "airway" | "cut":
            yield "airway emergency" if entry.value == "airway" else "tube cut in an emergency"
        case "skin", "marked" | "pressure marks":
            yield "pressure marks"
        case "skin", "broken":
            yield "skin broken"
        case "bleeding", "restarted":
            yield "bleeding again"
        case "bleeding", "continuing" if last is not None and last.value == "stopped":
            yield "bleeding again"
