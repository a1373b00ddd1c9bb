"""Sentences said by a voice of espeak-ng's that trained nothing, and what is made of them."""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from log.spoken import Understood
from tests.bench.noise import frames, noisy
from voice.endpoint import segments
from voice.listener import Ears
from voice.matcher import Situation
from voice.recogniser import SAMPLE_RATE

QUIET = 40.0
NEEDS_A_VOICE = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng: apt-get install espeak-ng")


def made_of(ears: Ears, text: str) -> list[object]:
    """Every entry and question that comes of it, where everything said is meant for the log."""
    heard = [ears.hear(segment, Situation()).meaning for segment in segments(frames(_spoken(text)))]
    return [item for meaning in heard if isinstance(meaning, Understood) for item in meaning.items]


def _spoken(text: str) -> bytes:
    made = subprocess.run(["espeak-ng", "-v", "en-gb-x-rp", "--stdout", text], check=True, capture_output=True).stdout
    wave, rate = soundfile.read(io.BytesIO(made))
    common = int(np.gcd(rate, SAMPLE_RATE))
    return noisy(resample_poly(wave, SAMPLE_RATE // common, rate // common), QUIET, 1)
