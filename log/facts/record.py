"""The record that the facts of a case add up to: the lines of the log with their corrections, and what was found and
missed.

Plain tuples are copied for each new fact: less than 0.1 ms at 5,000 lines, more than a real watch can reach.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType
from typing import Any, Literal, assert_never

from log.basics.entry import Entry
from log.facts.act import Act, acts_after
from log.facts.clock import on_the_right_clock
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
    Fact,
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
from log.facts.findings import RaisedFinding, settled
from log.facts.last_breath import LastBreath
from log.facts.line import Change, Line, Status
from log.facts.note_taking import Taking, taking_after
from log.facts.summary import Summary

NOTHING: Mapping[Any, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Record:
    """A whole case."""

    opened: CaseOpened | None = None
    resumed: tuple[CaseResumed, ...] = ()
    clocks: tuple[ClockCorrected, ...] = ()
    """Corrections of the clock; all times here are corrected already."""
    lines: tuple[Line, ...] = ()
    findings: tuple[RaisedFinding, ...] = ()
    missed: tuple[NotUnderstoodHeard, ...] = ()
    speech: tuple[SpeechKept, ...] = ()
    notes: tuple[NoteWritten, ...] = ()
    dictated: tuple[SpokenNoteKept, ...] = ()
    transcribed: Mapping[int, SpokenNoteWritten] = field(default_factory=lambda: NOTHING)
    """By the line that announced the spoken note."""
    heard_again: tuple[SoundsHeardAgain, ...] = ()
    differences: tuple[DifferenceHeard, ...] = ()
    """Differences between the second hearing and the log, in the order of their numbers."""
    reviews: Mapping[int, DifferenceReviewed] = field(default_factory=lambda: NOTHING)
    """By the number of the difference."""
    taking: Taking | None = None
    """The spoken note that is being taken, or was until a while ago."""
    acknowledgements: Mapping[tuple[str, int | None, str], FindingAcknowledged] = field(default_factory=lambda: NOTHING)
    """By rule, line and message of the finding."""
    gaps: tuple[CaptureGap, ...] = ()
    saved_late: tuple[SavedLate, ...] = ()
    """Times in which the disk took nothing."""
    ways: tuple[ListeningChanged, ...] = ()
    """The ways in which entries had to be said, each with its beginning."""
    removals: tuple[SoundsRemoved | IdentifiersRemoved, ...] = ()
    identified: IdentifiersGiven | None = None
    played: tuple[SimulationPlayed, ...] = ()
    """Events played to the team, where this is a rehearsal."""
    closed: CaseClosed | None = None
    """None while somebody listens."""
    breath: LastBreath = field(default_factory=LastBreath)
    acts: tuple[Act, ...] = ()
    """Acts that can be taken back, the newest last."""

    def acknowledged(self, found: FindingRaised) -> FindingAcknowledged | None:
        """Who has seen this finding, if anybody has since it was raised."""
        seen = self.acknowledgements.get((found.rule, found.number, found.message))
        return seen if seen is not None and seen.logged_at >= found.logged_at else None

    @property
    def next_number(self) -> int:
        """The number of the next line."""
        return len(self.lines) + 1

    @property
    def standing(self) -> tuple[Line, ...]:
        """The lines that count, in the order in which things happened."""
        return tuple(sorted((li for li in self.lines if li.status == "stands"), key=lambda li: (li.said_at, li.number)))

    @property
    def newest_first(self) -> Iterator[Line]:
        """The lines that are not struck, the newest first."""
        return (line for line in reversed(self.lines) if line.status != "struck")

    @property
    def open_question(self) -> Line | None:
        """The question that an answer would be for: the newest of the last breath. Older ones are the scribe's."""
        return self.line(self.breath.questions[-1]) if self.breath.questions else None

    @property
    def asked(self) -> int:
        """The number of open questions, the scribe's included."""
        return sum(line.status == "asked" for line in self.lines)

    @property
    def open_findings(self) -> tuple[FindingRaised, ...]:
        """Findings that still hold."""
        return tuple(found.raised for found in self.findings if found.settled is None)

    @property
    def summary(self) -> Summary:
        """The case as a list of cases shows it."""
        return Summary(
            case=self.opened.case if self.opened else "",
            label=self.opened.label if self.opened else "",
            began=self.opened.logged_at.isoformat() if self.opened else "",
            entries=len(self.lines),
            asked=self.asked,
            findings=len(self.open_findings),
            closed=self.closed is not None,
            simulation=self.opened.simulation if self.opened else "",
        )

    def line(self, number: int) -> Line:
        """The line of this number; raises IndexError if there is none."""
        if not 1 <= number <= len(self.lines):
            raise IndexError(f"the log has no line {number}")
        return self.lines[number - 1]


def evolve(record: Record, fact: Fact) -> Record:
    """The record after one more fact. Raises IndexError for a fact about a line that is not there."""
    after = _evolved(record, fact)
    taking = taking_after(record.taking, fact, keeps_sound=bool(after.opened and after.opened.keep_sound != "none"))
    acts = acts_after(record.acts, fact)
    if acts is not after.acts:
        after = replace(after, acts=acts, reviews=_reviews_left(after, acts))
    return after if taking is after.taking else replace(after, taking=taking)


def _reviews_left(record: Record, acts: tuple[Act, ...]) -> Mapping[int, DifferenceReviewed]:
    """Without those whose act was taken back."""
    undone = {act.difference for act in record.acts} - {act.difference for act in acts}
    return {number: review for number, review in record.reviews.items() if number not in undone}


def _evolved(record: Record, fact: Fact) -> Record:
    match fact:
        case CaseOpened():
            return replace(record, opened=fact)
        case CaseResumed():
            return replace(record, resumed=(*record.resumed, fact), closed=None, breath=record.breath.resumed())
        case ClockCorrected():
            return replace(record, clocks=(*record.clocks, fact))
        case EntryLogged():
            line = Line(fact.number, "stands", fact.entry, fact.said_at, fact.logged_at, fact.origin)
            return _with_line(record, replace(line, late_reason=fact.late_reason))
        case EntryAsked():
            line = Line(fact.number, "asked", fact.candidates[0], fact.said_at, fact.logged_at, fact.origin)
            return _with_line(record, replace(line, candidates=fact.candidates, reason=fact.reason))
        case QuestionAnswered():
            return _changed(record, fact, "answered", fact.entry, "stands")
        case EntryAmended():
            return _changed(record, fact, "amended", fact.entry, "stands")
        case EntryStruck():
            return _changed(record, fact, "struck", None, "struck")
        case EntryRestored():
            line = record.line(fact.number)
            return _changed(record, fact, "restored", None, line.status_before)
        case ChangeUndone():
            return _undone(record, fact)
        case NotUnderstoodHeard():
            return replace(record, missed=(*record.missed, fact))
        case SpeechKept():
            return replace(record, speech=(*record.speech, fact))
        case FindingRaised():
            return replace(record, findings=(*record.findings, RaisedFinding(fact)))
        case FindingSettled():
            return replace(record, findings=settled(record.findings, fact))
        case FindingAcknowledged():
            key = (fact.rule, fact.number, fact.message)
            return replace(record, acknowledgements={**record.acknowledgements, key: fact})
        case AcknowledgementUndone():
            undone = (fact.rule, fact.number, fact.message)
            left = {key: seen for key, seen in record.acknowledgements.items() if key != undone}
            return replace(record, acknowledgements=left)
        case NoteWritten():
            return replace(record, notes=(*record.notes, fact))
        case SpokenNoteKept():
            record.line(fact.number)
            return replace(record, dictated=(*record.dictated, fact))
        case SpokenNoteWritten():
            record.line(fact.number)
            return replace(record, transcribed={**record.transcribed, fact.number: fact})
        case SoundsHeardAgain():
            return replace(record, heard_again=(*record.heard_again, fact))
        case DifferenceHeard():
            return replace(record, differences=(*record.differences, fact))
        case DifferenceReviewed():
            return replace(record, reviews={**record.reviews, fact.difference: fact})
        case ReviewUndone():
            return replace(record, transcribed=_without_words_of(record, record.reviews.get(fact.difference)))
        case CaptureGap():
            return replace(record, gaps=(*record.gaps, fact))
        case SavedLate():
            return replace(record, saved_late=(*record.saved_late, fact))
        case ListeningChanged():
            return replace(record, ways=(*record.ways, fact))
        case SoundsRemoved():
            return replace(record, removals=(*record.removals, fact))
        case IdentifiersGiven():
            return replace(record, identified=fact)
        case IdentifiersRemoved():
            gone = record.identified is not None and record.identified.sha256 in fact.sha256
            identified = None if gone else record.identified
            return replace(record, removals=(*record.removals, fact), identified=identified)
        case SimulationPlayed():
            return replace(record, played=(*record.played, fact))
        case CaseClosed():
            return replace(record, closed=fact)
        case _:
            assert_never(fact)


def fold(facts: Iterable[Fact], start: Record | None = None) -> Record:
    """The record that all facts add up to, or that these add up to after a record. A correction of the clock changes
    what was before it: only a record of all facts has the right times."""
    record = start or Record()
    for fact in on_the_right_clock(tuple(facts)) if start is None else facts:
        record = evolve(record, fact)
    return record


def _without_words_of(record: Record, review: DifferenceReviewed | None) -> Mapping[int, SpokenNoteWritten]:
    """The spoken notes that are transcribed without the words that a review gave one."""
    return {
        number: written
        for number, written in record.transcribed.items()
        if review is None or (number, written.text) != (review.number, review.text)
    }


def _with_line(record: Record, line: Line) -> Record:
    return replace(record, lines=(*record.lines, line), breath=record.breath.followed_by(line))


def _undone(record: Record, fact: ChangeUndone) -> Record:
    """A line as it was before its newest change; one without a change counts no more."""
    line = record.line(fact.number)
    if not line.holding:
        return _changed(record, fact, "undone", None, "struck")
    newest = line.holding[-1]
    return _changed(record, fact, "undone", newest.before, line.status_before, newest.moved_from)


def _changed(
    record: Record,
    fact: QuestionAnswered | EntryAmended | EntryStruck | EntryRestored | ChangeUndone,
    what: Literal["answered", "amended", "struck", "restored", "undone"],
    entry: Entry | None,
    status: Status,
    back_to: datetime | None = None,
) -> Record:
    line = record.line(fact.number)
    reason = "" if isinstance(fact, QuestionAnswered) else fact.reason
    happened_at = (fact.happened_at if isinstance(fact, EntryAmended) else back_to) or line.said_at
    moved_from = line.said_at if happened_at != line.said_at else None
    after = entry or line.entry
    change = Change(what, line.entry, after, fact.said_at, reason, fact.origin, moved_from)
    changed = replace(line, status=status, entry=after, said_at=happened_at, changes=(*line.changes, change))
    place = fact.number - 1
    lines = (*record.lines[:place], changed, *record.lines[place + 1 :])
    breath = record.breath.struck(line) if status == "struck" else record.breath.without(line)
    return replace(record, lines=lines, breath=breath)
