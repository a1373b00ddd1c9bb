"""What people say to each other and what sounds like an entry: the engines may hear it, and nothing of it is logged."""

from __future__ import annotations

import io
import random
import shutil
import subprocess

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from log.load import load, read_procedure, shipped
from log.spoken import NotUnderstood, Understood
from tests.bench.noise import frames, noisy
from voice import models
from voice.compiling import compile_grammars
from voice.endpoint import segments
from voice.grammar import ASKED, ENTRIES
from voice.listener import Ears
from voice.matcher import Situation, understand
from voice.phrases import compile_phrases, sample_overheard
from voice.recogniser import SAMPLE_RATE

QUIET = 40.0


@pytest.mark.parametrize("name", shipped())
def test_it_can_be_heard_and_means_nothing(name: str) -> None:
    phrases, rng = compile_phrases(read_procedure(name)), random.Random(1)
    grammars = compile_grammars(phrases, None)
    for _ in range(500):
        words = sample_overheard(phrases, rng)
        for grammar in (ENTRIES, ASKED):
            assert grammars[grammar].entry.accepts(words), words
            assert grammars[grammar].entry.accepts(("right", "log", *words)), words
        for situation in (Situation(), Situation(asked=True), Situation(in_talk=True)):
            assert isinstance(understand(phrases, words, situation), NotUnderstood), words


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng: apt-get install espeak-ng")
def test_no_entry_is_made_of_the_half_of_an_order_or_of_another_tube() -> None:
    """Of these a given dose, the depth of the tube in the case and the pressure of its balloon had been logged."""
    phrases, model = compile_phrases(load("three-lumen").procedure), models.default_model(models.models_dir())
    assert model is not None
    with Ears(phrases, None, "both", model.path) as ears:

        def made_of(text: str) -> list[object]:
            heard = [ears.hear(segment, Situation()).meaning for segment in segments(frames(spoken(text)))]
            return [item for meaning in heard if isinstance(meaning, Understood) for item in meaning.items]

        for text in (
            "give one gram of tranexamic acid",
            "e t tube twenty two at the teeth",
            "cuff pressure is twenty five",
            "fentanyl fifty given",
        ):
            assert made_of(text) == [], text
        assert len(made_of("one gram of tranexamic acid given")) == 1
        assert len(made_of("gastric pressure is twenty five")) == 1


def spoken(text: str) -> bytes:
    """By a voice of espeak-ng's that trained nothing."""
    made = subprocess.run(["espeak-ng", "-v", "en-gb-x-rp", "--stdout", text], check=True, capture_output=True).stdout
    wave, rate = soundfile.read(io.BytesIO(made))
    common = int(np.gcd(rate, SAMPLE_RATE))
    return noisy(resample_poly(wave, SAMPLE_RATE // common, rate // common), QUIET, 1)
