"""What the rules had to say, as DetectedIssue resources."""

from __future__ import annotations

from log.events import FindingSettled
from log.exports.fhir.around import PATIENT, PROCEDURE, SOFTWARE
from log.exports.fhir.lines import name as line_name
from log.exports.fhir.parts import Draft, Json, concept, named, narrative, paragraph
from log.record import RaisedFinding

SEVERITY = {"high": "high", "medium": "moderate", "low": "low"}
"""Priority of a finding -> DetectedIssue.severity. `information` has none: it is no danger to anybody."""


def name(index: int) -> str:
    """What the resource of a finding is called inside the bundle, by its place among the findings."""
    return f"finding/{index}"


def resource(draft: Draft, found: RaisedFinding, lines: frozenset[int]) -> Json:
    """A finding. `lines`: the numbers of the lines that are in the bundle.

    It stays `final` when it is settled, for it was found; R4 has no status for an issue that is over, and says with
    a mitigation how it came to an end.
    """
    raised, settled = found.raised, found.settled
    text = f"{raised.level}: {raised.message} {raised.source}"
    return {
        "resourceType": "DetectedIssue",
        "text": narrative(paragraph(text), *([paragraph(f"Settled: {settled.how}")] if settled else [])),
        "status": "final",
        "code": concept("rule", raised.rule, raised.rule.replace("_", " ")),
        "severity": SEVERITY.get(raised.level),
        "patient": draft.ref(PATIENT),
        "identifiedDateTime": draft.when(raised.logged_at),
        "author": draft.ref(SOFTWARE),
        "implicated": [draft.ref(PROCEDURE)],
        "evidence": [{"detail": [draft.ref(line_name(raised.number))]}] if raised.number in lines else [],
        "detail": f"{raised.message} {raised.source}",
        "mitigation": [{"action": {"text": named(settled.how)}, "date": draft.when(settled.logged_at)}]
        if settled
        else [],
    }


def _mitigation(draft: Draft, settled: FindingSettled) -> Json:
    return {"action": {"text": named(settled.how)}, "date": draft.when(settled.logged_at)}
