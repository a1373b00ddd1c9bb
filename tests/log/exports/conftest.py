"""A room in which a case can be kept with hand-made meanings, and one case with one of everything."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from log.basics.entry import Entry, NotUnderstood, Question, Understood
from log.basics.patterns import Pattern
from log.definition.kinds import Kind, Say
from log.definition.limits import ADDED_LATER, ORIGINAL, Limit
from log.definition.load import in_force
from log.definition.procedure import Clock, Procedure, Rule
from log.definition.protocol import Tube
from log.definition.slots import ChoiceSlot, NumberSlot
from log.exports.csv_table import as_csv
from log.exports.note import as_note
from log.facts.events import CaptureGap, CaseClosed, Fact
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules import READS
from log.rules.course import course_of
from log.scribe.decide import Heard, decide
from log.store.case import Kept
from log.store.keys import Signer
from log.summaries.whole import Whole, whole
from tests.cases import BEGAN, FIFTEEN_OR_FIFTY, entry, gastric, kept_of, opened

KEY = Signer(Ed25519PrivateKey.from_private_bytes(bytes(32)))


def _kind(name: str, title: str, *phrases: str) -> Kind:
    return Kind(id=name, title=title, say=(Say(phrases=phrases or (name,)),))


def _small() -> Procedure:
    """A definition of the tests' own, so that a change of the shipped ones changes no golden file."""
    limits = {
        name: Limit(level="low", tag="derived", about=name, unit="mL", max=9000, advice="Look.")
        for name in ORIGINAL
        if name not in ADDED_LATER
    }
    limits["oesophageal_ceiling"] = Limit(
        level="high", tag="local", about="oesophageal pressure", unit="mmHg", max=45, advice="Let air out | read again."
    )
    return Procedure(
        id="small",
        title="Two-balloon tube",
        version="7",
        lead_word="log",
        sources={},
        limits=limits,
        tube=Tube(lumens=3, balloons=("gastric", "oesophageal")),
        cautions=("Not a medical device.", "The responsible clinician decides."),
        slots={
            "ml": NumberSlot(type="number", unit="mL", said=(1, 700)),
            "mmhg": NumberSlot(type="number", unit="mm[Hg]", said=(0, 99)),
            "site": ChoiceSlot(type="choice", gives="site", values={"gastric": "gastric"}),
        },
        kind=(
            _kind("volume_in", "Volume in", "{site} {ml}"),
            _kind("depth", "Tube depth"),
            _kind("xray", "X-ray"),
            _kind("pressure", "Pressure", "{site} pressure {mmhg}"),
        ),
        rules={read.name: Rule(level="low", tag="derived", message=read.name) for read in READS if not read.later},
        clock=(
            Clock(
                id="up",
                title="since gastric inflation",
                starts=Pattern(kind="volume_in", site="gastric"),
                stops=(Pattern(kind="tube", value="out"),),
            ),
        ),
    )


SMALL = _small()


class Room:
    """Says things to a log and keeps the facts."""

    began = BEGAN

    def __init__(self, procedure: Procedure = SMALL, **changes: object) -> None:
        self.procedure = procedure
        plain = {"author": "", "public_key": KEY.public_key, **changes}
        self.facts: list[Fact] = [opened(in_force(procedure, None), **plain)]

    def say(
        self, second: float, *items: Entry | Question, heard: str = "as said", by: str = "voice", late: float = 0
    ) -> None:
        said = BEGAN + timedelta(seconds=second)
        meaning = Understood(items=items) if items else NotUnderstood(heard=heard, nearest=("gastric NUMBER in",))
        origin = Origin.model_validate({"by": by, "heard": heard, "engine": "vosk", "confidence": 0.93})
        told = Heard(meaning, said, said + timedelta(seconds=late), origin)
        record = fold(self.facts)
        self.facts += decide(course_of(self.procedure, record), record, told).facts

    @property
    def kept(self) -> Kept:
        return kept_of(self.facts, KEY)

    @property
    def whole(self) -> Whole:
        return whole(self.kept)

    def note(self) -> str:
        return as_note(self.whole)

    def rows(self) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(as_csv(self.whole), newline="")))


@pytest.fixture(scope="session")
def one_of_everything() -> tuple[Fact, ...]:
    """The facts of a case with one of everything."""
    room = Room()
    room.say(5, entry("airway", "secured"), heard="airway secured")
    room.say(60, entry("tube", "in"), entry("depth", 52, "cm", "lips"), heard="tube in fifty two at the lips")
    room.say(90, FIFTEEN_OR_FIFTY, heard="gastric fifty")
    room.say(94.5, entry("number", 50), heard="five zero")
    room.say(120, entry("xray", "not_confirmed"), heard="x-ray shows wrong position")
    room.say(126, entry("undo"), heard="scratch that")
    room.say(130, entry("xray", "confirmed"), heard="x-ray confirms position")
    room.say(200, gastric(300), heard="gastric three hundred in")
    room.say(210, entry("correct", 200), heard="correct that to two hundred")
    room.say(260, entry("traction", 1, "kg", detail="fluid bag"), entry("depth", 50, "cm", "lips"), heard="traction on")
    room.say(300, entry("pressure", 60, "mmHg", "oesophageal"), heard="oesophageal pressure sixty")
    room.say(310, entry("correct", 30), heard="make that thirty")
    room.say(320, entry("pressure", 50, "mmHg", "oesophageal"), heard="oesophageal pressure fifty", by="typed")
    room.say(330, entry("aspirate", 400, "mL", "gastric"))
    room.say(333, entry("lavage_in", 500, "mL"), entry("lavage_out", 450, "mL"))
    room.say(340, heard="mind the cable")
    room.say(360, FIFTEEN_OR_FIFTY, heard="gastric fifty")
    gap = CaptureGap(
        logged_at=BEGAN + timedelta(seconds=400),
        began_at=BEGAN + timedelta(seconds=391),
        seconds=9,
        reason="the microphone was unplugged",
    )
    room.facts += [gap, CaseClosed(logged_at=BEGAN + timedelta(seconds=500), reason="ended by the scribe")]
    return tuple(room.facts)


@pytest.fixture
def whole_case(one_of_everything: tuple[Fact, ...]) -> Room:
    """That case, to resume."""
    room = Room()
    room.facts = [*one_of_everything]
    return room


@pytest.fixture
def room() -> Room:
    """A case that was just begun."""
    return Room()


@pytest.fixture
def new_room() -> type[Room]:
    """For tests that say things of their own."""
    return Room
