"""Cases for the FHIR export: every kind of entry, with corrections, remarks and names."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta, timezone
from functools import cache
from typing import Any

from log.basics.entry import Entry
from log.facts.events import CaptureGap, CaseClosed, EntryAmended, EntryLogged, Fact, FindingAcknowledged, NoteWritten
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.store.identifiers import Identifiers
from log.summaries.whole import Whole
from tests import cases
from tests.cases import By, Said, whole_of

BEGAN = datetime(2026, 10, 4, 23, 50, 0, tzinfo=timezone(timedelta(hours=2)))
AUTHOR = "Author Invented"

PHRASES = (
    "airway secured",
    "gastric balloon leak test passed",
    "tube passed",
    "tube at five two at the lips",
    "air heard over the stomach",
    "gastric five zero in",
    "gastric in fifty",
    "five zero",
    "confirm",
    "gastric five zero out",
    "gastric volume two five zero",
    "x-ray confirms position",
    "x-ray shows wrong position",
    "traction one kilo weight on",
    "traction on",
    "mark at four eight",
    "oesophageal pressure six zero",
    "correct last to three five",
    "correct to fifteen",
    "pressure two zero",
    "gastric aspirate four zero zero of blood",
    "lavage two five zero in",
    "both balloons deflated",
    "gastric port clamped",
    "still bleeding",
    "mark the time",
    "scratch that",
    "mind the cable please",
    "gastric balloon leak test at two five zero",
    "gastric test one zero zero pressure one two",
    "scissors at the head of the bed",
    "head up four five",
    "kit complete",
    "terlipressin two milligrams",
    "noradrenaline infusion started",
    "noradrenaline infusion stopped",
    "propofol infusion running",
    "red cells two units in",
    "saline five zero zero mils in",
    "blood pressure nine zero over six zero",
    "blood pressure ninety over fifty",
    "heart rate one one zero",
    "haemoglobin seven two",
    "take a note",
    "tube out",
)
"""One or more of every kind of entry, command and misunderstanding."""


def facts_of(said: Iterable[Said], by: By = "voice", **changes: Any) -> list[Fact]:
    """The facts that follow when one of these is said every 30 s, around midnight; `changes` to the opening."""
    told: dict[str, Any] = {"logged_at": BEGAN, "case": "20261004-235000", "author": AUTHOR, **changes}
    return cases.facts_of([(30 * n, item) for n, item in enumerate(said, start=1)], by=by, **told)


def seconds(number: float) -> datetime:
    """A moment of the case."""
    return BEGAN + timedelta(seconds=number)


def closed(reason: str = "ended by the scribe") -> CaseClosed:
    """The end of listening, an hour after the opening and past midnight."""
    return CaseClosed(logged_at=seconds(3600), reason=reason)


def gap(reason: str = "the microphone was unplugged") -> CaptureGap:
    """Nine seconds in which nothing could be heard."""
    return CaptureGap(logged_at=seconds(3000), began_at=seconds(2990), seconds=9, reason=reason)


def amended(number: int, entry: Entry, happened_at: datetime | None = None) -> EntryAmended:
    """A scribe's correction."""
    return EntryAmended(
        logged_at=seconds(2000),
        number=number,
        entry=entry,
        said_at=seconds(2000),
        reason="read from the chart",
        origin=Origin(by="typed", author=AUTHOR),
        happened_at=happened_at,
    )


def late(number: int, entry: Entry) -> EntryLogged:
    """A scribe's late entry."""
    return EntryLogged(
        logged_at=seconds(2100),
        number=number,
        entry=entry,
        said_at=seconds(700),
        origin=Origin(by="typed", author=AUTHOR),
        late_reason="both hands were busy",
    )


def note(text: str, about: int | None = None) -> NoteWritten:
    """A scribe's free words."""
    return NoteWritten(logged_at=seconds(2500), text=text, number=about, said_at=seconds(2400), author=AUTHOR)


def acknowledged(record: Record) -> FindingAcknowledged:
    """Somebody has seen the first finding that is open."""
    found = record.open_findings[0]
    return FindingAcknowledged(
        logged_at=seconds(2600),
        rule=found.rule,
        number=found.number,
        message=found.message,
        reason="known, and watched",
        author=AUTHOR,
    )


@cache
def spoken(*said: Said, by: By = "voice") -> Whole:
    """The case that follows from what was said."""
    return whole_of(facts_of(said, by=by))


def named() -> Identifiers:
    """A block with everything in it, all of it invented."""
    return Identifiers(
        patient_first="first-1234",
        patient_second="second-5678",
        place="Bay Invented",
        operator="Operator Invented",
        assistant="Assistant Invented",
        scribe="Scribe Invented",
        anaesthetist="Anaesthetist Invented",
        device_size="size 20",
        device_lot="lot-4711",
    )


@cache
def whole_case() -> Whole:
    """Everything that can be said, with late and corrected entries, a gap, names, and an end."""
    facts = facts_of(PHRASES)
    number = fold(facts).next_number
    depth = Entry(kind="depth", site="lips", value=50, unit="cm")
    remarked: list[Fact] = [note("the ward is cold"), note("read twice", about=1), acknowledged(fold(facts))]
    return whole_of([*facts, late(number, depth), *remarked, gap(), closed()], identifiers=named())
