"""The audit trail: who did what to the record, when, with what was there before and after, one row a fact.

Sources of what it has to hold: 21 CFR 11.10(e) (who, what, when; the earlier value not hidden), ICH E6(R2) 4.9.0
(changes traceable, the original not obscured, the reason where needed). A table in the form of RFC 4180, made as
harmless to a spreadsheet as the table of lines. Times are those that were written, also where the clock was corrected.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import NamedTuple, assert_never

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.exports.csv_table import LINE_END, harmless, simulation_cell, simulation_column
from log.facts.events import (
    AcknowledgementUndone,
    CaptureGap,
    CaseClosed,
    CaseOpened,
    CaseResumed,
    ChangeUndone,
    ClockCorrected,
    DifferenceHeard,
    DifferenceReviewed,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    FindingAcknowledged,
    FindingRaised,
    FindingSettled,
    IdentifiersGiven,
    IdentifiersRemoved,
    ListeningChanged,
    NoteWritten,
    NotUnderstoodHeard,
    QuestionAnswered,
    ReviewUndone,
    SavedLate,
    SimulationPlayed,
    SoundsHeardAgain,
    SoundsRemoved,
    SpeechKept,
    SpokenNoteKept,
    SpokenNoteWritten,
)
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record, evolve
from log.facts.simulation import played_in_words
from log.store.chain import Link
from log.summaries.whole import Whole
from log.words.second_hearing import drafted
from log.words.wording import clock_correction, many, rfc3339, saved_late, sentence, way

COLUMNS = (
    "fact",
    "logged_at",
    "happened_at",
    "author",
    "by",
    "what",
    "line",
    "before",
    "after",
    "reason",
    "sha256",
    "caution_not_a_medical_device",
)

PROGRAM = "the program"
"""The author of findings, their ends and gaps."""


class Done(NamedTuple):
    """One fact in words."""

    what: str
    line: int | None = None
    before: str = ""
    after: str = ""
    reason: str = ""
    author: str = PROGRAM


def as_audit(case: Whole) -> str:
    """The audit trail as comma-separated values."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=LINE_END)
    writer.writerow((*COLUMNS, *simulation_column(case)))
    writer.writerows(_rows(case))
    return out.getvalue()


def _rows(case: Whole) -> Iterator[tuple[str, ...]]:
    record = Record()
    cautions = harmless(" ".join(case.procedure.cautions))
    for link in case.links:
        done = _done(case.procedure, record, link)
        sha256 = "" if case.deidentified else link.sha256
        yield (*_row(link, done), sha256, cautions, *simulation_cell(case))
        record = evolve(record, link.fact)


def _row(link: Link, done: Done) -> tuple[str, ...]:
    fact = link.fact
    origin = getattr(fact, "origin", None)
    happened_at = getattr(fact, "happened_at", None) or getattr(fact, "said_at", None) or fact.logged_at
    texts = (done.before, done.after, done.reason)
    return (
        str(link.seq),
        rfc3339(fact.logged_at),
        rfc3339(happened_at),
        harmless(done.author or "not named"),
        origin.by if isinstance(origin, Origin) else "",
        done.what,
        "" if done.line is None else str(done.line),
        *(harmless(text) for text in texts),
    )


def _done(procedure: Procedure, record: Record, link: Link) -> Done:
    def words(entry: Entry) -> str:
        return sentence(procedure, entry)

    def as_it_says(line: Line) -> str:
        return f"{_candidates(line.candidates)}?" if line.status == "asked" else words(line.entry)

    def before(number: int) -> str:
        return as_it_says(record.line(number))

    def _candidates(entries: tuple[Entry, ...]) -> str:
        return " or ".join(map(words, entries))

    match fact := link.fact:
        case CaseOpened():
            what = "case opened: simulation" if fact.simulation else "case opened"
            return Done(what, after=fact.case, author=fact.author)
        case CaseResumed():
            return Done("case resumed", after=fact.source, author=fact.author)
        case ClockCorrected():
            return Done("clock corrected", after=clock_correction(fact), reason=fact.reason, author=fact.author)
        case EntryLogged():
            late = "late entry" if fact.late_reason else "entry logged"
            return Done(late, fact.number, "", words(fact.entry), fact.late_reason, fact.origin.author)
        case EntryAsked():
            after = f"{_candidates(fact.candidates)}?"
            return Done("entry asked", fact.number, "", after, fact.reason, fact.origin.author)
        case QuestionAnswered():
            return Done("answered", fact.number, before(fact.number), words(fact.entry), "", fact.origin.author)
        case EntryAmended():
            changes = (before(fact.number), words(fact.entry))
            if fact.happened_at is not None:
                old = rfc3339(record.line(fact.number).said_at)
                changes = (f"{changes[0]} at {old}", f"{changes[1]} at {rfc3339(fact.happened_at)}")
            return Done("amended", fact.number, *changes, fact.reason, fact.origin.author)
        case EntryStruck():
            return Done("struck", fact.number, before(fact.number), "", fact.reason, fact.origin.author)
        case EntryRestored():
            return Done("put back", fact.number, "", before(fact.number), fact.reason, fact.origin.author)
        case ChangeUndone():
            then = evolve(record, fact).line(fact.number)
            counts = "" if then.status == "struck" else as_it_says(then)
            return Done("undone", fact.number, before(fact.number), counts, fact.reason, fact.origin.author)
        case NotUnderstoodHeard():
            return Done("not understood", None, "", fact.origin.heard, fact.reason, fact.origin.author)
        case SpeechKept():
            return Done("other speech kept", after=fact.origin.heard)
        case FindingRaised():
            return Done("finding raised", fact.number, "", f"{fact.level}: {fact.message}", fact.source)
        case FindingSettled():
            return Done("finding settled", fact.number, fact.message, "", fact.how)
        case FindingAcknowledged():
            return Done("finding acknowledged", fact.number, "", fact.message, fact.reason, fact.author)
        case AcknowledgementUndone():
            return Done("acknowledgement undone", fact.number, fact.message, "", fact.reason, fact.author)
        case NoteWritten():
            return Done("note written", fact.number, "", fact.text, author=fact.author)
        case SpokenNoteKept():
            seconds = f"{fact.origin.sound.seconds:.1f} s of sound" if fact.origin.sound else "sound left out"
            return Done("spoken note kept", fact.number, "", f"{seconds}, to be transcribed", "", fact.origin.author)
        case SpokenNoteWritten():
            first = record.transcribed.get(fact.number)
            return Done("spoken note transcribed", fact.number, first.text if first else "", fact.text, "", fact.author)
        case SoundsHeardAgain():
            return Done("heard again", after=f"{many(len(fact.sha256), 'sound')} by {fact.engine}")
        case DifferenceHeard():
            again = words(fact.entry) if fact.entry is not None else drafted(fact.text)
            says = before(fact.number) if fact.number is not None else ""
            return Done(f"second hearing: {fact.differs}", fact.number, says, again, f"difference {fact.difference}")
        case DifferenceReviewed():
            what = "difference taken" if fact.taken else "difference left"
            which = f"difference {fact.difference}: {fact.reason}"
            return Done(what, fact.number, "", fact.text, which, fact.author)
        case ReviewUndone():
            return Done("review undone", reason=f"difference {fact.difference}: {fact.reason}", author=fact.author)
        case CaptureGap():
            return Done(
                "nothing heard", after=f"{fact.seconds:.1f} s from {rfc3339(fact.began_at)}", reason=fact.reason
            )
        case SavedLate():
            return Done("saved late", after=saved_late(fact), reason=fact.reason)
        case ListeningChanged():
            return Done("listening changed", after=way(fact), author=fact.author)
        case SoundsRemoved():
            return Done("sounds removed", None, many(len(fact.sha256), "sound"), "", fact.reason, fact.author)
        case IdentifiersGiven():
            return Done("identifiers given", author=fact.author)
        case IdentifiersRemoved():
            return Done("identifiers removed", reason=fact.reason, author=fact.author)
        case SimulationPlayed():
            return Done("played to the team", fact.because, "", played_in_words(fact))
        case CaseClosed():
            return Done("case closed", reason=fact.reason)
        case _:
            assert_never(fact)
