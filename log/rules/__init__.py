"""The only place with clinical rules. Each is a pure function from one step of the case, with the situation before and
after it, to findings; none refuses an entry.

Numbers, priorities, sources and wording stand in the definition. What is held against a limit says the limit itself;
`comparisons` reads it. What is more than a number stands here by the part of the procedure: preparing, placing,
inflating, holding, removing; what went wrong stands in `trouble`. A finding sits beside the line that caused it,
disappears by itself when that line is corrected, and ends with a later line as `life` has it.

A case keeps the definition it was begun with. Where that lacks a limit or rule that came later, nothing is said of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from types import MappingProxyType

from log.basics.patterns import LEVELS
from log.definition.procedure import Procedure
from log.definition.reads import Read
from log.rules import holding, inflating, placing, preparing, removing, trouble
from log.rules.clocks import Clocks as Clocks
from log.rules.clocks import RunningClock as RunningClock
from log.rules.clocks import begun_after as begun_after
from log.rules.clocks import clocks_after as clocks_after
from log.rules.clocks import due as due
from log.rules.clocks import due_name as due_name
from log.rules.clocks import required_order as required_order
from log.rules.clocks import still_begun as still_begun
from log.rules.comparisons import beyond
from log.rules.finding import Finding as Finding
from log.rules.finding import means as means
from log.rules.rule import Rule as Rule
from log.rules.rule import findings
from log.state.tube import Step

RULES: tuple[Rule, ...] = (
    *preparing.RULES,
    *placing.RULES,
    *inflating.RULES,
    *holding.RULES,
    *removing.RULES,
    *trouble.RULES,
    preparing.plausible,
)


READS: tuple[Read, ...] = tuple(read for rule in RULES for read in rule.reads)
"""Every rule of a definition that is read."""

BY_NAME: Mapping[str, Rule] = MappingProxyType({read.name: rule for rule in RULES for read in rule.reads})
"""The rule that says each of them."""


def stepwise(procedure: Procedure, step: Step, begun: Set[str]) -> tuple[Finding, ...]:
    """All that the rules say of one step, the most urgent first. `begun`: the orders that are past."""
    found = (*beyond(procedure, step), *findings(RULES, procedure, step), *required_order(procedure, step, begun))
    return tuple(sorted(found, key=lambda one: LEVELS.index(one.level))) if len(found) > 1 else found
