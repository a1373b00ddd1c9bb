"""The last reading of whatever is read again and has no place of its own on a screen or a page, with its limits. What a
hospital adds to its definition is shown by this, wherever vital signs are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from log.definition.procedure import Procedure
from log.rules.comparisons import Measured, compared
from log.state.fluid_balance import Reading, readings
from log.state.tube import Step


@dataclass(frozen=True, slots=True)
class Gauge:
    """A reading, and what the last one is held against."""

    reading: Reading
    held: tuple[Measured, ...]


def gauges(procedure: Procedure, steps: Sequence[Step]) -> tuple[Gauge, ...]:
    """All of them, in the order in which each was read first."""
    found = readings(procedure, steps)
    last = {one.last.number for one in found}
    held = {step.line.number: tuple(compared(procedure, step)) for step in steps if step.line.number in last}
    return tuple(Gauge(one, held[one.last.number]) for one in found)
