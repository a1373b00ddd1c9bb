"""Cases for the tests: words that go through the real matcher, rules and chain.

`any_case` draws whatever a room can do; `case_file` lays a small case in a file. Both begin with `opened`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Any, Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.basics.entry import Entry, Meaning, Question, Understood
from log.definition.load import InForce
from log.definition.procedure import Procedure
from log.facts.events import CaptureGap, CaseClosed, CaseOpened, Fact
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.course import course_of
from log.rules.definitions import load, read_procedure
from log.scribe.decide import Heard, decide
from log.store.case import Kept
from log.store.chain import canonical, fingerprint, linked
from log.store.identifiers import Identifiers
from log.store.keys import Signer
from log.summaries.whole import Paper, Whole, whole
from voice.meaning.matcher import Listening, understand
from voice.phrases.compile import compile_grammars
from voice.phrases.phrases import Phrases, compile_phrases
from voice.templates.grammar import Grammar

BEGAN = datetime(2026, 10, 4, 14, 0, 0, tzinfo=timezone(timedelta(hours=2)))
SIGNER = Signer(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))

HOSTILE = "\x1b[2J\x00\u202etxt\u200b <b>|</b> </td><script>x()</script> **b** ~~f~~ &amp; \U0001f480 \u4e2d \u05d0 "
HOSTILE += 'http://e.invalid "quoted" ' + "w" * 300

By = Literal["voice", "typed"]
SURE: Mapping[By, float] = {"voice": 0.93, "typed": 1.0}
"""How sure the log is of what came in like this."""

Said = str | Entry | Question
Spoken = tuple[float, Said] | tuple[float, Said, float]
"""Seconds since the opening, the words, an entry or a question, and how much later it was written down."""

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


PLACED: tuple[Spoken, ...] = (
    (10, "scissors at the head of the bed"),
    (20, "gastric balloon leak test at two five zero"),
    (50, "gastric leak test passed at two five zero"),
    (60, "tube in"),
    (70, "tube at five five at the lips"),
    (80, "gastric in five zero"),
    (140, "x-ray confirms position"),
    (145, "gastric one zero zero in"),
    (165, "gastric one zero zero in"),
    (200, "traction one kilo weight on"),
    (210, "mark at five two at the lips"),
    (230, "still bleeding"),
    (240, "oesophageal four zero in"),
    (250, "oesophageal pressure four eight"),
    (300, "oesophageal pressure three five"),
    (360, "gastric aspirate four zero zero"),
    (370, "lavage two five zero in"),
    (380, "lavage two zero zero out"),
    (400, "red cells two units in"),
    (410, "red cells one unit in"),
    (420, "blood pressure nine zero over six zero"),
    (430, "blood pressure eight zero over four four"),
    (440, "mark at five one at the lips"),
)
"""A tube in its place, with both balloons up and a pressure above its ceiling that was read again."""


def entry(
    kind: str,
    value: float | str | None = None,
    unit: str | None = None,
    site: str | None = None,
    detail: str | None = None,
) -> Entry:
    """An entry with its value first."""
    return Entry(kind=kind, site=site, value=value, unit=unit, detail=detail)


def gastric(volume: int) -> Entry:
    """Air put into the gastric balloon, in millilitres."""
    return entry("volume_in", volume, "mL", "gastric")


FIFTEEN_OR_FIFTY = Question(candidates=(gastric(15), gastric(50)), why="sound alike", text="15 and 50 sound alike")


@cache
def procedure(name: str = "three-lumen") -> Procedure:
    """A shipped definition as it is shipped."""
    return read_procedure(name)


@cache
def phrases(name: str = "three-lumen") -> Phrases:
    """Its phrases, which take a while to compile."""
    return compile_phrases(procedure(name))


@cache
def grammars(name: str = "three-lumen") -> Mapping[str, Grammar]:
    """What may be heard of it with no lead word; compiled once, for it takes seconds."""
    return compile_grammars(phrases(name), None)


@cache
def definition(name: str = "three-lumen") -> tuple[InForce, Phrases]:
    """A shipped definition as it is in force, with its phrases."""
    return load(name), phrases(name)


def opened(in_force: InForce | None = None, **changes: object) -> CaseOpened:
    """The fact that begins a case, with the three-lumen tube unless another definition is given."""
    text = changes.get("definition") or (in_force or definition()[0]).text
    known = {
        "logged_at": BEGAN,
        "case": "20261004-140000",
        "label": "bay 4",
        "definition": text,
        "definition_sha256": fingerprint(str(text)),
        "software": "tamponade-log 0.1.0",
        "source": "typed",
        "author": "scribe",
        "public_key": SIGNER.public_key,
    }
    return CaseOpened.model_validate({**known, **changes})


def facts_of(
    spoken: Iterable[Spoken], name: str = "three-lumen", heard: str = "", by: By = "typed", **changes: object
) -> list[Fact]:
    """The facts that follow from what was said; `changes` to the opening."""
    in_force, phrases = definition(name)
    first = opened(in_force, **changes)
    facts: list[Fact] = [first]
    record = fold(facts)
    course = course_of(in_force.procedure, record)
    for second, said, *late in spoken:
        at = first.logged_at + timedelta(seconds=second)
        words = heard or (said if isinstance(said, str) else "")
        origin = Origin(by=by, author=first.author, heard=words, confidence=SURE[by])
        meaning = _meaning(phrases, said, record.open_question is not None)
        new = decide(course, record, Heard(meaning, at, at + timedelta(seconds=sum(late)), origin))
        course, record = new.course, new.record
        facts += new.facts
    return facts


def _meaning(phrases: Phrases, said: Said, asked: bool) -> Meaning:
    return (
        Understood(items=(said,))
        if isinstance(said, Entry | Question)
        else understand(phrases, said, Listening(question_open=asked))
    )


def kept_of(facts: Sequence[Fact], signer: Signer | None = SIGNER, identifiers: Identifiers | None = None) -> Kept:
    """These facts chained, signed and with their block of identifiers, as they are read back from a file."""
    links = tuple(linked(facts))
    first = links[0].fact
    assert isinstance(first, CaseOpened)
    head = signer.head(first.case, len(links), links[-1].sha256) if signer else None
    block = canonical(identifiers.model_dump()).encode() if identifiers else None
    return Kept(path=Path(f"{first.case}.case"), links=links, head=head, identifiers=block)


def whole_of(
    facts: Sequence[Fact],
    paper: Paper = "a4",
    signer: Signer | None = SIGNER,
    identifiers: Identifiers | None = None,
) -> Whole:
    """The case that these facts are."""
    return whole(kept_of(facts, signer, identifiers), paper)


@cache
def case_of(*spoken: Spoken, name: str = "three-lumen", **changes: Any) -> Whole:
    """The case that follows from what was said."""
    return whole_of(facts_of(spoken, name, **changes))


@cache
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


@cache
def hostile_case() -> Whole:
    """A case in which every text that can be typed is hostile."""
    mean = Entry(kind="note", site=HOSTILE, value=HOSTILE, unit=HOSTILE, detail=HOSTILE)
    tube = Entry(kind="tube", value="in", detail=HOSTILE)
    volume = Entry(kind="volume_in", site="gastric", value=50, unit="mL", detail=HOSTILE)
    facts = facts_of([(10, mean), (20, tube), (25, volume), (30, "mind the cable")], heard=HOSTILE, label=HOSTILE)
    return whole_of([*facts, CaseClosed(logged_at=BEGAN + timedelta(seconds=60), reason=HOSTILE)])


@cache
def long_case(lines: int = 300) -> Whole:
    """A case of thirty hours with this many lines."""
    kinds = (
        Entry(kind="pressure", site="oesophageal", value=35, unit="mmHg"),
        Entry(kind="volume_in", site="gastric", value=1, unit="mL"),
        Entry(kind="clamp", site="gastric", value="on"),
        Entry(kind="aspirate", site="gastric", value=20, unit="mL"),
    )
    spoken = [(30 * 3600 * number / (lines - 1), kinds[number % 4]) for number in range(lines)]
    return whole_of(facts_of(spoken))
