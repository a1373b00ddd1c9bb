"""Findings as DetectedIssue resources."""

from __future__ import annotations

from collections.abc import Iterator

from log.exports.fhir.around import PATIENT, PROCEDURE, SOFTWARE
from log.exports.fhir.lines import name as line_name
from log.exports.fhir.parts import Draft, Json, concept, named, of_tube, paragraphs
from log.facts.events import FindingAcknowledged, FindingSettled
from log.facts.findings import RaisedFinding

SEVERITY = {"high": "high", "medium": "moderate", "low": "low"}
"""Priority of a finding -> DetectedIssue.severity. `information` has none: it is no danger to anybody."""


def name(index: int) -> str:
    """The name of a finding's resource inside the bundle, by its place among the findings."""
    return f"finding/{index}"


def resource(draft: Draft, found: RaisedFinding, lines: frozenset[int]) -> Json:
    """A finding. `lines`: the numbers of the lines that are in the bundle.

    It is `entered-in-error` where its line was struck. Else it stays `final`, settled or not, for it was found; R4
    has no status for an issue that is over, and says with a mitigation how it came to an end. Who has seen it and let
    it stand is a mitigation too: an action that was observed to deal with it.
    """
    raised, settled = found.raised, found.settled
    seen = draft.case.record.acknowledged(raised)
    text = f"{raised.level}: {raised.message} {raised.source}"
    return {
        "resourceType": "DetectedIssue",
        "text": paragraphs(text, *ends(draft, seen, settled)),
        "status": "entered-in-error" if _struck(draft, raised.number) else "final",
        "code": concept("rule", raised.rule, raised.rule.replace("_", " ")),
        "severity": SEVERITY.get(raised.level),
        "patient": draft.ref(PATIENT),
        "identifiedDateTime": draft.when(raised.logged_at),
        "author": draft.ref(SOFTWARE),
        "implicated": [_procedure(draft, raised.number)],
        "evidence": [{"detail": [draft.ref(line_name(raised.number))]}] if raised.number in lines else [],
        "detail": f"{raised.message} {raised.source}",
        "mitigation": [
            *([_acknowledged(draft, seen)] if seen else []),
            *([_settled(draft, settled)] if settled else []),
        ],
    }


def _struck(draft: Draft, number: int | None) -> bool:
    return number is not None and draft.case.record.line(number).status == "struck"


def _procedure(draft: Draft, number: int | None) -> Json:
    """That of the tube which the line is about; of the last for a finding without a line."""
    if number is None:
        return draft.ref(of_tube(PROCEDURE, draft.case.tubes[-1].number))
    return draft.of_its_tube(PROCEDURE, draft.case.record.line(number))


def ends(draft: Draft, seen: FindingAcknowledged | None, settled: FindingSettled | None) -> Iterator[str]:
    """Its acknowledgement and its end, in words."""
    if seen is not None:
        yield acknowledged(draft, seen)
    if settled is not None:
        yield f"settled: {settled.how}"


def acknowledged(draft: Draft, seen: FindingAcknowledged) -> str:
    """That somebody has seen it, and why it may stand."""
    by = f" by {seen.author}" if seen.author and not draft.case.deidentified else ""
    return f"acknowledged{by}: {seen.reason}"


def _acknowledged(draft: Draft, seen: FindingAcknowledged) -> Json:
    return {"action": {"text": acknowledged(draft, seen)}, "date": draft.when(seen.logged_at)}


def _settled(draft: Draft, settled: FindingSettled) -> Json:
    return {"action": {"text": named(settled.how)}, "date": draft.when(settled.logged_at)}
