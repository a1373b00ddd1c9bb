"""A resuscitation room around a voice: noise of suction, ventilator, monitors, machines, dropped steel and other
people, walls, masks, cheap microphones. All for many utterances at once on one device.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import torch
from torch import Tensor

from models.training.features import SAMPLE_RATE, WARPS, Mfcc

TWO_PI = 2 * math.pi
TAIL = 8192
"""Samples that a room may ring on."""


def loudness(wave: Tensor) -> Tensor:
    """Root mean square (B, 1)."""
    return wave.square().mean(-1, keepdim=True).clamp_min(1e-12).sqrt()


class Dice:
    """Random tensors on one device, the same for the same seed."""

    def __init__(self, device: torch.device, seed: int) -> None:
        self.device = device
        self._generator = torch.Generator(device=device).manual_seed(seed)

    def between(self, low: float, high: float, *size: int) -> Tensor:
        """Evenly distributed."""
        return low + (high - low) * torch.rand(*size, generator=self._generator, device=self.device)

    def normal(self, *size: int) -> Tensor:
        """Normally distributed with deviation 1."""
        return torch.randn(*size, generator=self._generator, device=self.device)

    def whole(self, high: int, *size: int) -> Tensor:
        """Whole numbers from 0 to below `high`."""
        return torch.randint(high, size, generator=self._generator, device=self.device)

    def happens(self, chance: float, *size: int) -> Tensor:
        """1 with the given chance, else 0."""
        return (self.between(0, 1, *size) < chance).float()


class Noises:
    """Clips of noise of many kinds, made once; a part of them is made anew from time to time."""

    SECONDS = 9

    def __init__(self, dice: Dice, clips: int) -> None:
        self.dice, self.samples = dice, self.SECONDS * SAMPLE_RATE
        self._kinds: tuple[Callable[[int], Tensor], ...] = (
            self.suction,
            self.gurgle,
            self.machine,
            self.coloured,
            self.monitor,
            self.alarm,
            self.ventilator,
            self.clatter,
        )
        self._each = max(1, clips // len(self._kinds))
        self.clips = torch.cat([self._made(kind) for kind in self._kinds])
        self._next = 0

    def renew(self) -> None:
        """Makes the clips of one kind anew."""
        kind, first = self._kinds[self._next], self._next * self._each
        self.clips[first : first + self._each] = self._made(kind)
        self._next = (self._next + 1) % len(self._kinds)

    def _made(self, kind: Callable[[int], Tensor]) -> Tensor:
        parts = [kind(min(64, self._each - first)) for first in range(0, self._each, 64)]
        wave = torch.cat(parts)
        return (wave / loudness(wave)).half()

    def _time(self) -> Tensor:
        return torch.arange(self.samples, device=self.dice.device)[None] / SAMPLE_RATE

    def _hertz(self) -> Tensor:
        return torch.fft.rfftfreq(self.samples, 1 / SAMPLE_RATE, device=self.dice.device)[None]

    def _shaped(self, many: int, curve: Tensor) -> Tensor:
        white = torch.fft.rfft(self.dice.normal(many, self.samples))
        return torch.fft.irfft(white * curve, self.samples)

    def _band(self, low: Tensor, high: Tensor) -> Tensor:
        hertz = self._hertz()
        return 1 / ((1 + (low / hertz.clamp_min(1)) ** 4) * (1 + (hertz / high) ** 4)).sqrt()

    def suction(self, many: int) -> Tensor:
        """A steady hiss that drifts."""
        d, t = self.dice, self._time()
        curve = self._band(d.between(120, 1000, many, 1), d.between(2500, 7500, many, 1))
        slope = (self._hertz().clamp_min(50) / 1000) ** d.between(-0.7, 0.4, many, 1)
        drift = 1 + 0.3 * torch.sin(TWO_PI * (d.between(0.1, 0.9, many, 1) * t + d.between(0, 1, many, 1)))
        return self._shaped(many, curve * slope) * drift

    def gurgle(self, many: int) -> Tensor:
        """Suction with fluid in the tube: bursts of low noise, many a second."""
        d, t = self.dice, self._time()
        low = self._shaped(many, self._band(d.between(100, 300, many, 1), d.between(600, 3000, many, 1)))
        rate = d.between(6, 40, many, 1) * (1 + 0.2 * torch.sin(TWO_PI * d.between(0.3, 2, many, 1) * t))
        bursts = (torch.sin(TWO_PI * rate * t) > d.between(-0.6, 0.6, many, 1)).float()
        swell = torch.sin(TWO_PI * (d.between(0.2, 1.5, many, 1) * t + d.between(0, 1, many, 1))).clamp_min(0)
        hiss = self.suction(many)
        return hiss / loudness(hiss) + d.between(0.5, 3, many, 1) * low / loudness(low) * bursts * swell

    def machine(self, many: int) -> Tensor:
        """Pumps, fans, warmers: resonances and the harmonics of a motor."""
        d, t, hertz = self.dice, self._time(), self._hertz()
        curve = hertz.clamp_min(30) ** -d.between(0.2, 1.1, many, 1)
        for _ in range(4):
            width, centre = d.between(40, 700, many, 1), d.between(80, 5000, many, 1)
            curve = curve * (1 + d.between(0, 5, many, 1) * torch.exp(-(((hertz - centre) / width) ** 2)))
        wave = self._shaped(many, curve)
        base, hum = d.between(45, 420, many, 1), torch.zeros(many, self.samples, device=d.device)
        for order in range(1, 9):
            phase = order * base * t + d.between(0, 1, many, 1)
            hum = hum + d.between(0, 1, many, 1) / order**0.5 * torch.sin(TWO_PI * phase)
        return wave / loudness(wave) + d.happens(0.6, many, 1) * d.between(0.1, 0.9, many, 1) * hum

    def coloured(self, many: int) -> Tensor:
        """From white to brown: rooms, streets, wind on a microphone."""
        return self._shaped(many, self._hertz().clamp_min(30) ** -self.dice.between(0, 1.2, many, 1))

    def monitor(self, many: int) -> Tensor:
        """The tone of the pulse, once a beat."""
        return self._tones(many, (0.35, 1.1), (0.06, 0.3), (400, 1300))

    def alarm(self, many: int) -> Tensor:
        """Bursts of tones with pauses between the bursts."""
        d, t = self.dice, self._time()
        burst = (t / d.between(1.0, 5, many, 1) + d.between(0, 1, many, 1)) % 1 < d.between(0.25, 0.9, many, 1)
        return self._tones(many, (0.12, 0.5), (0.3, 0.75), (250, 3200)) * burst + 1e-3 * self.coloured(many)

    def _tones(
        self, many: int, period: tuple[float, float], share: tuple[float, float], pitch: tuple[int, int]
    ) -> Tensor:
        d, t = self.dice, self._time()
        beat = t / d.between(*period, many, 1) + d.between(0, 1, many, 1)
        sounding = (beat % 1 < d.between(*share, many, 1)).float()
        step = 1 + d.between(-0.3, 0.4, many, 1) * d.happens(0.5, many, 1) * (beat.floor() % 3 > 1)
        hertz = d.between(*pitch, many, 1) * step
        wave = torch.zeros(many, self.samples, device=d.device)
        for order in (1, 2, 3, 4):
            wave = wave + d.between(0, 1, many, 1) / order * torch.sin(TWO_PI * order * hertz * t)
        return wave * sounding + 1e-3 * self.coloured(many)

    def ventilator(self, many: int) -> Tensor:
        """Breath in with a rush, out with a sigh."""
        d, t = self.dice, self._time()
        cycle, push = d.between(2, 5.5, many, 1), d.between(0.6, 1.6, many, 1)
        at = (t + d.between(0, 5, many, 1)) % cycle
        flow = torch.where(at < push, torch.sin(math.pi * at / push), 0.3 * torch.exp(-(at - push).clamp_min(0) / 0.6))
        wave = self._shaped(many, self._band(d.between(80, 250, many, 1), d.between(900, 4500, many, 1)))
        return wave * flow + 0.02 * loudness(wave) * self.coloured(many)

    def clatter(self, many: int) -> Tensor:
        """Steel in a bowl, packets torn, knocks: ringing hits now and then."""
        d = self.dice
        hits = (d.between(0, 1, many, self.samples) < d.between(0.7, 9, many, 1) / SAMPLE_RATE).float()
        hits = hits * d.normal(many, self.samples)
        t = torch.arange(4800, device=d.device)[None] / SAMPLE_RATE
        ring = sum(torch.sin(TWO_PI * d.between(500, 6500, many, 1) * t) for _ in range(3))
        ring = (ring + 0.4 * d.normal(many, 4800)) * torch.exp(-t / d.between(0.004, 0.09, many, 1))
        both = torch.fft.rfft(hits, self.samples + 4800) * torch.fft.rfft(ring, self.samples + 4800)
        wave = torch.fft.irfft(both, self.samples + 4800)[:, : self.samples]
        return wave + 0.03 * self.coloured(many)


BLOTS = ((2, 8.0, 0.5), (1, 14.0, 0.5), (1, 14.0, 0.25))
"""Axis (1 time, 2 bands), most frames or bands, chance of what is blotted out (SpecAugment, Park et al. 2019)."""


class Room:
    """Takes clean speech to what a microphone in the room gives, and to features."""

    def __init__(
        self, device: torch.device, seed: int, noise_clips: int = 2400, recorded: Tensor | None = None
    ) -> None:
        """`recorded`: clips of real noise (n, samples of `Noises`), drawn beside those that are made."""
        self.dice = Dice(device, seed)
        self.noises = Noises(self.dice, noise_clips)
        if recorded is not None:
            self.noises.clips = torch.cat([self.noises.clips, (recorded / loudness(recorded)).half().to(device)])
        self.mfcc = Mfcc(device)

    def __call__(self, wave: Tensor, speech: Tensor, babble: Tensor, snr: tuple[float, float], clean: float) -> Tensor:
        """`wave`, `speech` (1 where somebody speaks), `babble` (B, N) -> log energies of warped bands (B, T, 40)."""
        heard = self.heard(wave, speech, babble, snr, clean)
        return self.mfcc.bands(heard, self.dice.whole(WARPS, wave.shape[0]))

    def heard(self, wave: Tensor, speech: Tensor, babble: Tensor, snr: tuple[float, float], clean: float) -> Tensor:
        """The sound itself, (B, N), -1 to 1."""
        d, many = self.dice, wave.shape[0]
        wave = self._channel(wave)
        loud = ((wave * speech).square().sum(1, keepdim=True) / speech.sum(1, keepdim=True).clamp_min(1)).sqrt()
        loud = torch.where(loud > 1e-4, loud, torch.full_like(loud, 0.05))
        decibels = torch.where(d.happens(clean, many, 1) > 0, d.between(25, 50, many, 1), d.between(*snr, many, 1))
        wave = wave + self._noise(many, wave.shape[1], babble) * loud * 10 ** (-decibels / 20)
        wave = wave / loudness(wave) * 10 ** (d.between(-38, -13, many, 1) / 20)
        clipped = torch.where(d.happens(0.08, many, 1) > 0, 3 * loudness(wave), torch.ones(many, 1, device=d.device))
        return torch.maximum(torch.minimum(wave, clipped), -clipped).clamp(-1, 1)

    def _noise(self, many: int, samples: int, babble: Tensor) -> Tensor:
        """One to four sources at different levels, and other people."""
        d, clips = self.dice, self.noises.clips
        at = torch.arange(samples, device=d.device)[None]
        total = torch.zeros(many, samples, device=d.device)
        for chance in (1.0, 0.6, 0.35, 0.2):
            which, shift = d.whole(len(clips), many, 1), d.whole(clips.shape[1], many, 1)
            source = clips[which, (at + shift) % clips.shape[1]].float()
            total = total + d.happens(chance, many, 1) * d.between(0.15, 1, many, 1) * source
        people = babble / loudness(babble).clamp_min(1e-3)
        alone = d.happens(0.15, many, 1)
        talk = torch.maximum(alone, d.happens(0.4, many, 1))
        total = (1 - 0.95 * alone) * total + talk * d.between(0.2, 1.6, many, 1) * people
        return total / loudness(total)

    def _channel(self, wave: Tensor) -> Tensor:
        """Walls, a curve of the microphone, a mask or visor, a narrow band: one multiplication."""
        d = self.dice
        many, samples = wave.shape
        size = 4096 * math.ceil((samples + TAIL) / 4096)  # small factors alone: a transform of them is quick
        hertz = torch.fft.rfftfreq(size, 1 / SAMPLE_RATE, device=d.device)[None]
        ringing = 8000
        t = torch.arange(ringing, device=d.device)[None] / SAMPLE_RATE
        walls = d.normal(many, ringing) * 10 ** (-3 * t / d.between(0.1, 0.7, many, 1))
        walls[:, :48] = 0
        walls.scatter_add_(1, 16 + d.whole(480, many, 8), 3 * d.normal(many, 8))
        walls = walls / walls.square().sum(1, keepdim=True).sqrt()
        walls = walls * 10 ** (-d.between(-3, 15, many, 1) / 20) * d.happens(0.75, many, 1)
        walls[:, 0] = 1
        octaves = torch.log2(hertz.clamp_min(60) / 60) / 7 * 9
        knot = octaves.floor().long().clamp(0, 9)[0]
        part = (octaves - knot).clamp(0, 1)
        tilt = torch.linspace(-5, 5, 12, device=d.device)[None] * d.normal(many, 1) * d.happens(0.5, many, 1)
        gains = 3 * d.normal(many, 12) + tilt
        curve = gains[:, knot] * (1 - part) + gains[:, knot + 1] * part
        mask = d.happens(0.35, many, 1) * d.between(2, 14, many, 1)
        curve = curve - mask * ((hertz - 1000) / 3500).clamp(0, 1.5)
        gain = 10 ** (curve / 20)
        narrow = d.happens(0.2, many, 1) > 0
        gain = torch.where(narrow, gain / (1 + (hertz / d.between(3300, 5500, many, 1)) ** 16).sqrt(), gain)
        no_bass = d.happens(0.3, many, 1) > 0
        gain = torch.where(no_bass, gain / (1 + (d.between(60, 350, many, 1) / hertz.clamp_min(1)) ** 4).sqrt(), gain)
        return torch.fft.irfft(torch.fft.rfft(wave, size) * torch.fft.rfft(walls, size) * gain, size)[:, :samples]

    def features(self, bands: Tensor, blots: float) -> Tensor:
        """Cepstra (B, T, 40) of bands of which some, and some moments, are blotted out: `blots` times as wide as
        `BLOTS` says, 0 for not at all.
        """
        if not blots:
            return self.mfcc.cepstra(bands)
        d, many = self.dice, bands.shape[0]
        mean = bands.mean((1, 2), keepdim=True)
        for axis, widest, chance in BLOTS:
            width = d.between(0, blots * widest, many, 1) * d.happens(chance, many, 1)
            first = d.between(0, 1, many, 1) * (bands.shape[axis] - width)
            at = torch.arange(bands.shape[axis], device=d.device)[None]
            hidden = (at >= first) & (at < first + width)
            bands = torch.where(hidden[:, None] if axis == 2 else hidden[..., None], mean, bands)
        return self.mfcc.cepstra(bands)


def at_speed(wave: Tensor, speed: Tensor) -> Tensor:
    """Faster and higher (`speed` above 1, (B, 1)) by cubic interpolation; the length stays, with silence at the end."""
    samples = wave.shape[1]
    where = torch.arange(samples, device=wave.device)[None] * speed
    whole = where.floor().long()
    part = where - whole
    padded = torch.nn.functional.pad(wave, (1, 3))

    def near(step: int) -> Tensor:
        at = whole + 1 + step
        return padded.gather(1, at.clamp(0, samples + 3)) * (whole + step < samples)

    before, here, after, beyond = near(-1), near(0), near(1), near(2)
    bend = 2 * before - 5 * here + 4 * after - beyond + part * (3 * (here - after) + beyond - before)
    return here + 0.5 * part * (after - before + part * bend)
