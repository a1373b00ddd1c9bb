"""Cases for the FHIR export: typed words that go through the real matcher, rules and chain."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.basics.entry import Entry, Meaning, Understood
from log.definition.load import in_force, read_procedure
from log.definition.procedure import Procedure
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseOpened,
    EntryAmended,
    EntryLogged,
    Fact,
    FindingAcknowledged,
    NoteWritten,
    Origin,
)
from log.facts.record import Record, fold
from log.rules.course import course_of
from log.scribe.decide import Heard, decide
from log.store.case import Kept
from log.store.chain import canonical, linked
from log.store.identifiers import Identifiers
from log.store.keys import Signer
from log.summaries.whole import Whole, whole
from voice.meaning.matcher import Situation, understand
from voice.phrases.phrases import Phrases, compile_phrases

BEGAN = datetime(2026, 10, 4, 23, 50, 0, tzinfo=timezone(timedelta(hours=2)))
SIGNER = Signer(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))
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

Said = str | Entry


@cache
def phrases(name: str = "three-lumen") -> Phrases:
    """The phrases of a shipped definition; compiling them takes a while."""
    return compile_phrases(read_procedure(name))


def opened(procedure: Procedure, **changes: object) -> CaseOpened:
    """The fact that begins a case."""
    definition = in_force(procedure, None)
    known = {
        "logged_at": BEGAN,
        "case": "20261004-235000",
        "label": "bay 4",
        "definition": definition.text,
        "definition_sha256": definition.sha256,
        "software": "tamponade-log 0.1.0",
        "source": "typed",
        "author": AUTHOR,
        "public_key": SIGNER.public_key,
    }
    return CaseOpened.model_validate({**known, **changes})


def facts_of(
    said: Iterable[Said], procedure: Procedure | None = None, by: str = "voice", **changes: object
) -> list[Fact]:
    """The facts that follow when one of these is said every 30 s; `changes` to the opening."""
    procedure = procedure or phrases().procedure
    facts: list[Fact] = [opened(procedure, **changes)]
    for number, item in enumerate(said, start=1):
        record = fold(facts)
        at = BEGAN + timedelta(seconds=30 * number)
        heard = item if isinstance(item, str) else ""
        origin = Origin.model_validate({"by": by, "author": AUTHOR, "heard": heard, "confidence": 0.93})
        meaning = _meaning(item, record.open_question is not None)
        facts += decide(course_of(procedure, record), record, Heard(meaning, at, at, origin))
    return facts


def _meaning(said: Said, asked: bool) -> Meaning:
    return Understood(items=(said,)) if isinstance(said, Entry) else understand(phrases(), said, Situation(asked=asked))


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


def case_of(facts: Iterable[Fact], identifiers: Identifiers | None = None, signed: bool = True) -> Whole:
    """The case that these facts are, with its signed head."""
    links = tuple(linked(facts))
    head = SIGNER.head("20261004-235000", len(links), links[-1].sha256) if signed else None
    block = canonical(identifiers.model_dump()).encode() if identifiers else None
    return whole(Kept(path=Path("x.case"), links=links, head=head, identifiers=block))


def spoken(*said: Said, by: str = "voice") -> Whole:
    """The case that follows from what was said."""
    return case_of(facts_of(said, by=by))


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


def whole_case() -> Whole:
    """Everything that can be said, with late and corrected entries, a gap, names, and an end."""
    facts = facts_of(PHRASES)
    number = fold(facts).next_number
    depth = Entry(kind="depth", site="lips", value=50, unit="cm")
    remarked: list[Fact] = [note("the ward is cold"), note("read twice", about=1), acknowledged(fold(facts))]
    return case_of([*facts, late(number, depth), *remarked, gap(), closed()], named())
