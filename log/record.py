"""What the facts of a case add up to: the lines of the log with their corrections, and what was found and missed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, assert_never

from log.events import (
    CaptureGap,
    CaseClosed,
    CaseOpened,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    FindingRaised,
    FindingSettled,
    NotUnderstoodHeard,
    Origin,
    QuestionAnswered,
)
from log.spoken import Entry

Status = Literal["stands", "asked", "struck"]


@dataclass(frozen=True, slots=True)
class Change:
    """One correction of a line; the value before it is kept."""

    what: Literal["answered", "amended", "struck"]
    before: Entry
    after: Entry
    at: datetime
    reason: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the log, as it stands now."""

    number: int
    status: Status
    entry: Entry
    """Its present value; for an open question the likeliest candidate."""
    said_at: datetime
    logged_at: datetime
    origin: Origin
    candidates: tuple[Entry, ...] = ()
    reason: str = ""
    """Why it was asked."""
    changes: tuple[Change, ...] = ()

    @property
    def original(self) -> Entry:
        """What was logged first."""
        return self.changes[0].before if self.changes else self.entry


@dataclass(frozen=True, slots=True)
class RaisedFinding:
    """A finding in the record, and how it was settled if it was."""

    raised: FindingRaised
    settled: FindingSettled | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """A whole case."""

    opened: CaseOpened | None = None
    lines: tuple[Line, ...] = ()
    findings: tuple[RaisedFinding, ...] = ()
    missed: tuple[NotUnderstoodHeard, ...] = ()
    gaps: tuple[CaptureGap, ...] = ()
    closed: CaseClosed | None = None

    @property
    def next_number(self) -> int:
        """The number of the next line."""
        return len(self.lines) + 1

    @property
    def standing(self) -> tuple[Line, ...]:
        """The lines that count, in the order in which things happened."""
        return tuple(sorted((li for li in self.lines if li.status == "stands"), key=lambda li: (li.said_at, li.number)))

    @property
    def open_question(self) -> Line | None:
        """The question that an answer would be for: the newest of the last breath. Older ones are the scribe's."""
        last = max((line.said_at for line in self.lines), default=None)
        return next((li for li in reversed(self.lines) if li.status == "asked" and li.said_at == last), None)

    @property
    def open_findings(self) -> tuple[FindingRaised, ...]:
        """Findings that still hold."""
        return tuple(found.raised for found in self.findings if found.settled is None)

    def line(self, number: int) -> Line:
        """The line of this number; raises IndexError if there is none."""
        if not 1 <= number <= len(self.lines):
            raise IndexError(f"the log has no line {number}")
        return self.lines[number - 1]


def evolve(record: Record, fact: Fact) -> Record:
    """The record after one more fact."""
    match fact:
        case CaseOpened():
            return replace(record, opened=fact)
        case EntryLogged():
            line = Line(fact.number, "stands", fact.entry, fact.said_at, fact.logged_at, fact.origin)
            return replace(record, lines=(*record.lines, line))
        case EntryAsked():
            line = Line(
                fact.number,
                "asked",
                fact.candidates[0],
                fact.said_at,
                fact.logged_at,
                fact.origin,
                fact.candidates,
                fact.reason,
            )
            return replace(record, lines=(*record.lines, line))
        case QuestionAnswered():
            return _changed(record, fact.number, "answered", fact.entry, "stands", fact.said_at, "", fact.origin)
        case EntryAmended():
            return _changed(
                record, fact.number, "amended", fact.entry, "stands", fact.said_at, fact.reason, fact.origin
            )
        case EntryStruck():
            return _changed(record, fact.number, "struck", None, "struck", fact.said_at, fact.reason, fact.origin)
        case NotUnderstoodHeard():
            return replace(record, missed=(*record.missed, fact))
        case FindingRaised():
            return replace(record, findings=(*record.findings, RaisedFinding(fact)))
        case FindingSettled():
            return replace(record, findings=tuple(_settled(found, fact) for found in record.findings))
        case CaptureGap():
            return replace(record, gaps=(*record.gaps, fact))
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


def _changed(
    record: Record,
    number: int,
    what: Literal["answered", "amended", "struck"],
    entry: Entry | None,
    status: Status,
    at: datetime,
    reason: str,
    origin: Origin,
) -> Record:
    line = record.line(number)
    after = entry or line.entry
    change = Change(what, line.entry, after, at, reason, origin)
    changed = replace(line, status=status, entry=after, changes=(*line.changes, change))
    return replace(record, lines=(*record.lines[: number - 1], changed, *record.lines[number:]))


def _settled(found: RaisedFinding, fact: FindingSettled) -> RaisedFinding:
    same = found.settled is None and (found.raised.rule, found.raised.number) == (fact.rule, fact.number)
    return replace(found, settled=fact) if same else found
