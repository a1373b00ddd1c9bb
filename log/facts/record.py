"""What the facts of a case add up to: the lines of the log with their corrections, and what was found and missed.

The collections share their parts with those of the record before, so that one more fact costs the same after ten facts
as after a hundred thousand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal, assert_never

from pyrsistent import PList, PMap, plist, pmap

from log.basics.entry import Entry, Frozen
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseOpened,
    CaseResumed,
    EntryAmended,
    EntryAsked,
    EntryLogged,
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
    Origin,
    QuestionAnswered,
    SimulationPlayed,
    SoundsRemoved,
    SpeechKept,
    SpokenNoteKept,
    SpokenNoteWritten,
)
from log.facts.note_taking import Taking, taking_after
from log.facts.vector import Vector

Status = Literal["stands", "asked", "struck"]


@dataclass(frozen=True, slots=True)
class Change:
    """One correction of a line; the value before it is kept."""

    what: Literal["answered", "amended", "struck"]
    before: Entry
    after: Entry
    at: datetime
    """When the correction was said or typed."""
    reason: str
    origin: Origin
    moved_from: datetime | None = None
    """When the entry was thought to have happened, if the correction gave it another time."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the log, as it stands now."""

    number: int
    status: Status
    entry: Entry
    """Its present value; for an open question the likeliest candidate."""
    said_at: datetime
    """When it happened."""
    logged_at: datetime
    """When it was first written down."""
    origin: Origin
    candidates: tuple[Entry, ...] = ()
    reason: str = ""
    """Why it was asked."""
    changes: tuple[Change, ...] = ()
    late_reason: str = ""
    """Why it was written down afterwards."""

    @property
    def original(self) -> Entry:
        """What was logged first."""
        return self.changes[0].before if self.changes else self.entry


@dataclass(frozen=True, slots=True)
class RaisedFinding:
    """A finding in the record, and how it was settled if it was."""

    raised: FindingRaised
    settled: FindingSettled | None = None


class Summary(Frozen):
    """What a list of cases shows of one."""

    case: str = ""
    label: str = ""
    began: str = ""
    """RFC 3339; "" for a case without an opening."""
    entries: int = 0
    asked: int = 0
    findings: int = 0
    """Open ones."""
    simulation: str = ""
    """The scenario of a rehearsal."""
    closed: bool = False


OpenFindings = PMap[str, PMap[tuple[int | None, str], int]]
"""Rule -> number of the line and message -> place among the findings."""


@dataclass(frozen=True, slots=True)
class Record:
    """A whole case."""

    opened: CaseOpened | None = None
    resumed: Vector[CaseResumed] = field(default_factory=Vector)
    lines: Vector[Line] = field(default_factory=Vector)
    findings: Vector[RaisedFinding] = field(default_factory=Vector)
    missed: Vector[NotUnderstoodHeard] = field(default_factory=Vector)
    speech: Vector[SpeechKept] = field(default_factory=Vector)
    notes: Vector[NoteWritten] = field(default_factory=Vector)
    dictated: Vector[SpokenNoteKept] = field(default_factory=Vector)
    written_out: PMap[int, SpokenNoteWritten] = field(default_factory=pmap)
    """By the line that announced the spoken note."""
    taking: Taking | None = None
    """The spoken note that is being taken, or was until a while ago."""
    acknowledgements: PMap[tuple[str, int | None, str], FindingAcknowledged] = field(default_factory=pmap)
    """By rule, line and message of the finding."""
    gaps: Vector[CaptureGap] = field(default_factory=Vector)
    ways: Vector[ListeningChanged] = field(default_factory=Vector)
    """How entries had to be said, from when on."""
    removals: Vector[SoundsRemoved | IdentifiersRemoved] = field(default_factory=Vector)
    identified: IdentifiersGiven | None = None
    played: Vector[SimulationPlayed] = field(default_factory=Vector)
    """What was played to the team, where this is a rehearsal."""
    closed: CaseClosed | None = None
    """None while somebody listens."""
    last_breath: datetime | None = None
    """When the newest line was said."""
    questions: tuple[int, ...] = ()
    """Open questions of the last breath, and those that an emergency has come between."""
    asked: int = 0
    """All open questions."""
    emergency: bool = False
    """Whether an emergency was called and is not over: until then no question is given up for a later entry."""
    unstruck: PList[int] = field(default_factory=plist)
    """Numbers of the lines that are not struck, the newest first. A struck one may be further down, but never first."""
    still_open: OpenFindings = field(default_factory=pmap)

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
        lines = (self.lines[number - 1] for number in self.unstruck)
        return (line for line in lines if line.status != "struck")

    @property
    def open_question(self) -> Line | None:
        """The question that an answer would be for: the newest of the last breath. Older ones are the scribe's."""
        return self.line(self.questions[-1]) if self.questions else None

    @property
    def open_findings(self) -> tuple[FindingRaised, ...]:
        """Findings that still hold."""
        return tuple(found.raised for found in self.findings if found.settled is None)

    @property
    def summary(self) -> Summary:
        """What a list of cases shows of it."""
        return Summary(
            case=self.opened.case if self.opened else "",
            label=self.opened.label if self.opened else "",
            began=self.opened.logged_at.isoformat() if self.opened else "",
            entries=len(self.lines),
            asked=self.asked,
            findings=sum(map(len, self.still_open.values())),
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
    return after if taking is after.taking else replace(after, taking=taking)


def _evolved(record: Record, fact: Fact) -> Record:
    match fact:
        case CaseOpened():
            return replace(record, opened=fact)
        case CaseResumed():
            return replace(record, resumed=record.resumed.append(fact), closed=None, last_breath=None, questions=())
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
        case NotUnderstoodHeard():
            return replace(record, missed=record.missed.append(fact))
        case SpeechKept():
            return replace(record, speech=record.speech.append(fact))
        case FindingRaised():
            place = record.still_open.get(fact.rule, pmap()).set((fact.number, fact.message), len(record.findings))
            still_open = record.still_open.set(fact.rule, place)
            return replace(record, findings=record.findings.append(RaisedFinding(fact)), still_open=still_open)
        case FindingSettled():
            return _settled(record, fact)
        case FindingAcknowledged():
            key = (fact.rule, fact.number, fact.message)
            return replace(record, acknowledgements=record.acknowledgements.set(key, fact))
        case NoteWritten():
            return replace(record, notes=record.notes.append(fact))
        case SpokenNoteKept():
            record.line(fact.number)
            return replace(record, dictated=record.dictated.append(fact))
        case SpokenNoteWritten():
            record.line(fact.number)
            return replace(record, written_out=record.written_out.set(fact.number, fact))
        case CaptureGap():
            return replace(record, gaps=record.gaps.append(fact))
        case ListeningChanged():
            return replace(record, ways=record.ways.append(fact))
        case SoundsRemoved():
            return replace(record, removals=record.removals.append(fact))
        case IdentifiersGiven():
            return replace(record, identified=fact)
        case IdentifiersRemoved():
            gone = record.identified is not None and record.identified.sha256 in fact.sha256
            identified = None if gone else record.identified
            return replace(record, removals=record.removals.append(fact), identified=identified)
        case SimulationPlayed():
            return replace(record, played=record.played.append(fact))
        case CaseClosed():
            return replace(record, closed=fact)
        case _:
            assert_never(fact)


def fold(facts: Iterable[Fact], start: Record | None = None) -> Record:
    """The record that all facts add up to."""
    record = start or Record()
    for fact in facts:
        record = evolve(record, fact)
    return record


def _with_line(record: Record, line: Line) -> Record:
    asked = line.status == "asked"
    lines, unstruck = record.lines.append(line), record.unstruck.cons(record.next_number)
    record = replace(record, lines=lines, unstruck=unstruck, asked=record.asked + asked)
    if record.last_breath is not None and line.said_at < record.last_breath:
        return record
    waits = line.entry.kind == "emergency" or record.emergency  # what was asked comes back when it is over
    before = record.questions if waits or line.said_at == record.last_breath else ()
    record = replace(record, emergency=_emergency_after(record, line))
    return replace(record, last_breath=line.said_at, questions=(*before, line.number) if asked else before)


def _emergency_after(record: Record, line: Line) -> bool:
    """Whether questions wait after this line. A doubtful call makes them wait, a doubtful end ends nothing."""
    stands = line.status == "stands"
    if line.entry.kind == "emergency":
        return line.entry.value != "over" or (record.emergency and not stands)
    return record.emergency and not (stands and (line.entry.kind, line.entry.value) == ("tube", "out"))


def _changed(
    record: Record,
    fact: QuestionAnswered | EntryAmended | EntryStruck,
    what: Literal["answered", "amended", "struck"],
    entry: Entry | None,
    status: Status,
) -> Record:
    line = record.line(fact.number)
    reason = "" if isinstance(fact, QuestionAnswered) else fact.reason
    happened_at = (fact.happened_at if isinstance(fact, EntryAmended) else None) or line.said_at
    moved_from = line.said_at if happened_at != line.said_at else None
    after = entry or line.entry
    change = Change(what, line.entry, after, fact.said_at, reason, fact.origin, moved_from)
    changed = replace(line, status=status, entry=after, said_at=happened_at, changes=(*line.changes, change))
    lines = record.lines.set(fact.number - 1, changed)
    return replace(
        record,
        lines=lines,
        unstruck=_unstruck(record, lines, line.status, status),
        asked=record.asked - (line.status == "asked"),
        questions=tuple(number for number in record.questions if number != fact.number),
        emergency=record.emergency and not (status == "struck" and line.entry.kind == "emergency"),
    )


def _unstruck(record: Record, lines: Vector[Line], was: Status, status: Status) -> PList[int]:
    """Those of these lines that are not struck. Each number is taken away once, so many in a row cost no more."""
    if was == "struck" and status != "struck":  # no scribe can do that, but a file may say so
        return plist(n for n in range(len(lines), 0, -1) if lines[n - 1].status != "struck")
    left = record.unstruck
    while status == "struck" and left and lines[left.first - 1].status == "struck":
        left = left.rest
    return left


def _settled(record: Record, fact: FindingSettled) -> Record:
    of_the_rule = record.still_open.get(fact.rule, pmap())
    key = (fact.number, fact.message)
    place = of_the_rule.get(key)
    if place is None:
        return record
    return replace(
        record,
        findings=record.findings.set(place, replace(record.findings[place], settled=fact)),
        still_open=record.still_open.set(fact.rule, of_the_rule.remove(key)),
    )
