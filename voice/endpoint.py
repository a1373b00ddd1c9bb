"""When somebody starts and stops speaking. One endpointer serves all engines, so that they hear the same segments.

The detector of speech takes suction and ventilator for speech that never ends. So in a room that is not quiet it is
given silence wherever the sound is not clearly above the floor of the last seconds; the segments themselves are always
cut out of the sound as it was.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator

import numpy as np

from voice.audio import FRAME_BYTES, Frame
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

LONGEST_SECONDS = 12.0
"""A segment is cut here at the latest: no entry is longer, and noise that never ends must not be kept for ever."""

SHORTEST_SECONDS = 0.25
"""Shorter sounds are clicks."""

NOISY_FLOOR_DB = -52.0
"""Floor in dB below full scale from which a room is not quiet."""

ABOVE_FLOOR_DB = 7.0
"""How far above the floor a frame has to be to count as speech in such a room."""

FLOOR_FRAMES = 133
"""The floor is the tenth percentile of the last 4 s."""

FLOOR_FROM_FRAMES = 15
"""Before that there is no floor to speak of."""

HOLD_FRAMES = 8
"""Soft sounds between loud ones belong to the speech: what follows a loud frame within 0.24 s is kept."""

PRE_ROLL_SAMPLES = 3200
"""0.2 s: soft first sounds that lie under the threshold in a room that is not quiet."""


class NoiseFloor:
    """Tells, frame by frame, whether there is anything above the noise of the room."""

    def __init__(self) -> None:
        self._levels: deque[float] = deque(maxlen=FLOOR_FRAMES)
        self._held = 0

    @property
    def noisy(self) -> bool:
        """Whether the room is not quiet."""
        return len(self._levels) >= FLOOR_FROM_FRAMES and self._floor() > NOISY_FLOOR_DB

    def hears_only_noise(self, pcm: bytes) -> bool:
        """Takes the next frame; True if it is no more than the noise of a room that is not quiet."""
        self._levels.append(level_db(pcm))
        if not self.noisy:
            self._held = 0
            return False
        recent = list(self._levels)[-3:]
        loud = sum(level > self._floor() + ABOVE_FLOOR_DB for level in recent) >= 2
        self._held = HOLD_FRAMES if loud else max(self._held - 1, 0)
        return self._held == 0

    def _floor(self) -> float:
        return float(np.percentile(self._levels, 10))


def level_db(pcm: bytes) -> float:
    """Level of a frame in dB below full scale, -100 for silence."""
    sound = np.frombuffer(pcm, dtype="<i2").astype(np.float64) / 32768
    return float(10 * np.log10(np.mean(sound**2) + 1e-10))


class Endpointer:
    """Frames in, stretches of speech out. Frames have to follow each other; after a gap, a new one begins."""

    def __init__(self, first_sample: int = 0) -> None:
        """`first_sample`: that of the first frame, on the clock of the source."""
        from voice.sphinx_engine import speech_detector

        self._detector, self._floor, self._past = speech_detector(), NoiseFloor(), _Past(first_sample)
        self._base = first_sample
        self._first = first_sample
        self._spoken = 0
        self._last = first_sample

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking."""
        return self._spoken > 0

    def so_far(self) -> Segment | None:
        """What has been heard of the present stretch of speech."""
        return self._segment() if self._spoken else None

    def push(self, frame: Frame) -> Segment | None:
        """Takes the next frame; gives a stretch of speech when it is over."""
        detector, floor = self._detector, self._floor
        self._past.add(frame.pcm)
        self._last = frame.first_sample + len(frame.pcm) // BYTES_PER_SAMPLE
        was_speaking = detector.in_speech
        heard = detector.process(bytes(FRAME_BYTES) if floor.hears_only_noise(frame.pcm) else frame.pcm)
        if heard is None:
            return None
        if not was_speaking:
            earlier = PRE_ROLL_SAMPLES if floor.noisy else 0
            begins = self._base + round(detector.speech_start * SAMPLE_RATE)
            self._spoken = min(earlier, max(begins - self._first - self._spoken, 0))
            self._first = begins - self._spoken
        self._spoken += len(heard) // BYTES_PER_SAMPLE
        return self._ended() if not detector.in_speech or self._spoken >= LONGEST_SECONDS * SAMPLE_RATE else None

    def flush(self) -> Segment | None:
        """The stretch of speech in which the source ended, if there is one."""
        while self._detector.in_speech:  # it keeps the latest sounds back until it hears that nothing follows them
            heard = self._detector.process(bytes(FRAME_BYTES))
            self._spoken += len(heard) // BYTES_PER_SAMPLE if heard is not None else 0
        self._spoken = min(self._spoken, self._last - self._first)
        return self._ended() if self._spoken else None

    def _ended(self) -> Segment | None:
        segment = self._segment()
        self._first, self._spoken = self._first + self._spoken, 0
        return segment if segment.seconds >= SHORTEST_SECONDS else None

    def _segment(self) -> Segment:
        return Segment(self._past.cut(self._first, self._spoken), self._first, self._last)


def segments(frames: Iterable[Frame]) -> Iterator[Segment]:
    """The stretches of speech in a stream of frames, in order."""
    endpointer = Endpointer()
    for frame in frames:
        segment = endpointer.push(frame)
        if segment is not None:
            yield segment
    last = endpointer.flush()
    if last is not None:
        yield last


class _Past:
    """The sound of the last seconds as it was."""

    def __init__(self, first_sample: int) -> None:
        self._pcm = bytearray()
        self._dropped = first_sample * BYTES_PER_SAMPLE
        """Bytes of the source before what is here."""

    def add(self, pcm: bytes) -> None:
        self._pcm += pcm
        longest = round(2 * LONGEST_SECONDS * SAMPLE_RATE) * BYTES_PER_SAMPLE
        if len(self._pcm) > 2 * longest:
            self._dropped += len(self._pcm) - longest
            del self._pcm[:-longest]

    def cut(self, first: int, samples: int) -> bytes:
        start = first * BYTES_PER_SAMPLE - self._dropped
        return bytes(self._pcm[start : start + samples * BYTES_PER_SAMPLE])
