"""What is said aloud is number and digits, is never an entry, and the listener knows from when to when it is said."""

from __future__ import annotations

import shutil
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, NotUnderstood
from log.basics.errors import EngineError
from log.definition.load import read_procedure, shipped
from tests.voice.meaning.test_matcher import phrases, samples
from voice.english.numbers import UNITS, parse
from voice.meaning.matcher import Situation, understand
from voice.speak import speaker
from voice.speak.speaker import Speaker, spoken, spoken_question, spoken_strike, synthesised

PROCEDURE = read_procedure("three-lumen")
needs_a_voice = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")

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
                situation = Situation(lead_word=definition.lead_word, asked=asked)
                assert isinstance(understand(phrases(name), text, situation), NotUnderstood), text


def test_the_lead_word_is_not_said_even_if_a_title_holds_it() -> None:
    kinds = (k.model_copy(update={"title": "Log of volume"}) if k.id == "volume_in" else k for k in PROCEDURE.kind)
    procedure = PROCEDURE.model_copy(update={"kind": tuple(kinds)})
    assert spoken(procedure, FIFTY) == "gastric of volume fifty, five zero, millilitres"


# ---- speaking -------------------------------------------------------------------------------------------------------


class Loudspeaker:
    """Plays as long as it is told to, and keeps what it played."""

    def __init__(self) -> None:
        self.played: list[tuple[bytes, int]] = []
        self.began = threading.Semaphore(0)
        self.go_on = threading.Semaphore(0)
        self.broken = False

    def __call__(self, pcm: bytes, rate: int, stop: threading.Event) -> None:
        self.played.append((pcm, rate))
        self.began.release()
        if self.broken:
            raise EngineError("the loudspeaker cannot be used")
        while not stop.is_set() and not self.go_on.acquire(timeout=0.01):
            pass


@pytest.fixture
def voice(monkeypatch: pytest.MonkeyPatch) -> None:
    """A voice that needs no program."""
    monkeypatch.setattr(speaker, "synthesised", lambda text: (text.encode(), 16_000))
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")


@pytest.mark.usefixtures("voice")
def test_begin_and_end_are_told_and_of_those_that_wait_the_newest_is_said() -> None:
    loudspeaker, told = Loudspeaker(), list[str]()
    ended = threading.Semaphore(0)

    def end() -> None:
        told.append("end")
        ended.release()

    speaker = Speaker(lambda: told.append("begin"), end, play=loudspeaker)
    assert not speaker.speaking
    speaker.say("first")
    assert speaker.speaking
    assert loudspeaker.began.acquire(timeout=2)
    assert told == ["begin"]
    speaker.say("old")
    speaker.say("new")
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=2) and loudspeaker.began.acquire(timeout=2)
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=2)
    assert [pcm for pcm, _ in loudspeaker.played] == [b"first", b"new"]
    assert told == ["begin", "end"] * 2
    speaker.close()
    assert not speaker.speaking


@pytest.mark.usefixtures("voice")
def test_the_listener_is_let_hear_again_even_if_the_loudspeaker_fails_and_the_next_sentence_is_tried() -> None:
    loudspeaker, told = Loudspeaker(), list[str]()
    loudspeaker.broken = True
    failed = threading.Semaphore(0)

    def failure(error: EngineError) -> None:
        told.append(error.problem)
        failed.release()

    speaker = Speaker(lambda: told.append("begin"), lambda: told.append("end"), failure, loudspeaker)
    for _ in range(2):
        speaker.say("anything")
        assert failed.acquire(timeout=2)
    speaker.close()
    assert told == ["begin", "end", "the loudspeaker cannot be used"] * 2


@pytest.mark.usefixtures("voice")
def test_it_falls_silent_when_it_is_closed() -> None:
    loudspeaker = Loudspeaker()
    speaker = Speaker(play=loudspeaker)
    speaker.say("a long story")
    assert loudspeaker.began.acquire(timeout=2)
    speaker.close()
    speaker.close()
    speaker.say("too late")
    assert len(loudspeaker.played) == 1


@pytest.mark.usefixtures("voice")
def test_it_is_hushed_in_the_middle_of_a_sentence_and_speaks_again_when_it_is_asked_to() -> None:
    loudspeaker, ended = Loudspeaker(), threading.Semaphore(0)
    speaker = Speaker(on_end=ended.release, play=loudspeaker)
    speaker.say("a long story")
    assert loudspeaker.began.acquire(timeout=2)
    speaker.say("what came after it")
    speaker.hush()
    assert ended.acquire(timeout=2)
    speaker.say("later")
    assert loudspeaker.began.acquire(timeout=2)
    assert not ended.acquire(timeout=0.1), "it speaks until it is through"
    loudspeaker.go_on.release()
    assert ended.acquire(timeout=2)
    assert [pcm for pcm, _ in loudspeaker.played] == [b"a long story", b"later"]
    speaker.close()


def test_without_the_program_it_is_told_what_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(EngineError, match="espeak-ng is not installed") as caught:
        Speaker()
    assert "apt install espeak-ng" in caught.value.remedy


@needs_a_voice
def test_a_sentence_becomes_sound_of_a_sensible_length() -> None:
    pcm, rate = synthesised(spoken(PROCEDURE, FIFTY))
    assert rate >= 16_000
    assert 1.5 < len(pcm) / 2 / rate < 6
    assert max(pcm) > 0


def test_a_voice_that_fails_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speaker, "SYNTHESISE", ("false",))
    with pytest.raises(EngineError, match="cannot speak"):
        synthesised("anything")
