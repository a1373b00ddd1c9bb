"""Sentences spoken by a synthesiser that is not ours, as a recording; skipped where there is none."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile

PAUSE = 1.3
"""Seconds of silence around each sentence."""


def spoken(path: Path, sentences: Sequence[str], voice: str = "en-gb", pause: float = PAUSE) -> Path:
    """The sentences, one after the other, with nearly silent pauses; skips the test without espeak-ng."""
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed: sudo apt install espeak-ng")
    pieces, rate = [], 22_050
    hiss = np.random.default_rng(1)
    for number, sentence in enumerate(sentences):
        one = path.with_name(f"{path.stem}-{number}.wav")
        subprocess.run(["espeak-ng", "-v", voice, "-s", "140", "-w", str(one), sentence], check=True, timeout=20)
        sound, rate = soundfile.read(one)
        pieces += [hiss.normal(0, 0.0003, round(pause * rate)), sound * 0.7]
    pieces.append(hiss.normal(0, 0.0003, round(pause * rate)))
    soundfile.write(path, np.concatenate(pieces), rate, subtype="PCM_16")
    return path
