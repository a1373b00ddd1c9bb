"""The document: a Composition for readers, with the cautions first, and everything it speaks of in one Bundle."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from log.exports import tables
from log.exports.document import Block, Item, Paragraph, Points, Table, table
from log.exports.fhir import around, codes, findings, lines, notes, origins, totals
from log.exports.fhir.parts import Draft, Json, clean, concept, identifier, narrative, of_tube
from log.exports.note_timeline import timeline
from log.exports.tables import simulation
from log.facts.line import Line
from log.facts.simulation import played_in_words
from log.summaries.debrief import corrections
from log.summaries.whole import Whole
from log.words.wording import stamp

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
    yield from totals.resources(draft)
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
    listed = Points(tuple(map(Item, case.procedure.cautions)))
    return {
        "resourceType": "Composition",
        "text": narrative(Paragraph(title), listed, status="additional"),
        "identifier": None if case.deidentified else identifier("opening-sha256", case.links[0].sha256),
        "status": "preliminary",
        "type": concept("document", "procedure-log", "Procedure log"),
        "subject": draft.ref(around.PATIENT),
        "encounter": draft.ref(around.ENCOUNTER),
        "date": draft.when(case.until),
        "author": [draft.ref(name) for name in (around.SOFTWARE, *writers)],
        "title": title,
        "section": [
            _section(draft, "Cautions", (listed,)),
            *((_section(draft, "Simulation", (*simulation(case), _played(case))),) if case.simulation else ()),
            _procedure(draft),
            *_of_the_log(draft, exported),
            _section(draft, "Made with", _made_with(case)),
        ],
    }


def _section(draft: Draft, title: str, blocks: Iterable[Block], names: Iterable[str] = ()) -> Json:
    return {
        "title": title,
        "text": narrative(*blocks, status="additional"),
        "entry": [draft.ref(name) for name in names],
    }


def _procedure(draft: Draft) -> Json:
    case = draft.case
    states = (around.status(case, tube).replace("-", " ") for tube in case.tubes)
    text = f"{case.procedure.title}. According to the log: {', then '.join(states)}."
    return _section(draft, "Procedure and tube", (Paragraph(text),), _of_each_tube(case))


def _of_each_tube(case: Whole) -> Iterator[str]:
    for tube in case.tubes:
        known = (around.PROCEDURE, around.TUBE, *((around.USE,) if around.use_known(case, tube) else ()))
        yield from (of_tube(name, tube.number) for name in known)


def _played(case: Whole) -> Table:
    """The events that were played to the team: they are no entries, so they are no resources."""
    rows = ((stamp(played.said_at), played_in_words(played)) for played in case.record.played)
    return table(("Time", "Played to the team, invented"), rows, "Nothing was played.")


def _of_the_log(draft: Draft, exported: tuple[Line, ...]) -> Iterator[Json]:
    """The same tables as in the procedure note, each beside its resources. Its timeline has all lines, those too that
    are no resource."""
    case, record = draft.case, draft.case.record
    numbers = frozenset(line.number for line in exported)
    yield _section(draft, "Lines of the log", (timeline(case),), (lines.name(line.number) for line in exported))
    added_up = dict(totals.resources(draft))
    rows = table(("What", "In all"), ((one["code"]["text"], _in_all(one)) for one in added_up.values()), "Nothing.")
    yield _section(draft, "Totals", (rows,), added_up)
    found = (tables.findings(case), *((tables.sources(case),) if record.findings else ()))
    yield _section(draft, "Findings", found, map(findings.name, range(len(record.findings))))
    yield _section(draft, "Notes", (tables.notes(case),), (name for name, _ in notes.exported(draft, numbers)))
    for title, others in (
        ("Spoken notes", tables.spoken(case)),
        ("Corrections", tables.corrections(case, corrections(record))),
        ("Gaps in hearing", tables.gaps(record.gaps)),
        ("Not understood", tables.missed(record.missed)),
    ):
        yield _section(draft, title, (others,))


def _in_all(total: Json) -> str:
    return f"{total['valueQuantity']['value']:g} {total['valueQuantity']['unit']}"


def _made_with(case: Whole) -> Iterator[Block]:
    """Software, definition and head. The label is shown for what it is and goes nowhere else."""
    opened = case.opened
    rows = [("Software", opened.software)]
    if not case.deidentified:
        rows += [("Case", opened.case), ("Label typed when the case was begun", opened.label)]
    yield table(("What", "Which"), ((what, which) for what, which in rows if which))
    yield tables.made_with(case)
    if case.head is not None:
        yield tables.fingerprint_of(case.head)
    yield Paragraph(tables.made_from(case))
    yield Paragraph(codes.NOTICE)
