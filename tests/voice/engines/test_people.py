"""people-en: its features, what it makes of found phrases, and a run of the shipped net."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from log.basics.errors import EngineError
from tests.cases import phrases
from voice.engines.beam import Found
from voice.engines.log_mel import BANDS, SHIFT, WINDOW, Floats, bank, levelled, log_mel
from voice.engines.people import LONGEST_SECONDS, PeopleSpec, heard, side_by_side
from voice.phrases.language import spoken_sentences
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import Grammar

MODEL = Path(str(files("models") / "people-en"))
SEGMENT = Segment(b"\0\0" * SAMPLE_RATE, 2 * SAMPLE_RATE, 0)


def tone(hertz: float, seconds: float = 0.5) -> Floats:
    return np.asarray(np.sin(2 * np.pi * hertz * np.arange(int(seconds * SAMPLE_RATE)) / SAMPLE_RATE), np.float32)


def slow_log_mel(wave: Floats) -> Floats:
    """The same by the definition: one frame and one line of the spectrum at a time."""
    padded = np.pad(wave.astype(float), WINDOW // 2, mode="reflect")
    turns = np.arange(WINDOW)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * turns / WINDOW)
    lines = np.exp(-2j * np.pi * np.outer(np.arange(WINDOW // 2 + 1), turns) / WINDOW)
    frames = [padded[at * SHIFT : at * SHIFT + WINDOW] * window for at in range(len(wave) // SHIFT)]
    power = np.stack([np.abs(lines @ frame) ** 2 for frame in frames], 1)
    logs = np.log10(np.maximum(bank() @ power, 1e-10))
    return np.asarray((np.maximum(logs, logs.max() - 8) + 4) / 4, np.float32)


def test_the_features_are_those_of_the_definition() -> None:
    wave = np.random.default_rng(0).normal(0, 0.1, 4000).astype(np.float32)
    assert log_mel(wave) == pytest.approx(slow_log_mel(wave), abs=1e-4)
    assert log_mel(wave).shape == (BANDS, 4000 // SHIFT)


@pytest.mark.parametrize("hertz", [300.0, 1000.0, 3000.0])
def test_a_tone_is_loudest_in_the_band_around_it(hertz: float) -> None:
    weights = bank()
    (band,) = {int(band) for band in log_mel(tone(hertz))[:, 10:-10].argmax(0)}
    assert weights[band, round(hertz / (SAMPLE_RATE / WINDOW))] > 0


def test_a_far_microphone_is_heard_as_a_near_one() -> None:
    wave = np.asarray(tone(440) * 0.3, np.float32)
    assert levelled(wave) == pytest.approx(levelled(np.asarray(wave / 50, np.float32)), abs=1e-5)
    assert not levelled(np.zeros(10, np.float32)).any()


def test_what_was_found_is_an_utterance_and_its_rivals() -> None:
    chances = np.full((60, 2), -9.0, np.float32)
    chances[:, 0] = chances[20:30, 1] = -0.125
    chances[20:30, 0] = -9.0  # sounds from 0.4 to 0.6 s, of which 0.2 s were silence put before
    said = heard((Found(("tube", "in"), -3.0), Found(("tube", "out"), -5.5)), chances, "people", SEGMENT)
    assert (said.texts, said.score, said.free) == (("tube", "in"), -3.0, -7.5)
    assert {(word.start, round(word.end, 2)) for word in said.words} == {(2.2, 2.38)}
    assert [(rival.words, rival.behind) for rival in said.rivals] == [(("tube", "out"), 2.5)]
    assert (said.start, said.end) == (2.0, 3.0)
    assert heard((), chances, "people", SEGMENT).words == ()


def test_phrases_and_sentences_are_heard_side_by_side_and_a_phrase_is_no_sentence() -> None:
    phrases = (Found(("tube", "in"), -3.0), Found(("tube", "out"), -9.0))
    sentences = (Found(("tube's", "in"), -2.0), Found(("tube", "in"), -6.0))
    found = side_by_side(phrases, sentences)
    assert [(way.words, way.score, way.phrase) for way in found] == [
        (("tube's", "in"), -2.0, False),
        (("tube", "in"), -3.0, True),
        (("tube", "out"), -9.0, True),
    ]
    said = heard(found, np.zeros((10, 2), np.float32), "people", SEGMENT)
    assert (said.text, said.phrase) == ("tube's in", False)
    assert [rival.phrase for rival in said.rivals] == [True, True]


def test_a_model_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(EngineError, match="cannot be loaded"):
        PeopleSpec(tmp_path).build()


def test_a_sound_that_the_net_has_not_is_an_error() -> None:
    grammar = Grammar("entries", Acceptor(({"zorgle": 1}, {}), frozenset({1})), None, ())
    with pytest.raises(EngineError, match="no sound QQ"):
        PeopleSpec(MODEL, {"entries": grammar}, {"zorgle": ("QQ AA",)}).build()


@pytest.mark.slow
def test_the_shipped_net_hears_the_shipped_clip_and_no_phrase_in_silence() -> None:
    said = Acceptor(
        ({"gastric": 1, "tube": 3}, {"pressure": 2}, {"twenty": 4, "seventy": 4}, {"in": 4}, {}), frozenset({4})
    )
    engine = PeopleSpec(MODEL, {"entries": Grammar("entries", said, None, ())}).build()
    (clip,) = segments(AudioFile(Path(str(files("voice.sound") / "clip.flac"))).frames())
    found = engine.hear(clip, "entries")
    assert found.text == "gastric pressure twenty"
    assert all(rival.behind > 2 for rival in found.rivals)
    assert engine.hear(SEGMENT, "entries").free == 0.0
    long = Segment(b"\0\0" * SAMPLE_RATE * int(LONGEST_SECONDS + 5), 0, 0)
    assert len(engine.chances(long)) <= 1500


@pytest.mark.slow
def test_the_shipped_net_hears_a_sentence_where_the_grammar_has_other_phrases() -> None:
    other = Grammar("entries", Acceptor(({"tube": 1}, {"in": 2}, {}), frozenset({2})), None, ())
    spec = PeopleSpec(MODEL, {"entries": other, "number": other}, sentences=spoken_sentences(phrases(), None))
    engine = spec.build()
    (clip,) = segments(AudioFile(Path(str(files("voice.sound") / "clip.flac"))).frames())
    found = engine.hear(clip, "entries")
    assert (found.text, found.phrase) == ("gastric pressure twenty", False)
    assert engine.hear(clip, "number").text in ("tube in", "")
