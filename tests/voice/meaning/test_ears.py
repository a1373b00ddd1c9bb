"""From sound to meaning with the real engines, and what happens when one of them fails."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from log.basics.errors import EngineError
from tests.conftest import Compile
from tests.voice.fakes import FakeSpec
from voice.engines.people import PeopleEngine
from voice.engines.process import EngineProcess
from voice.engines.protocol import Recogniser, Rival, Utterance, Word
from voice.engines.vosk import VoskEngine
from voice.meaning.ears import Ears, EngineChoice
from voice.meaning.evidence import Evidence
from voice.meaning.matcher import Listening
from voice.meaning.parallel import together
from voice.meaning.thresholds import (
    IN_TALK,
    PUSH_TO_TALK,
    WITH_LEAD_WORD,
    Thresholds,
)
from voice.meaning.verdict import Hearing
from voice.phrases.phrases import Phrases
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

TWENTY_MMHG = Entry(kind="pressure", site="gastric", value=20, unit="mmHg")


def whole(pcm: bytes, first_sample: int = 0) -> Segment:
    return Segment(pcm, first_sample, first_sample + len(pcm) // BYTES_PER_SAMPLE)


def cut(pcm: bytes, begins: float, ends: float) -> bytes:
    return pcm[round(begins * SAMPLE_RATE) * BYTES_PER_SAMPLE : round(ends * SAMPLE_RATE) * BYTES_PER_SAMPLE]


def as_of_talk(seconds: float) -> bytes:
    """Noise that rises and falls as syllables do."""
    time = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    hiss = np.convolve(np.random.default_rng(3).normal(0, 1, len(time)), np.ones(8) / 8, "same")
    wave = hiss * np.clip(np.sin(2 * np.pi * 4 * time) + 0.3, 0, 1) * 6000
    return bytes(np.clip(wave, -32768, 32767).astype("<i2").tobytes())


def backwards(pcm: bytes) -> bytes:
    return bytes(np.frombuffer(pcm, "<i2")[::-1].tobytes())


@pytest.fixture
def compiled_once(compiled: Compile, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voice.meaning.ears.kept_grammars", compiled)


def test_one_ear_alone_hears_the_shipped_clip_and_when_its_first_word_began(ears: Ears, clip_pcm: bytes) -> None:
    """It may ask where both would log: alone it has to be surer."""
    hearing = ears.hear(whole(clip_pcm, first_sample=60 * SAMPLE_RATE), Listening())

    assert first_of(hearing.meaning) == TWENTY_MMHG
    assert (hearing.text, hearing.engine) == ("gastric pressure twenty", "people")
    assert hearing.said_at == pytest.approx(60.63, abs=0.2)
    assert ears.thresholds_in(Listening()).ask_from <= hearing.confidence <= 1


@pytest.mark.parametrize(
    ("listening", "wanted"),
    [
        (Listening(), PUSH_TO_TALK),
        (Listening(question_open=True), PUSH_TO_TALK),
        (Listening(in_talk=True), IN_TALK),
        (Listening(lead_word="log"), WITH_LEAD_WORD),
        (Listening(lead_word="log", question_open=True), IN_TALK),  # an answer needs no lead word
    ],
)
def test_how_far_to_believe_follows_from_how_likely_the_log_is_meant(
    both: Ears, listening: Listening, wanted: Thresholds
) -> None:
    assert both.thresholds_in(listening) == wanted


def test_what_does_not_reach_the_threshold_is_asked(
    ears: Ears, clip_pcm: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ears, "thresholds", Thresholds(log_from=1.01, ask_from=0.1))
    meaning = ears.hear(whole(clip_pcm), Listening()).meaning
    assert meaning == Understood(items=(Question(candidates=(TWENTY_MMHG,), why="indistinct", text="unclear"),))


def test_noise_with_the_rhythm_of_talk_is_not_understood(ears: Ears) -> None:
    assert isinstance(ears.hear(whole(as_of_talk(1.5)), Listening()).meaning, NotUnderstood)


def test_a_voice_that_says_no_entry_is_not_logged(ears: Ears, clip_pcm: bytes) -> None:
    meaning = ears.hear(whole(backwards(clip_pcm)), Listening()).meaning
    assert isinstance(meaning, NotUnderstood) or all(isinstance(item, Question) for item in meaning.items)


def test_silence_is_not_understood_and_has_no_words(ears: Ears) -> None:
    hearing = ears.hear(whole(bytes(SAMPLE_RATE * BYTES_PER_SAMPLE)), Listening())
    assert hearing.meaning == NotUnderstood(heard="")
    assert (hearing.text, hearing.confidence) == ("", 0.0)


def test_when_a_number_is_due_a_bare_number_is_heard(both: Ears, clip_pcm: bytes) -> None:
    hearing = both.hear(whole(cut(clip_pcm, 1.65, 2.97)), Listening(number_due=True))
    assert first_of(hearing.meaning) == Entry(kind="number", value=20)


def test_when_no_number_is_due_a_bare_number_is_no_entry(ears: Ears, clip_pcm: bytes) -> None:
    meaning = ears.hear(whole(cut(clip_pcm, 1.65, 2.97)), Listening()).meaning
    assert "number" not in str(meaning)


def test_an_engine_that_died_is_started_again_and_the_segment_is_heard_all_the_same(
    both: Ears, clip_pcm: bytes
) -> None:
    engine = both._engines[-1]
    child = engine._child
    assert child.pid is not None
    os.kill(child.pid, signal.SIGKILL)
    child.join()

    assert both.hear(whole(clip_pcm), Listening()).meaning == Understood(items=(TWENTY_MMHG,))

    assert engine._child is not child


@pytest.mark.parametrize("engine", ["vosk", "both"])
def test_an_engine_that_needs_a_model_is_refused_without_one(
    engine: EngineChoice, phrases: Phrases, compiled_once: None
) -> None:
    with pytest.raises(EngineError, match="no vosk model is installed") as caught:
        Ears(phrases, None, engine)
    assert "tamponade models add" in caught.value.remedy
    assert "--engine people" in caught.value.remedy


def test_with_both_engines_vosk_is_believed_and_the_words_the_model_lacks_are_noted(
    prototype: Path, phrases: Phrases, clip_pcm: bytes, compiled_once: None, capfd: pytest.CaptureFixture[str]
) -> None:
    with Ears(phrases, None, "both", prototype) as ears:
        assert ears.names == ("vosk", "people")
        (note,) = ears.notes
        assert "model-prototype cannot hear" in note
        assert "capnography" in note

        hearing = ears.hear(whole(clip_pcm), Listening())

    assert (hearing.text, hearing.engine) == ("gastric pressure twenty", "vosk+people")
    assert first_of(hearing.meaning) == TWENTY_MMHG


def test_left_to_choose_it_does_without_a_model_that_lacks_words_and_says_so(
    prototype: Path, phrases: Phrases, compiled_once: None, capfd: pytest.CaptureFixture[str]
) -> None:
    with Ears(phrases, None, "auto", prototype) as ears:
        assert ears.names == ("people",)
        assert "model-prototype is not used" in ears.notes[0]


# With the model that comes with the program


def first_of(meaning: object) -> Entry | None:
    """The likeliest entry, logged or asked."""
    if not isinstance(meaning, Understood):
        return None
    item = meaning.items[0]
    return item.candidates[0] if isinstance(item, Question) else item


def test_with_the_model_the_clip_is_logged_by_all_engines_together(both: Ears, clip_pcm: bytes) -> None:
    assert (both.names, both.notes) == (("vosk", "people"), [])
    hearing = both.hear(whole(clip_pcm, first_sample=60 * SAMPLE_RATE), Listening())
    assert hearing.meaning == Understood(items=(TWENTY_MMHG,))
    assert (hearing.text, hearing.engine) == ("gastric pressure twenty", "vosk+people")
    assert hearing.said_at == pytest.approx(60.63, abs=0.2)


def test_everything_that_was_heard_is_gathered_before_it_is_judged(both: Ears, clip_pcm: bytes) -> None:
    segment = whole(clip_pcm)
    evidence = both.gather(segment, Listening())
    assert evidence.segment == segment
    assert {ear: said.text for ear, said in evidence.heard.items()} == dict.fromkeys(
        ("people", "net"), "gastric pressure twenty"
    )
    assert all(said.free is not None for said in evidence.heard.values())
    assert both.judge(evidence, Listening()) == both.judge(evidence, Listening())


def test_silence_is_not_understood_by_all_of_them(both: Ears) -> None:
    hearing = both.hear(whole(bytes(SAMPLE_RATE * BYTES_PER_SAMPLE)), Listening())
    assert hearing.meaning == NotUnderstood(heard="")
    assert hearing.confidence == 0.0


def judged(ears: Ears, evidence: Evidence, thresholds: Thresholds, number_due: bool = False) -> Meaning:
    before, ears.thresholds = ears.thresholds, thresholds
    try:
        return ears.judge(evidence, Listening(number_due=number_due)).meaning
    finally:
        ears.thresholds = before


def utterance(text: str, *rivals: str) -> Utterance:
    words = tuple(Word(word, 1.0 + place, 2.0 + place) for place, word in enumerate(text.split()))
    ways = tuple(Rival(tuple(rival.split()), 1.0) for rival in rivals)
    return Utterance(words, "vosk", 0, 1, rivals=ways)


def heard(text: str, *rivals: str, net: str | None = None) -> Evidence:
    """By the people's ear, and by the net if it is one of both."""
    segment = whole(bytes(3 * SAMPLE_RATE))
    return Evidence(segment, utterance(text, *rivals), None if net is None else utterance(net))


ALWAYS_SURE = Thresholds(log_from=0.0, ask_from=0.0, alike_from=0.0, number_margin=0.0)
NEVER_SETTLED = replace(ALWAYS_SURE, alike_from=1.1)
NEVER_SURE = replace(ALWAYS_SURE, log_from=1.1, alike_from=1.1)


@pytest.mark.parametrize(("word", "value"), [("fifty", 50), ("fifteen", 15)])
@pytest.mark.parametrize(
    ("agreed", "thresholds", "logged"),
    [
        (True, ALWAYS_SURE, True),
        (False, ALWAYS_SURE, False),
        (None, ALWAYS_SURE, False),
        (True, NEVER_SETTLED, False),
        (True, replace(ALWAYS_SURE, number_margin=99.0), False),
    ],
)
def test_a_number_with_a_sound_alike_is_logged_only_where_both_ears_hear_it_and_no_other_number_is_near(
    ears: Ears, word: str, value: int, agreed: bool | None, thresholds: Thresholds, logged: bool
) -> None:
    """The rule as verdict.py says it; None: one ear alone."""
    net = None if agreed is None else word if agreed else "gastric"
    number = Entry(kind="number", value=value)
    (item,) = judged(ears, heard(word, net=net), thresholds, number_due=True).items  # type: ignore[union-attr]
    assert (item == number) is logged
    assert logged or (isinstance(item, Question) and item.candidates[0] == number)


def test_a_teen_heard_by_one_ear_is_logged_where_it_is_said_digit_by_digit(ears: Ears) -> None:
    fifteen = Entry(kind="number", value=15)
    for text in ("fifteen", "one five", "fifteen one five"):
        (item,) = judged(ears, heard(text), ALWAYS_SURE, number_due=True).items  # type: ignore[union-attr]
        assert (item == fifteen) is (text != "fifteen"), text


def test_ears_that_hear_different_numbers_are_a_question_with_both(ears: Ears) -> None:
    evidence = heard("gastric pressure twenty", net="gastric pressure twenty four")
    (item,) = judged(ears, evidence, ALWAYS_SURE).items  # type: ignore[union-attr]
    assert isinstance(item, Question)
    assert {entry.value for entry in item.candidates} == {20, 24}


def test_what_is_asked_offers_what_else_was_heard_and_what_is_logged_does_not(ears: Ears) -> None:
    twenty, sixty = Entry(kind="number", value=20), Entry(kind="number", value=60)
    evidence = heard("twenty", "sixty", "what", "")
    asked = judged(ears, evidence, NEVER_SURE, number_due=True)
    assert asked == Understood(items=(Question(candidates=(twenty, sixty), why="indistinct", text="unclear"),))
    assert judged(ears, evidence, ALWAYS_SURE, number_due=True) == Understood(items=(twenty,))


def test_a_bare_number_has_to_be_surer_than_an_entry(ears: Ears) -> None:
    strict = replace(ALWAYS_SURE, bare_from=1.1)
    (asked,) = judged(ears, heard("twenty"), strict, number_due=True).items  # type: ignore[union-attr]
    assert isinstance(asked, Question)
    both = heard("gastric pressure twenty", net="gastric pressure twenty")
    assert judged(ears, both, strict) == Understood(items=(TWENTY_MMHG,))


@pytest.mark.parametrize(
    ("said", "net", "stands"),
    [
        ("six eight", "six eight", True),
        ("six eight", None, False),
        ("six eight", "", False),
        ("eight", None, False),
        ("forty eight", None, True),
        ("eight hundred", None, True),
        ("six seven", None, True),
    ],
)
def test_a_bare_digit_eight_needs_the_same_from_an_ear_of_another_make(
    ears: Ears, said: str, net: str | None, stands: bool
) -> None:
    """Ears take the end of "sixty" for one, in some voices, and "three"."""
    (item,) = judged(ears, heard(said, net=net), ALWAYS_SURE, number_due=True).items  # type: ignore[union-attr]
    assert isinstance(item, Entry if stands else Question)


@pytest.mark.parametrize(("said", "stands"), [("five zero", True), ("five oh", True), ("five oh zero", False)])
def test_nobody_says_oh_and_zero_in_one_number(ears: Ears, said: str, stands: bool) -> None:
    """An accent that ends "five" in a vowel made 500 of its "five zero"."""
    (item,) = judged(ears, heard(said), ALWAYS_SURE, number_due=True).items  # type: ignore[union-attr]
    assert isinstance(item, Entry if stands else Question)


def test_it_was_said_when_its_first_word_was(ears: Ears) -> None:
    assert ears.judge(heard("twenty"), Listening(number_due=True)).said_at == 1.0
    nothing = ears.judge(Evidence(whole(b"", 3 * SAMPLE_RATE), Utterance((), "people", 3, 3)), Listening())
    assert (nothing.said_at, nothing.text, nothing.confidence) == (3.0, "", 0.0)


# A head start


def alike(one: Hearing, other: Hearing) -> bool:
    """The same but for what an engine's earlier work moves: the last digits of its figures, a frame of its times."""
    figures = pytest.approx((other.confidence, other.said_at), abs=0.03)
    return (one.confidence, one.said_at) == figures and (one.meaning, one.text, one.engine) == (
        *(other.meaning, other.text, other.engine),
    )


@pytest.mark.parametrize("which", ["ears", "both"])
def test_with_a_head_start_the_same_is_heard(which: str, clip_pcm: bytes, request: pytest.FixtureRequest) -> None:
    engines: Ears = request.getfixturevalue(which)
    segment = whole(clip_pcm, 7 * SAMPLE_RATE)
    plain = engines.hear(segment, Listening())
    engines.early(segment, Listening())
    later = replace(segment, overheard_until=segment.overheard_until + 5_000)
    hearing = engines.hear(later, Listening())
    assert alike(hearing, plain)
    assert hearing.segment == later
    assert engines._early is None


@pytest.mark.parametrize("which", ["ears", "both"])
def test_a_head_start_is_known_before_the_speech_is_over_and_nothing_is_heard_twice(
    which: str, clip_pcm: bytes, request: pytest.FixtureRequest
) -> None:
    engines: Ears = request.getfixturevalue(which)
    segment = whole(clip_pcm)
    plain = engines.hear(segment, Listening())
    assert engines.heard_early() is None
    engines.early(segment, Listening())
    began = time.monotonic()
    while (early := engines.heard_early()) is None:
        assert time.monotonic() - began < 20
        time.sleep(0.01)
    assert alike(early, plain) and engines.heard_early() is None
    assert not engines.is_whole(early, Listening()), "twenty may become twenty five"
    assert alike(engines.hear(segment, Listening()), plain)
    assert alike(engines.hear(segment, Listening()), plain)


def test_an_entry_is_whole_where_the_grammar_knows_no_word_that_can_follow(ears: Ears, clip_pcm: bytes) -> None:
    def heard(text: str, *items: Entry | Question) -> Hearing:
        return Hearing(whole(clip_pcm), Understood(items=items), text, "people", 0.95, 0.0)

    fifty = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
    said = heard("gastric fifty mils in", fifty)
    assert ears.is_whole(said, Listening())
    assert not ears.is_whole(said, Listening(question_open=True))
    assert not ears.is_whole(heard("gastric fifty", fifty), Listening())
    assert not ears.is_whole(
        heard("gastric fifty mils in", Question(candidates=(fifty,), why="indistinct", text="unclear")), Listening()
    )


@pytest.mark.parametrize("which", ["ears", "both"])
def test_a_head_start_with_another_sound_or_in_another_situation_changes_nothing(
    which: str, clip_pcm: bytes, request: pytest.FixtureRequest
) -> None:
    engines: Ears = request.getfixturevalue(which)
    segment, half = whole(clip_pcm), whole(clip_pcm[: len(clip_pcm) // 4 * 2])
    plain = engines.hear(segment, Listening())
    for begun, listening in (
        (half, Listening()),
        (whole(clip_pcm, 480), Listening()),
        (segment, Listening(number_due=True)),
    ):
        engines.early(begun, listening)
        assert alike(engines.hear(segment, Listening()), plain)
        assert engines._early is None


def test_head_starts_one_after_the_other_leave_no_answer_behind(ears: Ears, clip_pcm: bytes) -> None:
    segment = whole(clip_pcm)
    plain = ears.hear(segment, Listening())
    for length in (20_000, 40_000, 60_000):
        ears.early(whole(clip_pcm[:length]), Listening())
    assert ears.partly(whole(clip_pcm[:30_000]), Listening())
    ears.early(segment, Listening())
    assert alike(ears.hear(segment, Listening()), plain)


@pytest.mark.parametrize("which", ["ears", "both"])
def test_the_words_so_far_come_when_they_are_known_and_nobody_waits_for_them(
    which: str, clip_pcm: bytes, request: pytest.FixtureRequest
) -> None:
    engines: Ears = request.getfixturevalue(which)
    segment = whole(clip_pcm)
    plain = engines.hear(segment, Listening())
    assert engines.words_so_far() is None
    assert engines.partly(segment, Listening())
    assert not engines.partly(segment, Listening())  # it is busy
    began = time.monotonic()
    while (words := engines.words_so_far()) is None:
        assert time.monotonic() - began < 20
        time.sleep(0.01)
    assert (words, engines.words_so_far()) == ("gastric pressure twenty", None)
    assert alike(engines.hear(segment, Listening()), plain)


@pytest.mark.parametrize("which", ["ears", "both"])
def test_what_is_expected_makes_no_difference_to_what_is_heard(
    which: str, clip_pcm: bytes, request: pytest.FixtureRequest
) -> None:
    engines: Ears = request.getfixturevalue(which)
    plain = engines.hear(whole(clip_pcm), Listening())
    for expected in (Listening(question_open=True), Listening(question_open=True), Listening(number_due=True)):
        engines.expect(expected)
        assert alike(engines.hear(whole(clip_pcm), Listening()), plain)


@pytest.mark.parametrize("when", ["before", "after"])
def test_an_engine_that_dies_around_a_head_start_is_started_again_and_the_same_is_heard(
    when: str, ears: Ears, clip_pcm: bytes
) -> None:
    (engine,) = ears._engines
    segment, child = whole(clip_pcm), engine._child
    plain = ears.hear(segment, Listening())
    if when == "after":
        ears.early(segment, Listening())
    assert child.pid is not None
    os.kill(child.pid, signal.SIGKILL)
    child.join()
    if when == "before":
        ears.early(segment, Listening())

    assert alike(ears.hear(segment, Listening()), plain)

    assert engine._child is not child
    assert alike(ears.hear(segment, Listening()), plain)


def test_an_engine_that_dies_during_a_head_start_nobody_wants_is_started_again(ears: Ears, clip_pcm: bytes) -> None:
    engine, segment = ears._engines[0], whole(clip_pcm)
    ears.early(whole(clip_pcm[:40_000]), Listening())
    assert engine._child.pid is not None
    os.kill(engine._child.pid, signal.SIGKILL)
    engine._child.join()
    assert first_of(ears.hear(segment, Listening()).meaning) == TWENTY_MMHG


# How questions are put to several engines, with engines that do what they are told


@pytest.fixture
def two() -> Iterator[tuple[EngineProcess, EngineProcess]]:
    with ExitStack() as stack:
        one, other = (stack.enter_context(closing(EngineProcess(FakeSpec(name=name)))) for name in ("one", "other"))
        for engine in (one, other):
            engine.wait()
        yield one, other


def test_an_engine_asked_twice_that_dies_at_the_first_answers_both(two: tuple[EngineProcess, EngineProcess]) -> None:
    one, other = two
    assert one._child.pid is not None
    os.kill(one._child.pid, signal.SIGKILL)
    one._child.join()
    segment = whole(bytes(1000))
    asked = ((one, "entries"), (one, "breath"), (other, "number"))
    heard = together([(engine, "hear", (segment, grammar)) for engine, grammar in asked])
    assert [utterance.text for utterance in heard] == ["entries", "breath", "number"]


def test_an_engine_that_fails_twice_leaves_no_answer_of_the_others_behind(
    two: tuple[EngineProcess, EngineProcess],
) -> None:
    one, other = two
    segment = whole(bytes(1000))
    with pytest.raises(EngineError, match="there is no model"):
        together([(one, "refuse", ()), (other, "hear", (segment, "entries"))])
    assert together([(other, "hear", (segment, "number"))])[0].text == "number"


def test_every_engine_is_a_recogniser_wherever_it_runs() -> None:
    """The type checker holds them to the protocol; the names are there at run time too."""
    engines: list[type[Recogniser]] = [PeopleEngine, VoskEngine, EngineProcess]
    assert all(hasattr(engine, "hear") and hasattr(engine, "close") for engine in engines)
