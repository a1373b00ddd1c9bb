"""A rule is a function from one line of the case to messages about it, and declares every rule of the definition that
it reads, and what ends its findings.

The declarations are the only list of those names. A definition is held to them (log/rules/definitions.py), and a name
that is declared and not used, or used and not declared, is an error: a misspelt name would else never be heard of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from types import CodeType

from log.basics.entry import Entry
from log.basics.patterns import Sourced
from log.definition.procedure import Procedure
from log.definition.reads import Read, Whose
from log.rules.finding import Finding
from log.state.tube import Step


@dataclass(frozen=True, slots=True)
class Said:
    """A rule's message about a line: the message of the definition, and what it is about here."""

    rule: str
    about: str = ""
    """Before the message: "gastric (50 mL)"."""
    then: str = ""
    """After it."""
    standing: Sourced | None = None
    """The source it is cited from, where that is not the rule's own."""

    def message(self, of_the_rule: str) -> str:
        """The whole text."""
        return ": ".join(part for part in (self.about, of_the_rule, self.then) if part)


Says = Callable[[Procedure, Step], Iterator[Said]]

Until = Callable[[Procedure, Entry, Step], bool]
"""Whether a later line ends what a rule said beside this entry."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule with what it reads."""

    says: Says
    reads: tuple[Read, ...]
    until: Until | None = None
    """None: what happened cannot be undone, and its findings stand until their line is corrected."""
    outlasts: bool = False
    """Whether its findings go on once the tube is out."""

    def finding(self, procedure: Procedure, step: Step, said: Said) -> Finding | None:
        """The finding of a line as the definition words it; None where that has no such rule, as older ones may.

        Raises LookupError for a name that is not declared.
        """
        if not any(read.name == said.rule for read in self.reads):
            raise LookupError(f'{_name(self.says)} says "{said.rule}" and does not declare it: is it misspelt?')
        rule = procedure.rules.get(said.rule)
        if rule is None:
            return None
        source = procedure.cite(said.standing or rule)
        return Finding(said.rule, step.line.number, rule.level, said.message(rule.message), source)


def findings(rules: Iterable[Rule], procedure: Procedure, step: Step) -> Iterator[Finding]:
    """All that these rules find in one line."""
    for rule in rules:
        for said in rule.says(procedure, step):
            if (found := rule.finding(procedure, step, said)) is not None:
                yield found


def rule(
    *rules: str,
    later: tuple[str, ...] = (),
    whose: Whose = "any tube",
    until: Until | None = None,
    outlasts: bool = False,
) -> Callable[[Says], Rule]:
    """Declares the names that a rule reads: `rules` are in every definition, `later` not in those of older cases.

    `whose`: the part of the tube without which it says nothing, and need not be there. `until`, `outlasts`: see `Rule`.
    Raises LookupError for a name that the function does not use.
    """

    def declared(says: Says) -> Rule:
        used = set(_texts(says.__code__))
        for name in (*rules, *later):
            if name not in used:
                raise LookupError(f'{_name(says)} declares "{name}" and does not say it: is it misspelt?')
        reads = (Read(name, later=name in later, whose=whose) for name in (*rules, *later))
        return Rule(says, tuple(reads), until, outlasts)

    return declared


def _texts(code: CodeType) -> Iterator[str]:
    """Every text that stands in a function."""
    for constant in code.co_consts:
        match constant:
            case str():
                yield constant
            case tuple():
                yield from (one for one in constant if isinstance(one, str))
            case CodeType():
                yield from _texts(constant)


def _name(says: Says) -> str:
    return f"rule {says.__module__}.{says.__qualname__}"
