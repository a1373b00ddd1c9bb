"""The features that vosk computes from sound, computed for many utterances at once: Kaldi's MFCC (40 mel bands 20 to
7600 Hz, 40 coefficients, Povey window, pre-emphasis 0.97, lifter 22, no dither, whole frames only).

Differences from a reference implementation are below 0.01 (tests/models/test_training.py).
"""

from __future__ import annotations

import math

import torch
from torch import Tensor

SAMPLE_RATE, WINDOW, SHIFT, FFT = 16_000, 400, 160, 512
BANDS, LOW, HIGH = 40, 20.0, 7600.0
PRE_EMPHASIS, LIFTER = 0.97, 22.0
FULL_SCALE = 32768.0
SMALLEST = 1.1920929e-07
WARPS = 25
"""Steps of vocal tract length between the shortest and the longest."""

LONGEST_WARP = 1.16


def mel(hertz: Tensor | float) -> Tensor:
    """Kaldi's mel scale."""
    return 1127.0 * torch.log1p(torch.as_tensor(hertz, dtype=torch.float64) / 700.0)


def filters(warp: float = 1.0) -> Tensor:
    """(257, 40): the mel bands, for a vocal tract `warp` times as long. Frequencies are warped up to 6 kHz in
    proportion and from there so that the upper edge stays.
    """
    edges = torch.linspace(float(mel(LOW)), float(mel(HIGH)), BANDS + 2, dtype=torch.float64)
    hertz = torch.arange(FFT // 2 + 1, dtype=torch.float64) * SAMPLE_RATE / FFT
    knee = 6000.0 / max(warp, 1.0)
    upper = HIGH - (HIGH - warp * knee) / (HIGH - knee) * (HIGH - hertz)
    bins = mel(torch.where((hertz < knee) | (hertz > HIGH), hertz * warp if warp != 1.0 else hertz, upper))
    rising = (bins[:, None] - edges[None, :-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[None, 2:] - bins[:, None]) / (edges[2:] - edges[1:-1])
    bank = torch.minimum(rising, falling).clamp_min(0)
    bank[FFT // 2] = 0
    return bank.float()


class Mfcc:
    """Waves (B, N), full scale 1, to features (B, T, 40) on one device."""

    def __init__(self, device: torch.device) -> None:
        n = torch.arange(WINDOW, dtype=torch.float64)
        self._window = (0.5 - 0.5 * torch.cos(2 * math.pi * n / (WINDOW - 1))).pow(0.85).float().to(device)
        warps = torch.linspace(1 / LONGEST_WARP, LONGEST_WARP, WARPS)
        self._banks = torch.stack([filters(float(warp)) for warp in warps]).to(device)
        self._bank = filters().to(device)
        k = torch.arange(BANDS, dtype=torch.float64)
        cosine = torch.cos(math.pi / BANDS * (k[None] + 0.5) * k[:, None]) * math.sqrt(2 / BANDS)
        cosine[0] = math.sqrt(1 / BANDS)
        lifter = 1 + 0.5 * LIFTER * torch.sin(math.pi * k / LIFTER)
        self._cosine = (cosine * lifter[:, None]).float().T.contiguous().to(device)

    def bands(self, wave: Tensor, warp: Tensor | None = None) -> Tensor:
        """Log energies (B, T, 40); `warp` (B) numbers the vocal tract length, 0 to WARPS - 1."""
        frames = (wave * FULL_SCALE).round().clamp(-FULL_SCALE, FULL_SCALE - 1).unfold(-1, WINDOW, SHIFT)
        frames = frames - frames.mean(-1, keepdim=True)
        before = torch.cat([frames[..., :1], frames[..., :-1]], -1)
        power = torch.fft.rfft((frames - PRE_EMPHASIS * before) * self._window, FFT).abs().square()
        return (power @ (self._bank if warp is None else self._banks[warp])).clamp_min(SMALLEST).log()

    def cepstra(self, bands: Tensor) -> Tensor:
        """(B, T, 40) from log energies."""
        return bands @ self._cosine

    def __call__(self, wave: Tensor) -> Tensor:
        return self.cepstra(self.bands(wave))
