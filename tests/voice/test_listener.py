"""From sound to meaning with the real engines, and what happens when one of them fails."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing
from pathlib import Path

import numpy as np
import pytest

from log.errors import EngineError
from log.spoken import Entry, NotUnderstood, Question, Understood
from tests.voice.fakes import FakeSpec
from voice.doubt import Thresholds
from voice.engine_process import EngineProcess
from voice.grammar import Grammar
from voice.listener import Ears, EngineChoice, _together
from voice.matcher import Situation
from voice.phrases import Phrases
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Recogniser, Segment
from voice.sphinx_engine import SphinxEngine
from voice.vosk_engine import VoskEngine

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
def compiled_once(grammars: Mapping[str, Grammar], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voice.listener.compile_grammars", lambda phrases, lead_word: grammars)


def test_the_shipped_clip_is_logged_with_the_time_of_its_first_word(ears: Ears, clip_pcm: bytes) -> None:
    hearing = ears.hear(whole(clip_pcm, first_sample=60 * SAMPLE_RATE), Situation())

    assert hearing.meaning == Understood(items=(TWENTY_MMHG,))
    assert (hearing.text, hearing.engine) == ("gastric pressure twenty", "pocketsphinx")
    assert hearing.said_at == pytest.approx(60.63, abs=0.2)
    assert ears.thresholds.log_from <= hearing.confidence <= 1


def test_what_does_not_reach_the_threshold_is_asked(
    ears: Ears, clip_pcm: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ears, "thresholds", Thresholds(log_from=1.01, ask_from=0.1))
    meaning = ears.hear(whole(clip_pcm), Situation()).meaning
    assert meaning == Understood(items=(Question(candidates=(TWENTY_MMHG,), reason="heard indistinctly"),))


def test_noise_with_the_rhythm_of_talk_is_not_understood(ears: Ears) -> None:
    assert isinstance(ears.hear(whole(as_of_talk(1.5)), Situation()).meaning, NotUnderstood)


def test_a_voice_that_says_no_entry_is_not_logged(ears: Ears, clip_pcm: bytes) -> None:
    meaning = ears.hear(whole(backwards(clip_pcm)), Situation()).meaning
    assert isinstance(meaning, NotUnderstood) or all(isinstance(item, Question) for item in meaning.items)


def test_silence_is_not_understood_and_has_no_words(ears: Ears) -> None:
    hearing = ears.hear(whole(bytes(SAMPLE_RATE * BYTES_PER_SAMPLE)), Situation())
    assert hearing.meaning == NotUnderstood(heard="")
    assert (hearing.text, hearing.confidence) == ("", 0.0)


def test_when_a_number_is_due_a_bare_number_is_heard(ears: Ears, clip_pcm: bytes) -> None:
    hearing = ears.hear(whole(cut(clip_pcm, 1.65, 2.97)), Situation(number_due=True))
    assert hearing.meaning == Understood(items=(Entry(kind="number", value=20),))


def test_when_no_number_is_due_a_bare_number_is_no_entry(ears: Ears, clip_pcm: bytes) -> None:
    meaning = ears.hear(whole(cut(clip_pcm, 1.65, 2.97)), Situation()).meaning
    assert "number" not in str(meaning)


@pytest.mark.parametrize("which", ["engine", "second ear"])
def test_an_engine_that_died_is_started_again_and_the_segment_is_heard_all_the_same(
    which: str, ears: Ears, clip_pcm: bytes
) -> None:
    engine = ears._engines[0] if which == "engine" else ears._second_ear
    child = engine._child
    assert child.pid is not None
    os.kill(child.pid, signal.SIGKILL)
    child.join()

    assert ears.hear(whole(clip_pcm), Situation()).meaning == Understood(items=(TWENTY_MMHG,))

    assert engine._child is not child


@pytest.mark.parametrize("engine", ["vosk", "both"])
def test_an_engine_that_needs_a_model_is_refused_without_one(
    engine: EngineChoice, phrases: Phrases, compiled_once: None
) -> None:
    with pytest.raises(EngineError, match="no vosk model is installed") as caught:
        Ears(phrases, None, engine)
    assert "tamponade models add" in caught.value.remedy
    assert "--engine pocketsphinx" in caught.value.remedy


def test_with_both_engines_what_they_agree_on_is_heard_and_the_words_the_model_lacks_are_noted(
    prototype: Path, phrases: Phrases, clip_pcm: bytes, compiled_once: None, capfd: pytest.CaptureFixture[str]
) -> None:
    with Ears(phrases, None, "both", prototype) as ears:
        assert ears.names == ("vosk", "pocketsphinx")
        (note,) = ears.notes
        assert "model-prototype cannot hear" in note
        assert "capnography" in note

        hearing = ears.hear(whole(clip_pcm), Situation())

    assert (hearing.text, hearing.engine) == ("gastric pressure twenty", "vosk+pocketsphinx")
    assert hearing.meaning == Understood(items=(TWENTY_MMHG,))


def test_left_to_choose_it_does_without_a_model_that_lacks_words_and_says_so(
    prototype: Path, phrases: Phrases, compiled_once: None, capfd: pytest.CaptureFixture[str]
) -> None:
    with Ears(phrases, None, "auto", prototype) as ears:
        assert ears.names == ("pocketsphinx",)
        assert "model-prototype is not used" in ears.notes[0]


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
    heard = _together([(engine, "hear", (segment, grammar)) for engine, grammar in asked])
    assert [utterance.text for utterance in heard] == ["entries", "breath", "number"]


def test_an_engine_that_fails_twice_leaves_no_answer_of_the_others_behind(
    two: tuple[EngineProcess, EngineProcess],
) -> None:
    one, other = two
    segment = whole(bytes(1000))
    with pytest.raises(EngineError, match="there is no model"):
        _together([(one, "refuse", ()), (other, "hear", (segment, "entries"))])
    assert _together([(other, "hear", (segment, "number"))])[0].text == "number"


def test_every_engine_is_a_recogniser_wherever_it_runs() -> None:
    """The type checker holds them to the protocol; the names are there at run time too."""
    engines: list[type[Recogniser]] = [SphinxEngine, VoskEngine, EngineProcess]
    assert all(hasattr(engine, "hear") and hasattr(engine, "close") for engine in engines)
