"""Can the room be heard at all? Two seconds of silence and one spoken phrase show it before anything depends on it.

Pure measurement: frames in, a verdict and one sentence of advice out. All thresholds are our own (tag: derived).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np

from voice.sound.audio import Frame
from voice.sound.segment import SAMPLE_RATE

NOISE_SECONDS = 2.0
"""Seconds of silence, for the noise of the room."""

ROOM_NOISE_SECONDS = 1.5
"""The same where the room is listened to already, or is about to be."""

HELD_FRAMES = 15
"""0.45 s: so much later at most it is known that somebody has begun to speak."""

LISTEN_SECONDS = 6.0
"""Seconds within which the phrase has to be said."""

PAUSE_SECONDS = 0.9
"""Seconds of quiet after which the phrase is over."""

SPOKEN_SECONDS = 0.4
"""Less than this above the noise is a cough or a click: "stomach silent" takes 0.9 s."""

ABOVE_NOISE_DB = 7.0
"""From here on a frame counts as speech; the endpointer's own figure."""

LEAST_SNR_DB = 20.0
"""tests/bench/README.md: of the entries said in silence 14 % are missed, at 20 dB 44 %, at 10 dB 70 %."""

GOOD_SNR_DB = 30.0
"""Up to here speech is usable, but nearer to the 44 % than to the 14 %."""

QUIETEST_SPEECH_DB = -45.0
"""The shipped clip loses its first sounds to the endpointer below -51 dB; 6 dB are kept for softer speakers."""

LOUDEST_NOISE_DB = -45.0
"""If no speech stands out of more noise than this, it is not known whether anybody spoke."""

CLIPPED_SHARE = 0.001
"""Samples at full scale among those of speech, from which vowels are cut flat; our guess, not measured."""

FULL_SCALE = 32_767
SILENCE_DB = -100.0

Verdict = Literal["good", "too quiet", "too noisy", "clipped", "nothing heard"]
Phase = Literal["silence", "speech", "done"]


@dataclass(frozen=True, slots=True)
class Level:
    """Loudness of a frame."""

    rms_db: float
    """Root mean square in dB below full scale, -100 for silence."""
    peak: float
    """Largest sample, 0 to 1 of full scale."""
    clipped: int
    """Samples at full scale."""


def level(pcm: bytes) -> Level:
    """The level of 16-bit mono sound."""
    sound = np.frombuffer(pcm, "<i2").astype(np.int32)
    if not len(sound):
        return Level(SILENCE_DB, 0.0, 0)
    size = np.abs(sound)
    return Level(_db(float(np.mean((sound / 32768) ** 2))), float(size.max()) / 32768, int(np.sum(size >= FULL_SCALE)))


@dataclass(frozen=True, slots=True)
class SoundCheckResult:
    """The measurement. Levels in dB below full scale."""

    verdict: Verdict
    noise_db: float
    speech_db: float | None
    """Of the loud frames of the phrase; None if nothing was said."""
    snr_db: float | None
    """Power of the speech without the noise over power of the noise."""
    clipped: float
    """Share of the samples of speech at full scale."""
    advice: str
    """Advice, in one sentence."""


class SoundCheck:
    """Takes frames; `phase` says what the room has to do, `done` when the result is there."""

    def __init__(self, noise_seconds: float = NOISE_SECONDS) -> None:
        self.level = Level(SILENCE_DB, 0.0, 0)
        """Level of the last frame, for a meter."""
        self._noise_wanted = noise_seconds
        self._noise_clipped = 0
        self._noise: list[float] = []
        self._noise_seconds = 0.0
        self._listened = 0.0
        self._quiet = 0.0
        self._speech: list[float] = []
        self._speech_seconds = 0.0
        self._clipped = 0
        self._samples = 0

    @property
    def phase(self) -> Phase:
        """The current phase of the measurement."""
        if self._noise_seconds < self._noise_wanted:
            return "silence"
        spoken = self.spoken and self._quiet >= PAUSE_SECONDS
        return "done" if spoken or self._listened >= LISTEN_SECONDS else "speech"

    def push(self, frame: Frame) -> Phase:
        """Takes the next frame; gives the phase in which the check is then."""
        self.level = level(frame.pcm)
        samples = len(frame.pcm) // 2
        seconds, power = samples / SAMPLE_RATE, 10 ** (self.level.rms_db / 10)
        if self.phase == "silence":
            self._noise.append(power)
            self._noise_seconds += seconds
            self._noise_clipped += self.level.clipped
        elif self.phase == "speech":
            self._listened += seconds
            if self.level.rms_db > self.noise_db + ABOVE_NOISE_DB:
                self._speech.append(power)
                self._speech_seconds += seconds
                self._clipped += self.level.clipped
                self._samples += samples
                self._quiet = 0.0
            else:
                self._quiet += seconds
        return self.phase

    @property
    def noise_db(self) -> float:
        """Mean level of the silence so far."""
        return _db(float(np.mean(self._noise))) if self._noise else SILENCE_DB

    @property
    def spoken(self) -> bool:
        """Whether enough was said to judge it."""
        return self._speech_seconds >= SPOKEN_SECONDS

    def of_the_noise(self) -> SoundCheckResult:
        """The verdict on the noise alone, before anybody has spoken."""
        noise = self.noise_db
        clipped = self._noise_clipped / max(1.0, self._noise_seconds * SAMPLE_RATE)
        if noise <= SILENCE_DB + 1:
            return SoundCheckResult("nothing heard", noise, None, None, 0.0, NO_SOUND)
        verdict: Verdict = "clipped" if clipped > CLIPPED_SHARE else "too noisy" if noise > LOUDEST_NOISE_DB else "good"
        return SoundCheckResult(
            verdict, noise, None, None, clipped, ADVICE[verdict] if verdict != "good" else QUIET_ENOUGH
        )

    def result(self) -> SoundCheckResult:
        """The measurement until now; before it is done a phrase that has not come counts as not said."""
        noise = self.noise_db
        if not self.spoken:
            verdict: Verdict = "too noisy" if noise > LOUDEST_NOISE_DB else "nothing heard"
            advice = ADVICE[verdict] if noise > SILENCE_DB + 1 else NO_SOUND
            return SoundCheckResult(verdict, noise, None, None, 0.0, advice)
        power, quiet = float(np.mean(self._speech)), 10 ** (noise / 10)
        snr = min(_db(max(power - quiet, 1e-12), floor=1e-12) - noise, -SILENCE_DB)
        clipped = self._clipped / self._samples
        speech = _db(power)
        verdict = _verdict(speech, snr, clipped)
        advice = ADVICE[verdict] if verdict != "good" or snr >= GOOD_SNR_DB else USABLE
        return SoundCheckResult(verdict, noise, speech, snr, clipped, advice)


ADVICE: dict[Verdict, str] = {
    "good": "You are heard well: begin.",
    "too quiet": "Bring the microphone nearer to the mouth, or turn up its level in the system's sound settings.",
    "too noisy": "Bring the microphone within a hand of the mouth, away from suction and ventilator, or use a headset.",
    "clipped": "Turn down the microphone's level in the system's sound settings, or hold it a little further off.",
    "nothing heard": "Say a phrase when you are asked to; if you did, choose the right microphone: tamponade devices.",
}

USABLE = "You are heard, but noise will cost entries: bring the microphone nearer to the mouth if you can."
QUIET_ENOUGH = "The room is quiet enough; the first entry will show how well you are heard."
NO_SOUND = "Not even noise comes from this microphone: unmute it, or choose another one: tamponade devices."


class RoomCheck:
    """The same from what is heard anyway: the first quiet stretch is the noise, the first utterance is the phrase."""

    def __init__(self) -> None:
        self._check = SoundCheck(ROOM_NOISE_SECONDS)
        self._held: deque[Frame] = deque()
        self._speaking = self._done = False

    def push(self, frame: Frame, in_speech: bool) -> SoundCheckResult | None:
        """Takes the next frame and whether somebody is speaking; gives a result when there is one: first of the
        noise, then of the first utterance.
        """
        if self._done:
            return None
        self._held.append(frame)
        return self._noise(in_speech) if self._check.phase == "silence" else self._speech(in_speech)

    def _noise(self, in_speech: bool) -> SoundCheckResult | None:
        if in_speech:
            self._held.clear()  # the first sounds come before it is known that somebody speaks
        elif len(self._held) > HELD_FRAMES and self._check.push(self._held.popleft()) != "silence":
            return self._check.of_the_noise()
        return None

    def _speech(self, in_speech: bool) -> SoundCheckResult | None:
        if in_speech:
            self._speaking = True
            while self._held:
                self._check.push(self._held.popleft())
        elif len(self._held) > HELD_FRAMES:
            self._held.popleft()
        self._done = self._check.phase == "done" or (self._speaking and not in_speech and self._check.spoken)
        return self._check.result() if self._done else None


def _verdict(speech_db: float, snr_db: float, clipped: float) -> Verdict:
    """The first thing that has to be put right."""
    if clipped > CLIPPED_SHARE:
        return "clipped"
    if speech_db < QUIETEST_SPEECH_DB:
        return "too quiet"
    return "too noisy" if snr_db < LEAST_SNR_DB else "good"


def _db(power: float, floor: float = 10 ** (SILENCE_DB / 10)) -> float:
    return float(10 * np.log10(max(power, floor)))
