"""Remarks that have to be read beside the value of a line: how it was heard, what was asked, every correction."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from log.exports.fhir.parts import Draft, Json
from log.exports.lines import changed, unconfirmed
from log.facts.line import Line
from log.facts.note_taking import announces
from log.facts.spoken_notes import spoken_note
from log.words.wording import candidates, heard_as


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark on a line."""

    text: str
    at: datetime | None = None
    author: str = ""


def remarks(draft: Draft, line: Line) -> Iterator[Remark]:
    """Everything there is to say of a line, in the order in which it happened."""
    procedure = draft.case.procedure
    if unconfirmed(line):
        yield Remark("NOT CONFIRMED, counts in no total")
    yield Remark(heard_as(line.origin), author=line.origin.author)
    if line.late_by is not None:
        yield Remark(f"late entry, written down {draft.in_words(line.logged_at)}. {line.late_reason}".strip())
    if line.candidates:
        yield Remark(f"asked: {candidates(procedure, line)} ({line.reason})")
    for change in line.changes:
        reason = f" ({change.reason})" if change.reason else ""
        what = "amended: " if change.what == "amended" else ""
        yield Remark(f"{what}{changed(procedure, line, change)}{reason}", change.at, change.origin.author)
    for written in draft.case.record.notes:
        if written.number == line.number:
            yield Remark(f"note: {written.text}", written.logged_at, written.author)
    spoken = spoken_note(draft.case.record, line.number) if announces(line.entry) else None
    if spoken is not None:
        words = spoken.written
        yield Remark(spoken.in_words, words.logged_at if words else None, words.author if words else "")


def notes(draft: Draft, line: Line) -> list[Json]:
    """The remarks as FHIR annotations; without their authors in a case without identity."""
    return [
        {
            "authorString": "" if draft.case.deidentified else remark.author,
            "time": draft.when(remark.at) if remark.at else None,
            "text": remark.text,
        }
        for remark in remarks(draft, line)
    ]
