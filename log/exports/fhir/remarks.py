"""What has to be read beside the value of a line: how it was heard, what was asked, and every correction."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from log.exports.fhir.parts import Draft, Json
from log.facts.events import Origin
from log.facts.line import Change, Line
from log.facts.note_taking import announces
from log.facts.spoken_notes import spoken_note
from log.words.wording import sentence


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark on a line."""

    text: str
    at: datetime | None = None
    author: str = ""


def unconfirmed(line: Line) -> bool:
    """Whether nobody ever said which of the candidates was meant: such a line has no value."""
    never_answered = bool(line.candidates) and all(change.what in ("struck", "restored") for change in line.changes)
    return line.status == "asked" or (line.status == "struck" and never_answered)


def candidates(draft: Draft, line: Line) -> str:
    """What an asked line could have been."""
    return " or ".join(sentence(draft.case.procedure, entry) for entry in line.candidates) + "?"


def remarks(draft: Draft, line: Line) -> Iterator[Remark]:
    """Everything there is to say of a line, in the order in which it happened."""
    if unconfirmed(line):
        yield Remark("NOT CONFIRMED, counts in no total")
    yield Remark(heard(line.origin), author=line.origin.author)
    if line.late_by is not None:
        yield Remark(f"late entry, written down {draft.told(line.logged_at)}. {line.late_reason}".strip())
    if line.candidates:
        yield Remark(f"asked: {candidates(draft, line)} ({line.reason})")
    for change in line.changes:
        reason = f" ({change.reason})" if change.reason else ""
        yield Remark(told(draft, line, change) + reason, change.at, change.origin.author)
    for written in draft.case.record.notes:
        if written.number == line.number:
            yield Remark(f"note: {written.text}", written.logged_at, written.author)
    spoken = spoken_note(draft.case.record, line.number) if announces(line.entry) else None
    if spoken is not None:
        words = spoken.written
        yield Remark(spoken.told, words.logged_at if words else None, words.author if words else "")


def told(draft: Draft, line: Line, change: Change) -> str:
    """One correction of a line with what it changed."""
    before, after = (sentence(draft.case.procedure, entry) for entry in (change.before, change.after))
    match change.what:
        case "struck":
            return f"struck: {candidates(draft, line) if unconfirmed(line) else before}"
        case "restored":
            return f"put back: {before}"
        case "answered":
            return f"confirmed when asked: {after}"
        case "amended":
            what = f"amended from {before} to {after}" if change.before != change.after else f"amended: {after}"
            return f"{what}, time was {draft.told(change.moved_from)}" if change.moved_from else what


def heard(origin: Origin) -> str:
    """How it came in."""
    how = "typed" if origin.by == "typed" else f"by voice, confidence {origin.confidence:.0%}".replace("%", " %")
    return f'{how}: "{origin.heard}"' if origin.heard else how


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
