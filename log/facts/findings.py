"""The findings of a record: raised once, and settled when they no longer hold."""

from __future__ import annotations

from dataclasses import dataclass, replace

from log.facts.events import FindingRaised, FindingSettled


@dataclass(frozen=True, slots=True)
class RaisedFinding:
    """A finding in the record, and how it was settled if it was."""

    raised: FindingRaised
    settled: FindingSettled | None = None


def settled(findings: tuple[RaisedFinding, ...], fact: FindingSettled) -> tuple[RaisedFinding, ...]:
    """With the newest open finding of this name settled; what was never raised cannot be."""
    for place in range(len(findings) - 1, -1, -1):
        found = findings[place]
        if found.settled is None and _name(found.raised) == _name(fact):
            return (*findings[:place], replace(found, settled=fact), *findings[place + 1 :])
    return findings


def _name(finding: FindingRaised | FindingSettled) -> tuple[str, int | None, str]:
    return finding.rule, finding.number, finding.message
