"""What the definition wants in the record before something else."""

from __future__ import annotations

from collections.abc import Iterator, Set

from log.definition.procedure import Order, Procedure
from log.rules.finding import Finding, finding, means
from log.state.tube import Situation, Step


def required_order(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Finding]:
    """The orders of the definition: told once, at the first line that came too early. `begun`: those that are past."""
    for order in starting(procedure, step, begun):
        if not _done(order, step.before):
            yield finding(procedure, order.id, order, step.line, order.message)


def starting(procedure: Procedure, step: Step, begun: Set[str]) -> Iterator[Order]:
    """The orders of which this step is the first to be what comes second."""
    for order in procedure.order:
        if order.id not in begun and means(order.then, step) and step.entry.value not in ("off", "down"):
            yield order


def _done(order: Order, before: Situation) -> bool:
    """Whether the last word on what had to come first is the one that is wanted."""
    found = [
        entry
        for (kind, site), entry in before.latest.items()
        if kind == order.first.kind and order.first.site in (None, site)
    ]
    return bool(found) and all(order.first.value in (None, entry.value) for entry in found)
