"""What is said aloud is number and digits, and is never an entry."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, NotUnderstood
from log.definition.load import shipped
from tests.cases import phrases, procedure
from tests.voice.meaning.test_matcher import samples
from voice.english.numbers import UNITS, parse
from voice.english.spoken import spoken, spoken_finding, spoken_question, spoken_short, spoken_strike
from voice.meaning.matcher import Listening, understand

PROCEDURE = procedure()

FIFTY = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
FIFTEEN = Entry(kind="volume_in", site="gastric", value=15, unit="mL")


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (FIFTY, "gastric volume in fifty, five zero, millilitres"),
        (
            Entry(kind="pressure", site="oesophageal", value=35, unit="mmHg"),
            "oesophageal pressure thirty five, three five, millimetres of mercury",
        ),
        (Entry(kind="pressure", site="gastric", value=5, unit="mmHg"), "gastric pressure five, millimetres of mercury"),
        (
            Entry(kind="volume_total", site="gastric", value=250, unit="mL"),
            "gastric volume now in the balloon two hundred and fifty, two five zero, millilitres",
        ),
        (
            Entry(kind="traction", value=0.5, unit="kg", detail="fluid bag"),
            "traction half a, zero point five, kilos fluid bag",
        ),
        (Entry(kind="traction", value=0.25, unit="kg"), "traction two hundred and fifty, two five zero, grams"),
        (Entry(kind="xray", value="not_confirmed"), "x-ray not confirmed"),
        (Entry(kind="mark"), "time marked"),
        (
            Entry(kind="aspirate", site="gastric", value=1250, unit="mL"),
            "gastric aspirate one two five zero, millilitres",
        ),
        (
            Entry(kind="vital", value=90, unit="mmHg", detail="blood pressure", second=60, second_unit="mmHg"),
            "vital sign blood pressure ninety, nine zero, over sixty, six zero, millimetres of mercury",
        ),
        (
            Entry(kind="manometry", site="gastric", value=12, unit="mmHg", second=100, second_unit="mL"),
            "gastric pressure before insertion twelve, one two, millimetres of mercury, "
            "at one hundred, one zero zero, millilitres",
        ),
        (
            Entry(kind="leak_test", site="gastric", value="started", second=250, second_unit="mL"),
            "gastric leak test started, at two hundred and fifty, two five zero, millilitres",
        ),
        (
            Entry(kind="drug", value=50, unit="microgram", detail="fentanyl"),
            "drug fentanyl fifty, five zero, micrograms",
        ),
        (
            Entry(kind="pressure", value=-2.125, unit="mmHg"),
            "pressure minus two point one two five, millimetres of mercury",
        ),
    ],
)
def test_an_entry_is_said_with_number_and_digits(entry: Entry, said: str) -> None:
    assert spoken(PROCEDURE, entry) == said
    assert spoken_strike(PROCEDURE, entry) == f"struck: {said}"


@pytest.mark.parametrize(
    ("entry", "total", "said"),
    [
        (FIFTY, 200, "fifty, five zero in, gastric, two hundred total"),
        (FIFTY, None, "fifty, five zero in, gastric"),
        (
            Entry(kind="volume_out", site="oesophageal", value=20, unit="mL"),
            45,
            "twenty out, oesophageal, forty five total",
        ),
        (Entry(kind="pressure", site="gastric", value=25, unit="mmHg"), None, "gastric pressure twenty five"),
        (Entry(kind="xray", value="confirmed"), None, "x-ray confirmed"),
    ],
)
def test_in_the_room_it_is_short_and_digits_are_said_where_a_number_has_a_sound_alike(
    entry: Entry, total: int | None, said: str
) -> None:
    assert spoken_short(PROCEDURE, entry, total) == said


def test_a_finding_is_said_in_a_few_words() -> None:
    assert spoken_finding("high", " oesophageal pressure out of range") == "high: oesophageal pressure out of range"
    assert spoken_finding("medium", "bleeding-before-oesophageal") == "medium: bleeding before oesophageal"


def test_a_question_says_what_it_could_be() -> None:
    asked = spoken_question(PROCEDURE, (FIFTY, FIFTEEN))
    assert asked == "gastric volume in: did you say fifty, five zero, or fifteen, one five?"
    off = Entry(kind="traction", value="off")
    assert spoken_question(PROCEDURE, (off,)) == "traction: did you say off?"
    assert spoken_question(PROCEDURE, (Entry(kind="mark"),)) == "time marked: did you say that?"


@given(st.integers(0, 999))
def test_number_and_digits_that_are_said_are_read_as_that_number(value: int) -> None:
    text = spoken(PROCEDURE, Entry(kind="pressure", value=value))
    words = tuple(text.removeprefix("pressure ").replace(",", "").split())
    reading = parse(words)
    assert getattr(reading, "value", None) == value


@given(st.floats(-1e6, 1e6) | st.integers(-1_000_000, 1_000_000))
def test_every_number_can_be_said(value: float) -> None:
    words = spoken(PROCEDURE, Entry(kind="pressure", value=value)).replace(",", "").split()
    assert words[0] == "pressure" and len(words) > 1
    assert not any(sign.isdigit() for word in words for sign in word)
    assert words[-1] in {*UNITS, "half"} or words[-1].isalpha()


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_nothing_that_is_said_is_an_entry_or_an_answer(name: str) -> None:
    definition = phrases(name).procedure
    commands = {kind.id for kind in definition.kind if kind.role == "command"}
    entries = {sample.entry: None for _, sample in samples(name) if sample.entry.kind not in commands}
    assert len(entries) > 100
    for entry in entries:
        for text in (
            spoken(definition, entry),
            spoken_strike(definition, entry),
            spoken_question(definition, (entry,)),
            spoken_question(definition, (entry, FIFTY)),
        ):
            assert definition.lead_word not in text
            for asked in (False, True):
                listening = Listening(lead_word=definition.lead_word, question_open=asked)
                assert isinstance(understand(phrases(name), text, listening), NotUnderstood), text


def test_the_lead_word_is_not_said_even_if_a_title_holds_it() -> None:
    kinds = (k.model_copy(update={"title": "Log of volume"}) if k.id == "volume_in" else k for k in PROCEDURE.kind)
    procedure = PROCEDURE.model_copy(update={"kind": tuple(kinds)})
    assert spoken(procedure, FIFTY) == "gastric of volume fifty, five zero, millilitres"
