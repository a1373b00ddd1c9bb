"""Cases for the tests of paper and screen: typed words that go through the real matcher, rules and chain."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.basics.entry import Entry, Meaning, Understood
from log.definition.load import InForce, load
from log.facts.events import CaptureGap, CaseClosed, CaseOpened, Fact, Origin
from log.facts.record import fold
from log.rules.course import course_of
from log.scribe.decide import Heard, decide
from log.store.case import Kept
from log.store.chain import linked
from log.store.keys import Signer
from log.summaries.whole import Paper, Whole, whole
from voice.meaning.matcher import Situation, understand
from voice.phrases.phrases import Phrases, compile_phrases

BEGAN = datetime(2026, 10, 4, 14, 0, 0, tzinfo=timezone(timedelta(hours=2)))
SIGNER = Signer(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))

HOSTILE = "\x1b[2J\x00\u202etxt\u200b <b>|</b> </td><script>x()</script> **b** ~~f~~ &amp; \U0001f480 \u4e2d \u05d0 "
HOSTILE += 'http://e.invalid "quoted" ' + "w" * 300

Said = str | Entry
Spoken = tuple[float, Said] | tuple[float, Said, float]
"""Seconds since the opening, the words or an entry, and how much later it was written down."""

GOOD: tuple[Spoken, ...] = (
    (5, "airway secured capnography confirmed"),
    (40, "gastric balloon leak test passed"),
    (65, "oesophageal balloon leak test passed"),
    (80, "both balloons deflated"),
    (150, "tube passed"),
    (165, "tube at five five at the lips"),
    (190, "air heard over the stomach"),
    (240, "gastric five zero in"),
    (270, "x-ray requested"),
    (540, "x-ray taken"),
    (690, "x-ray confirms gastric position"),
    (720, "gastric one hundred in"),
    (740, "gastric one hundred in"),
    (760, "clamp on the gastric"),
    (810, "traction one litre saline bag"),
    (840, "mark at five two at the lips"),
    (900, "gastric aspirate one two zero"),
    (960, "still bleeding"),
    (1020, "oesophageal four zero in"),
    (1040, "oesophageal pressure six zero"),
    (1050, "correct last to three five"),
    (1080, "clamp on the oesophageal"),
    (1110, "oesophageal pressure four eight"),
    (1140, "oesophageal pressure three two"),
    (1200, "bleeding stopped"),
    (1230, "gastric one five zero in"),
    (1233, "scratch that"),
    (1260, "gastric in fifty"),
    (1290, "mind the cable please"),
    (1300, "tube secured", 900),
)
"""A case with one of nearly everything: corrections, a struck line, an open question, a late entry, findings."""


@cache
def definition(name: str = "three-lumen") -> tuple[InForce, Phrases]:
    """A shipped definition with its phrases, which take a while to compile."""
    in_force = load(name)
    return in_force, compile_phrases(in_force.procedure)


def opened(in_force: InForce, **changes: object) -> CaseOpened:
    """The fact that begins a case."""
    known = {
        "logged_at": BEGAN,
        "case": "20261004-140000",
        "label": "bay 4",
        "definition": in_force.text,
        "definition_sha256": in_force.sha256,
        "software": "tamponade-log 0.1.0",
        "source": "typed",
        "author": "scribe",
        "public_key": SIGNER.public_key,
    }
    return CaseOpened.model_validate({**known, **changes})


def facts_of(spoken: Iterable[Spoken], name: str = "three-lumen", heard: str = "", **changes: object) -> list[Fact]:
    """The facts that follow from what was said."""
    in_force, phrases = definition(name)
    facts: list[Fact] = [opened(in_force, **changes)]
    record = fold(facts)
    course = course_of(in_force.procedure, record)
    for second, said, *late in spoken:
        at = BEGAN + timedelta(seconds=second)
        origin = Origin(by="typed", author="scribe", heard=heard or (said if isinstance(said, str) else ""))
        told = Heard(
            _meaning(phrases, said, record.open_question is not None), at, at + timedelta(seconds=sum(late)), origin
        )
        new = decide(course, record, told)
        after = fold(new, record)
        course, record = course.follow(record, after, new), after
        facts += new
    return facts


def _meaning(phrases: Phrases, said: Said, asked: bool) -> Meaning:
    return Understood(items=(said,)) if isinstance(said, Entry) else understand(phrases, said, Situation(asked=asked))


def whole_of(facts: list[Fact], paper: Paper = "a4", signed: bool = True) -> Whole:
    """The case that these facts are."""
    links = tuple(linked(facts))
    head = SIGNER.head("20261004-140000", len(links), links[-1].sha256) if signed else None
    return whole(Kept(path=Path("x.case"), links=links, head=head, identifiers=None), paper)


def case_of(*spoken: Spoken, name: str = "three-lumen", **changes: object) -> Whole:
    """The case that follows from what was said."""
    return whole_of(facts_of(spoken, name, "", **changes))


def good_case(paper: Paper = "a4") -> Whole:
    """The good case, with a gap in hearing, closed."""
    gap = CaptureGap(
        logged_at=BEGAN + timedelta(seconds=1282),
        began_at=BEGAN + timedelta(seconds=1270),
        seconds=9,
        reason="the microphone was unplugged",
    )
    closed = CaseClosed(logged_at=BEGAN + timedelta(seconds=2400), reason="ended by the scribe")
    return whole_of([*facts_of(GOOD), gap, closed], paper)


def hostile_case() -> Whole:
    """A case in which every text that can be typed is hostile."""
    mean = Entry(kind="note", site=HOSTILE, value=HOSTILE, unit=HOSTILE, detail=HOSTILE)
    tube = Entry(kind="tube", value="in", detail=HOSTILE)
    volume = Entry(kind="volume_in", site="gastric", value=50, unit="mL", detail=HOSTILE)
    facts = facts_of([(10, mean), (20, tube), (25, volume), (30, "mind the cable")], heard=HOSTILE, label=HOSTILE)
    return whole_of([*facts, CaseClosed(logged_at=BEGAN + timedelta(seconds=60), reason=HOSTILE)])


def long_case(lines: int = 600) -> Whole:
    """A case of thirty hours with this many lines."""
    kinds = (
        Entry(kind="pressure", site="oesophageal", value=35, unit="mmHg"),
        Entry(kind="volume_in", site="gastric", value=1, unit="mL"),
        Entry(kind="clamp", site="gastric", value="on"),
        Entry(kind="aspirate", site="gastric", value=20, unit="mL"),
    )
    spoken = [(30 * 3600 * number / (lines - 1), kinds[number % 4]) for number in range(lines)]
    return whole_of(facts_of(spoken))
