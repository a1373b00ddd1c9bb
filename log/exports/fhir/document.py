"""The document: a Composition for readers, with the cautions first, and everything it speaks of in one Bundle."""

from __future__ import annotations

import json
from collections.abc import Iterator

from log.exports.fhir import around, findings, lines, notes, origins
from log.exports.fhir.parts import (
    Draft,
    Json,
    bullets,
    clean,
    concept,
    crossed,
    escaped,
    identifier,
    narrative,
    paragraph,
    table,
)
from log.exports.fhir.remarks import candidates, remarks, told, unconfirmed
from log.facts.line import Line
from log.facts.record import RaisedFinding
from log.facts.simulation import played_in_words
from log.words.wording import sentence

COMPOSITION = "composition"


def written(draft: Draft) -> str:
    """The whole document as JSON."""
    return json.dumps(clean(_bundle(draft)), ensure_ascii=False, indent=1) + "\n"


def _bundle(draft: Draft) -> Json:
    """A document; of a case without identity a collection of the same, because a document has to have an exact time
    (invariant bdl-10) and an identifier (bdl-9).

    The identifier is the fingerprint of the last fact: it names this state of this log, and `verify` knows it.
    """
    case = draft.case
    entries = [
        {"fullUrl": draft.url(name), "resource": {**resource, "meta": draft.meta}}
        for name, resource in _resources(draft)
    ]
    if case.deidentified:
        return {"resourceType": "Bundle", "meta": draft.meta, "type": "collection", "entry": entries}
    return {
        "resourceType": "Bundle",
        "meta": draft.meta,
        "identifier": identifier("fact-sha256", case.links[-1].sha256),
        "type": "document",
        "timestamp": draft.exactly(case.until),
        "entry": entries,
    }


def _resources(draft: Draft) -> Iterator[tuple[str, Json]]:
    exported = lines.exported(draft.case)
    numbers = frozenset(line.number for line in exported)
    yield COMPOSITION, _composition(draft, exported)
    yield from around.resources(draft)
    for line in exported:
        yield lines.name(line.number), lines.resource(draft, line)
    for index, found in enumerate(draft.case.record.findings):
        yield findings.name(index), findings.resource(draft, found, numbers)
    yield from notes.resources(draft, numbers)
    yield from origins.resources(draft, numbers)


def _composition(draft: Draft, exported: tuple[Line, ...]) -> Json:
    """`preliminary` always: nobody has signed, and `final` means verified by an appropriate person.

    Its type is text and a code of our own. Of LOINC's types only the surgical operation note is confirmed in our
    reference (5.5), and a tube at the bedside is no operation.
    """
    case = draft.case
    writers = [around.person(role) for role in around.WRITERS if role in around.people(draft)]
    title = f"Procedure log, unsigned: {case.procedure.title}"
    if case.simulation:
        title = f"{case.simulation}: {title}"
    return {
        "resourceType": "Composition",
        "text": narrative(paragraph(title), bullets(case.procedure.cautions), status="additional"),
        "identifier": None if case.deidentified else identifier("opening-sha256", case.links[0].sha256),
        "status": "preliminary",
        "type": concept("document", "procedure-log", "Procedure log"),
        "subject": draft.ref(around.PATIENT),
        "date": draft.when(case.until),
        "author": [draft.ref(name) for name in (around.SOFTWARE, *writers)],
        "title": title,
        "section": [
            _section(draft, "Cautions", bullets(case.procedure.cautions)),
            *((_played(draft),) if case.simulation else ()),
            _procedure(draft),
            _lines(draft, exported),
            _findings(draft),
            _notes(draft, exported),
            _corrections(draft),
            _gaps(draft),
            _missed(draft),
            _made_with(draft),
        ],
    }


def _section(draft: Draft, title: str, markup: str, *names: str) -> Json:
    return {
        "title": title,
        "text": narrative(markup, status="additional"),
        "entry": [draft.ref(name) for name in names],
    }


def _procedure(draft: Draft) -> Json:
    case = draft.case
    known = (around.PROCEDURE, around.TUBE, *((around.USE,) if around.use_known(case) else ()))
    text = f"{case.procedure.title}. By the log: {around.status(case).replace('-', ' ')}."
    return _section(draft, "Procedure and tube", paragraph(text), *known)


def _played(draft: Draft) -> Json:
    """What the program played to the team: nothing of it is an entry, so nothing of it is a resource."""
    rows = (
        (escaped(draft.told(played.said_at)), escaped(played_in_words(played))) for played in draft.case.record.played
    )
    markup = table(("Time", "Played to the team, invented"), rows, "Nothing was played.")
    return _section(draft, "Simulation", paragraph(f"{draft.case.simulation}.") + markup)


def _lines(draft: Draft, exported: tuple[Line, ...]) -> Json:
    """All lines, those too that are no resource."""
    ordered = sorted(draft.case.record.lines, key=lambda line: (line.said_at, line.number))
    rows = (
        (
            str(line.number),
            escaped(draft.told(line.said_at)),
            _entry(draft, line),
            lines.status(line),
            escaped("; ".join(remark.text for remark in remarks(draft, line))),
        )
        for line in ordered
    )
    head = ("Line", "Time", "Entry", "Status", "Remarks")
    names = (lines.name(line.number) for line in exported)
    return _section(draft, "Lines of the log", table(head, rows, "Nothing was logged."), *names)


def _entry(draft: Draft, line: Line) -> str:
    text = candidates(draft, line) if unconfirmed(line) else sentence(draft.case.procedure, line.entry)
    if line.status == "struck":
        return crossed(text)
    return f"NOT CONFIRMED: {escaped(text)}" if line.status == "asked" else escaped(text)


def _findings(draft: Draft) -> Json:
    found = draft.case.record.findings
    rows = (
        (
            escaped(draft.told(each.raised.logged_at)),
            each.raised.level,
            "" if each.raised.number is None else str(each.raised.number),
            escaped(f"{each.raised.message} {each.raised.source}"),
            escaped(_end(draft, each)),
        )
        for each in found
    )
    head = ("Raised", "Level", "Line", "Finding", "Settled")
    names = map(findings.name, range(len(found)))
    return _section(draft, "Findings", table(head, rows, "No rule had anything to say."), *names)


def _end(draft: Draft, found: RaisedFinding) -> str:
    seen = draft.case.record.acknowledged(found.raised)
    ends = list(findings.told(draft, seen, found.settled))
    return "; ".join(ends if found.settled else ["still open", *ends])


def _notes(draft: Draft, exported: tuple[Line, ...]) -> Json:
    rows = (
        (
            escaped(draft.told(written.said_at)),
            "" if written.number is None else str(written.number),
            escaped(written.text),
            escaped(f"{notes.by_whom(draft, written)}, {draft.told(written.logged_at)}"),
        )
        for written in draft.case.record.notes
    )
    names = (name for name, _ in notes.exported(draft, frozenset(line.number for line in exported)))
    return _section(draft, "Notes", table(("About", "Line", "Note", "By"), rows, "None."), *names)


def _corrections(draft: Draft) -> Json:
    rows = (
        (str(line.number), escaped(draft.told(change.at)), escaped(told(draft, line, change)))
        for line in draft.case.record.lines
        for change in line.changes
    )
    return _section(draft, "Corrections", table(("Line", "Time", "What"), rows, "Nothing was corrected."))


def _gaps(draft: Draft) -> Json:
    rows = (
        (
            escaped(draft.told(gap.began_at)),
            f"{gap.seconds:.1f} s",
            escaped(gap.reason),
        )
        for gap in draft.case.record.gaps
    )
    return _section(draft, "Gaps in hearing", table(("Began", "For", "Why"), rows, "None known."))


def _missed(draft: Draft) -> Json:
    rows = (
        (
            escaped(draft.told(missed.said_at)),
            escaped(missed.origin.heard),
            escaped(missed.reason),
        )
        for missed in draft.case.record.missed
    )
    return _section(draft, "Not understood", table(("Time", "Heard", "Why"), rows, "Nothing."))


def _made_with(draft: Draft) -> Json:
    """Definition, software and head. The label is shown for what it is and goes nowhere else."""
    case = draft.case
    rows = [
        ("Definition", f"{case.procedure.id}, version {case.procedure.version}"),
        ("Software", case.opened.software),
    ]
    if not case.deidentified:
        rows += [
            ("Case", case.opened.case),
            ("Label typed when the case was begun", case.opened.label),
            ("SHA-256 of the definition", case.opened.definition_sha256),
            ("SHA-256 of the last fact", case.links[-1].sha256),
            ("Public key (Ed25519)", case.head.public_key if case.head else ""),
            ("Signature of the head", case.head.signature if case.head else ""),
        ]
    markup = table(("What", "Which"), ((escaped(what), escaped(which)) for what, which in rows if which), "")
    return _section(draft, "Made with", markup)
