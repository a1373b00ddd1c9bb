"""When somebody starts and stops speaking. One endpointer serves all engines, so that they hear the same segments."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from voice.audio import Frame
from voice.detector import CHUNK_SAMPLES, speech_detector
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

LONGEST_SECONDS = 12.0
"""A segment is cut here at the latest: no entry is longer, and noise that never ends must not be kept for ever."""

SHORTEST_SECONDS = 0.25
"""Shorter sounds are clicks."""

SPEECH_FROM, SPEECH_UNTIL = 0.5, 0.1
"""Probability of speech with which it begins, and below which it may have ended."""

BEGINS_CHUNKS = 3
"""Chunks of speech in a row with which it begins: less is a click."""

ENDS_SECONDS = 0.4
"""Silence that ends it: longer than the pause between two words of an entry."""

BEFORE_SECONDS = 0.3
"""Kept from before the first chunk: soft first sounds, which the detector hears late."""

AFTER_SECONDS = 0.2
"""Kept of the silence that ended it."""

SILENT_DB = -70.0
"""Below this nobody is speaking, and the detector need not be asked."""

CHUNK_BYTES = CHUNK_SAMPLES * BYTES_PER_SAMPLE


def level_db(pcm: bytes) -> float:
    """Level of a frame in dB below full scale, -100 for silence."""
    sound = np.frombuffer(pcm, dtype="<i2").astype(np.float64) / 32768
    return float(10 * np.log10(np.mean(sound**2) + 1e-10))


class Endpointer:
    """Frames in, stretches of speech out. Frames have to follow each other; after a gap, a new one begins."""

    def __init__(self, first_sample: int = 0) -> None:
        """`first_sample`: that of the first frame, on the clock of the source."""
        self._detector = speech_detector()
        self._sound = _Sound(first_sample)
        self._chunk_at = first_sample
        """First sample that the detector has not heard."""
        self._free_from = first_sample
        """Before this everything belongs to an earlier segment."""
        self._speaking = 0
        self._silent = 0
        self._began: int | None = None

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking."""
        return self._began is not None

    @property
    def quiet_seconds(self) -> float:
        """For how long nothing more has been said, while it is not sure yet that the speech is over."""
        return self._silent * CHUNK_SAMPLES / SAMPLE_RATE

    def so_far(self) -> Segment | None:
        """What has been heard of the present stretch of speech."""
        return None if self._began is None else self._segment(self._began, self._sound.end)

    def perhaps_over(self) -> Segment | None:
        """The stretch of speech that comes next if nothing more is said: known before it is sure that it is over."""
        if self._began is None or self.quiet_seconds < AFTER_SECONDS:
            return None
        return self._segment(self._began, self._last_kept())

    def push(self, frame: Frame) -> Segment | None:
        """Takes the next frame; gives a stretch of speech when it is over."""
        self._sound.add(frame.pcm)
        ended = None
        while self._chunk_at + CHUNK_SAMPLES <= self._sound.end:
            chunk = self._sound.cut(self._chunk_at, self._chunk_at + CHUNK_SAMPLES)
            self._chunk_at += CHUNK_SAMPLES
            silent = level_db(chunk) < SILENT_DB
            ended = self._heard(0.0 if silent else self._detector.process_chunk(chunk)) or ended
        return ended

    def flush(self) -> Segment | None:
        """The stretch of speech in which the source ended, if there is one."""
        return self._ended(self._sound.end) if self._began is not None else None

    def _heard(self, probability: float) -> Segment | None:
        if self._began is None:
            self._speaking = self._speaking + 1 if probability > SPEECH_FROM else 0
            if self._speaking == BEGINS_CHUNKS:
                before = BEGINS_CHUNKS * CHUNK_SAMPLES + round(BEFORE_SECONDS * SAMPLE_RATE)
                self._began = max(self._chunk_at - before, self._free_from)
            return None
        self._silent = self._silent + 1 if probability < SPEECH_UNTIL else 0
        too_long = self._chunk_at - self._began >= LONGEST_SECONDS * SAMPLE_RATE
        if self.quiet_seconds >= ENDS_SECONDS:
            return self._ended(self._last_kept())
        return self._ended(self._chunk_at) if too_long else None

    def _last_kept(self) -> int:
        return self._chunk_at - round((self.quiet_seconds - AFTER_SECONDS) * SAMPLE_RATE)

    def _ended(self, end: int) -> Segment | None:
        assert self._began is not None
        segment = self._segment(self._began, end)
        self._free_from, self._began, self._speaking, self._silent = end, None, 0, 0
        return segment if segment.seconds >= SHORTEST_SECONDS else None

    def _segment(self, first: int, end: int) -> Segment:
        return Segment(self._sound.cut(first, end), first, self._sound.end)


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


class _Sound:
    """The sound of the last seconds; places in it are samples on the clock of the source."""

    def __init__(self, first_sample: int) -> None:
        self._pcm = bytearray()
        self._first = first_sample

    @property
    def end(self) -> int:
        """The sample after the last."""
        return self._first + len(self._pcm) // BYTES_PER_SAMPLE

    def add(self, pcm: bytes) -> None:
        """Takes more, and forgets what is too old to be asked for."""
        self._pcm += pcm
        longest = round(2 * LONGEST_SECONDS * SAMPLE_RATE) * BYTES_PER_SAMPLE
        if len(self._pcm) > 2 * longest:
            self._first += (len(self._pcm) - longest) // BYTES_PER_SAMPLE
            del self._pcm[:-longest]

    def cut(self, first: int, end: int) -> bytes:
        """From one sample to before another."""
        return bytes(self._pcm[(first - self._first) * BYTES_PER_SAMPLE : (end - self._first) * BYTES_PER_SAMPLE])
