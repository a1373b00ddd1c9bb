"""Pink noise around what is measured, and sound as the microphone gives it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from voice.sound.audio import FRAME_BYTES, Frame
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE

AROUND_SECONDS = 0.6
PEAK = 20_000


def noisy(wave: NDArray[np.floating], level: float, seed: int) -> bytes:
    """The wave, at 16 kHz, in pink noise with some of it before and after; dB of the speech above the noise."""
    around = np.zeros(int(AROUND_SECONDS * SAMPLE_RATE))
    length = len(wave) + 2 * len(around)
    white = np.fft.rfft(np.random.default_rng(seed).normal(size=length))
    noise = np.fft.irfft(white / np.sqrt(np.maximum(np.arange(len(white)), 20)), length)
    noise *= wave.std() / noise.std() * 10 ** (-level / 20)
    mixed = np.concatenate([around, wave, around]) + noise
    return bytes((mixed / np.abs(mixed).max() * PEAK).astype("<i2").tobytes())


def frames(pcm: bytes) -> Iterator[Frame]:
    """All of it; the last frame is filled with silence."""
    for at in range(0, len(pcm), FRAME_BYTES):
        yield Frame(pcm[at : at + FRAME_BYTES].ljust(FRAME_BYTES, b"\0"), at // BYTES_PER_SAMPLE)
