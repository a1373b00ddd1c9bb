"""Origins as Provenance resources, who said what when: one for each fact that made or changed a line, with the fact's
fingerprint, and one for the log as a whole with its signed head.

A case without identity has none: Provenance needs the exact time and says who it was.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.exports.fhir.around import SOFTWARE
from log.exports.fhir.lines import name as line_name
from log.exports.fhir.parts import OPERATION, Draft, Json, identifier, named
from log.facts.events import (
    AboutALine,
    ChangeUndone,
    ClockCorrected,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    QuestionAnswered,
)
from log.store.chain import Link
from log.words.wording import clock_correction


def resources(draft: Draft, lines: frozenset[int]) -> Iterator[tuple[str, Json]]:
    """The provenance of the lines with these numbers, and of the document."""
    if draft.case.deidentified:
        return
    yield "origin/document", _of_the_document(draft)
    for link, fact in zip(draft.case.links, draft.case.facts, strict=True):
        if isinstance(fact, AboutALine) and fact.number in lines:
            yield f"origin/{link.seq}", _of_a_line(draft, link, fact)
        if isinstance(fact, ClockCorrected):
            yield f"origin/{link.seq}", _of_the_clock(draft, link, fact)


def _of_a_line(draft: Draft, link: Link, fact: AboutALine) -> Json:
    how = "typed" if fact.origin.by == "typed" else "by voice"
    return {
        "resourceType": "Provenance",
        "target": [draft.ref(line_name(fact.number))],
        "occurredDateTime": draft.when(fact.said_at),
        "recorded": draft.exactly(fact.logged_at),
        "reason": [{"text": _reason(fact)}],
        "activity": _activity(fact),
        "agent": [
            {"type": {"text": f"author, {how}"}, "who": {"display": named(fact.origin.author, "not named")}},
            {"type": {"text": "recorded it"}, "who": draft.ref(SOFTWARE)},
        ],
        "entity": [_source(f"fact {link.seq} of the log", "fact-sha256", link.sha256)],
    }


def _of_the_clock(draft: Draft, link: Link, fact: ClockCorrected) -> Json:
    """The times of all that was recorded before are corrected in this document."""
    return {
        "resourceType": "Provenance",
        "target": [draft.ref("composition")],
        "recorded": draft.exactly(fact.logged_at),
        "reason": [{"text": fact.reason}],
        "activity": {"coding": [{"system": OPERATION, "code": "UPDATE"}], "text": clock_correction(fact)},
        "agent": [{"type": {"text": "author, typed"}, "who": {"display": named(fact.author, "not named")}}],
        "entity": [_source(f"fact {link.seq} of the log", "fact-sha256", link.sha256)],
    }


def _activity(fact: AboutALine) -> Json:
    """The change of the line, in HL7's own words for operations on data. Striking keeps the line and takes away
    that it counts: that is NULLIFY, not DELETE."""
    match fact:
        case EntryLogged():
            code, text = "CREATE", "logged"
        case EntryAsked():
            code, text = "CREATE", "asked"
        case QuestionAnswered():
            code, text = "UPDATE", "confirmed when asked"
        case EntryAmended():
            code, text = "UPDATE", "amended"
        case EntryStruck():
            code, text = "NULLIFY", "struck"
        case EntryRestored():
            code, text = "REACTIVATE", "put back"
        case ChangeUndone():
            code, text = "UPDATE", "change undone"
    return {"coding": [{"system": OPERATION, "code": code}], "text": text}


def _reason(fact: AboutALine) -> str:
    match fact:
        case EntryLogged():
            return fact.late_reason
        case QuestionAnswered():
            return ""
        case _:
            return fact.reason


def _of_the_document(draft: Draft) -> Json:
    """The signed head of the chain. It is not a signature in FHIR's sense, for it covers the facts and not this
    document; so key and signature are identifiers, to be checked with the facts (log/store/chain.py)."""
    case = draft.case
    head = case.head
    signed = (
        [
            _source("public key (Ed25519) that vouches for the facts", "public-key", head.public_key),
            _source("signature of the head of the log", "head-signature", head.signature),
        ]
        if head
        else []
    )
    last = case.links[-1]
    return {
        "resourceType": "Provenance",
        "target": [draft.ref("composition")],
        "recorded": draft.exactly(case.until),
        "activity": {"text": "exported from the facts of the log"},
        "agent": [{"type": {"text": "exported it"}, "who": draft.ref(SOFTWARE)}],
        "entity": [_source(f"head of the log: fact {last.seq}, the last", "fact-sha256", last.sha256), *signed],
    }


def _source(display: str, system: str, value: str) -> Json:
    return {"role": "source", "what": {"identifier": identifier(system, value), "display": display}}
