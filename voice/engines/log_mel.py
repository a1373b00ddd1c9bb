"""The features of people-en: 80 mel bands of a log spectrum, 100 frames a second, in numpy alone.

25 ms windows (Hann), a frame each 10 ms; bands evenly spaced below 1 kHz and by the logarithm above (Slaney's scale),
each of unit area; tenfold logarithm, nothing more than 8 decades below the loudest. That is what the net heard when it
learnt, so every figure here is part of the model.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from voice.sound.segment import SAMPLE_RATE

Floats = NDArray[np.float32]

BANDS, WINDOW, SHIFT = 80, 400, 160
"""Bands; samples of a window and between two."""

DECADES = 8.0
LOUDNESS_DB = -25.0
"""Root mean square, relative to full scale, that every sound is brought to."""

_LINEAR_HERTZ, _KNEE_HERTZ = 200 / 3, 1000.0
_KNEE = _KNEE_HERTZ / _LINEAR_HERTZ
_STEP = np.log(6.4) / 27
"""Slaney's scale: 15 steps to 1 kHz, from there 27 to 6.4 times as much."""


def bank() -> Floats:
    """(BANDS, WINDOW // 2 + 1) weights of the spectrum's lines."""
    lines = np.linspace(0, SAMPLE_RATE / 2, WINDOW // 2 + 1)
    highest = _KNEE + np.log(SAMPLE_RATE / 2 / _KNEE_HERTZ) / _STEP
    edges = _hertz(np.linspace(0, highest, BANDS + 2))
    low, centre, high = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    rising, falling = (lines - low) / (centre - low), (high - lines) / (high - centre)
    weights = np.maximum(0, np.minimum(rising, falling)) * 2 / (high - low)
    return weights.astype(np.float32)


def _hertz(steps: NDArray[np.float64]) -> NDArray[np.float64]:
    above = _KNEE_HERTZ * np.exp(_STEP * (steps - _KNEE))
    return np.where(steps < _KNEE, steps * _LINEAR_HERTZ, above)


def log_mel(wave: Floats) -> Floats:
    """(samples) from -1 to 1 -> (BANDS, samples // SHIFT), about -1 to 1."""
    window, weights = _tables()
    padded = np.pad(wave, WINDOW // 2, mode="reflect" if len(wave) > WINDOW // 2 else "constant")
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::SHIFT][: len(wave) // SHIFT]
    power = np.abs(np.fft.rfft(frames * window)) ** 2
    logs = np.log10(np.maximum(weights @ power.T, 1e-10))
    return np.asarray((np.maximum(logs, logs.max(initial=-10.0) - DECADES) + 4) / 4, np.float32)


def levelled(wave: Floats) -> Floats:
    """The same as loud as everything that is heard, so that the distance of the microphone does not matter."""
    loudness = max(float(np.sqrt((wave.astype(np.float64) ** 2).mean())), 1e-4) if len(wave) else 1.0
    return np.asarray(np.clip(wave * (10 ** (LOUDNESS_DB / 20) / loudness), -1, 1), np.float32)


@cache
def _tables() -> tuple[Floats, Floats]:
    turns = 2 * np.pi * np.arange(WINDOW) / WINDOW
    return (0.5 - 0.5 * np.cos(turns)).astype(np.float32), bank()
