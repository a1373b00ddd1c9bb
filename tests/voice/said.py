"""Sentences said by a voice of espeak-ng's that trained nothing, and what is made of them."""

from __future__ import annotations

import io
import shutil
import subprocess
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
import soundfile

from log.basics.entry import Entry, Understood
from tests.bench.noise import frames, noisy
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE

QUIET = 40.0
NEEDS_A_VOICE = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng: apt-get install espeak-ng")


def check_heard(ears: Ears, nothing: Sequence[str], one: Sequence[str]) -> None:
    """Of each of the first nothing is made, of each of the others one entry or question."""
    for text in nothing:
        assert _made_of(ears, text) == [], text
    for text in one:
        assert len(_made_of(ears, text)) == 1, text


def check_logged(ears: Ears, entries: Mapping[str, Entry]) -> None:
    """Each sentence is logged as its entry."""
    for text, entry in entries.items():
        assert _made_of(ears, text) == [entry], text


def _made_of(ears: Ears, text: str) -> list[object]:
    """Every entry and question that comes of it, where everything said is meant for the log."""
    heard = [ears.hear(segment, Listening()).meaning for segment in segments(frames(_spoken(text)))]
    return [item for meaning in heard if isinstance(meaning, Understood) for item in meaning.items]


def _spoken(text: str) -> bytes:
    from scipy.signal import resample_poly  # not at collection: it takes a second

    made = subprocess.run(["espeak-ng", "-v", "en-gb-x-rp", "--stdout", text], check=True, capture_output=True).stdout
    wave, rate = soundfile.read(io.BytesIO(made))
    common = int(np.gcd(rate, SAMPLE_RATE))
    return noisy(resample_poly(wave, SAMPLE_RATE // common, rate // common), QUIET, 1)
