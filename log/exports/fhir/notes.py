"""Free words about a moment, as Communication resources: said to the log, and no observation. Words about a line stand
beside its value, as an annotation.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.exports.fhir.around import PATIENT, PROCEDURE
from log.exports.fhir.parts import Draft, Json, concept, of_tube, paragraphs
from log.facts.events import NoteWritten


def name(index: int) -> str:
    """The name of a note's resource inside the bundle, by its place among the notes."""
    return f"note/{index}"


def exported(draft: Draft, lines: frozenset[int]) -> Iterator[tuple[str, NoteWritten]]:
    """The notes that are resources of their own: all but those about a line that is one (`lines`)."""
    for index, written in enumerate(draft.case.record.notes):
        if written.number not in lines:
            yield name(index), written


def resources(draft: Draft, lines: frozenset[int]) -> Iterator[tuple[str, Json]]:
    """Each with its name inside the bundle."""
    for called, written in exported(draft, lines):
        yield called, _resource(draft, written)


def _resource(draft: Draft, written: NoteWritten) -> Json:
    """`sent` is the moment it is about; when and by whom it was written down is said in words, for whoever writes is
    a role or a name and no resource."""
    about = f" about line {written.number}" if written.number is not None else ""
    by = f"{by_whom(draft, written)}, written down {draft.in_words(written.logged_at)}"
    return {
        "resourceType": "Communication",
        "text": paragraphs(f"Note{about}: {written.text}", by),
        "status": "completed",
        "category": [concept("note", "note", "Note of the scribe")],
        "subject": draft.ref(PATIENT),
        "about": [draft.ref(of_tube(PROCEDURE, draft.case.tube_at(written.said_at).number))],
        "sent": draft.when(written.said_at),
        "payload": [{"contentString": written.text}],
        "note": [{"text": by}],
    }


def by_whom(draft: Draft, written: NoteWritten) -> str:
    """Its author; not in a case without identity."""
    return "by " + (written.author if written.author and not draft.case.deidentified else "somebody")
