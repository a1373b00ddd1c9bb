"""Where somebody starts and stops speaking. One endpointer serves all engines, so that they hear the same segments.

The detector of speech alone decides, and suction leaves it unmoved. People talking behind the speaker do not: a
stretch longer than any entry is measured once more, with its level as well, and so is what follows until the detector
hears silence. Using the level from the start of every stretch would cut soft endings. A word that the detector half
heard just before speech belongs to it: "five five" was logged as "five" because the detector slept through the first.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Iterator

import numpy as np

from log.facts.note_taking import LONGEST_STRETCH
from voice.sound.audio import Frame
from voice.sound.detector import CHUNK_SAMPLES, speech_detector
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

LONGEST_SECONDS = LONGEST_STRETCH.total_seconds()
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

HALF_HEARD_SECONDS = 1.5
"""A word that the detector only half heard may lie so far back, with no pause longer than BEFORE_SECONDS after it:
"five five" must not become "five"."""

HALF_HEARD_FROM = 0.2
"""Probability of speech in such a word."""

HALF_HEARD_DB = 8.0
"""Such a word is hardly fainter than the speech that follows: not as talk in the background is."""

AFTER_SECONDS = 0.2
"""Kept of the silence that ended it."""

SILENT_DB = -70.0
"""Below this nobody is speaking, and the detector need not be asked."""

ENDS_CHUNKS = math.ceil(ENDS_SECONDS * SAMPLE_RATE / CHUNK_SAMPLES)

CROWDED_SECONDS = 5.0
"""No entry is longer; a stretch that is has other people in it. Chosen on the development clips and sessions."""

FADES_DB = 14.0
"""Below the loudest of a stretch: whoever spoke is silent, and what is heard is behind them."""

RISES_DB = 10.0
"""Above the talk so far: somebody nearer begins."""

LOUDER_CHUNKS = 4
TALK_CHUNKS = 6
"""Chunks of talk before somebody nearer can be distinguished from it."""


def level_db(pcm: bytes) -> float:
    """Level of a frame in dB below full scale, -100 for silence."""
    sound = np.frombuffer(pcm, dtype="<i2").astype(np.float64)
    return 10 * math.log10(float(sound @ sound) / sound.size / 32768**2 + 1e-10)


class Endpointer:
    """Frames in, stretches of speech out. Frames have to follow each other; after a gap, a new one begins.

    Ordinarily the detector alone says when speech begins and ends. With people talking behind the speaker it hears
    speech without end; an entry is then only louder than the talk behind it, so from a stretch on that is longer
    than any entry the level counts as well, until the detector hears silence again.
    """

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
        self._before: deque[tuple[float, float]] = deque(maxlen=round(HALF_HEARD_SECONDS * SAMPLE_RATE / CHUNK_SAMPLES))
        """Probability and level of the last chunks in which nobody was speaking."""
        self._began: int | None = None
        self._levels = Levels()
        self._since: list[tuple[float, float]] = []
        """Probability and level of each chunk since the speech began."""
        self._crowded = False
        """Whether somebody else talks all the time, so that the level counts."""
        self._unbroken = 0
        """Chunks in a row in which the detector heard nobody."""
        self._ready: deque[Segment] = deque()

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking."""
        return self._began is not None

    @property
    def quiet_seconds(self) -> float:
        """For how long nothing more has been said, while it is not sure yet that the speech is over."""
        return self._silent * CHUNK_SAMPLES / SAMPLE_RATE

    def so_far(self) -> Segment | None:
        """The present stretch of speech so far."""
        return None if self._began is None else self._segment(self._began, self._sound.end)

    def perhaps_over(self) -> Segment | None:
        """The stretch of speech that comes next if nothing more is said: known before it is sure that it is over."""
        if self._began is None or self.quiet_seconds < AFTER_SECONDS:
            return None
        return self._segment(self._began, self._last_kept(self._chunk_at))

    def push(self, frame: Frame) -> Segment | None:
        """Takes the next frame; gives a stretch of speech when one is over, the oldest first."""
        self._sound.add(frame.pcm)
        while self._chunk_at + CHUNK_SAMPLES <= self._sound.end:
            chunk = self._sound.cut(self._chunk_at, self._chunk_at + CHUNK_SAMPLES)
            self._chunk_at += CHUNK_SAMPLES
            level = level_db(chunk)
            self._heard(0.0 if level < SILENT_DB else self._detector.process_chunk(chunk), level, self._chunk_at)
        return self._ready.popleft() if self._ready else None

    def end(self) -> Segment | None:
        """Ends what is perhaps over at once: it is known that nothing more will be said."""
        if self.perhaps_over() is not None:
            self._end(self._last_kept(self._chunk_at))
        return self._ready.popleft() if self._ready else None

    def flush(self) -> Segment | None:
        """The stretches of speech that were left when the source ended, one at a time; None when there are no more."""
        if not self._ready and self._began is not None:
            self._end(self._sound.end)
        return self._ready.popleft() if self._ready else None

    def _heard(self, probability: float, level: float, at: int) -> None:
        """One chunk, which ends before the sample `at`."""
        self._unbroken = self._unbroken + 1 if probability < SPEECH_UNTIL else 0
        if self._unbroken >= ENDS_CHUNKS:
            self._crowded = False
        smooth = self._levels.smoothed(level)
        if self._began is None:
            self._speaking = self._speaking + 1 if probability > SPEECH_FROM else 0
            self._before.append((probability, level))
            if self._speaking == BEGINS_CHUNKS:
                self._begin(at - self._half_heard() * CHUNK_SAMPLES, smooth)
            return
        self._since.append((probability, level))
        quiet = probability < SPEECH_UNTIL or (self._crowded and self._levels.faded(smooth))
        self._silent = self._silent + 1 if quiet else 0
        if self._crowded and not quiet and self._levels.rises_above_talk(smooth):
            self._end(at - LOUDER_CHUNKS * CHUNK_SAMPLES - round(BEFORE_SECONDS * SAMPLE_RATE))
            self._begin(at - LOUDER_CHUNKS * CHUNK_SAMPLES, smooth)
            return
        self._levels.speech(smooth, quiet)
        seconds = (at - self._began) / SAMPLE_RATE
        if self._silent >= ENDS_CHUNKS:
            self._end(self._last_kept(at))
        elif seconds >= LONGEST_SECONDS:
            self._end(at)
        elif seconds >= CROWDED_SECONDS and not self._crowded:
            self._listen_again(at)

    def _half_heard(self) -> int:
        """Chunks since it began, with words before it that the detector was not sure of."""
        chunks = list(self._before)[::-1]
        loud = max(level for _, level in chunks[:BEGINS_CHUNKS]) - HALF_HEARD_DB
        first = BEGINS_CHUNKS
        for ago, (probability, level) in enumerate(chunks, start=1):
            if (ago - first) * CHUNK_SAMPLES > BEFORE_SECONDS * SAMPLE_RATE:
                break
            if probability > HALF_HEARD_FROM and level > loud:
                first = max(first, ago)
        return first

    def _begin(self, first: int, level: float) -> None:
        self._began = max(first - round(BEFORE_SECONDS * SAMPLE_RATE), self._free_from)
        self._since, self._silent = [], 0
        self._before.clear()
        self._levels.begins(level)

    def _listen_again(self, at: int) -> None:
        """No entry is so long: the same stretch once more, with the level as well."""
        assert self._began is not None
        self._crowded = True
        again, first = self._since, at - len(self._since) * CHUNK_SAMPLES
        self._since, self._silent, self._unbroken = [], 0, 0
        self._levels.begins(again[0][1])
        for number, (probability, level) in enumerate(again, start=1):
            self._heard(probability, level, first + number * CHUNK_SAMPLES)

    def _last_kept(self, at: int) -> int:
        return at - round((self.quiet_seconds - AFTER_SECONDS) * SAMPLE_RATE)

    def _end(self, end: int) -> None:
        assert self._began is not None
        segment = self._segment(self._began, max(end, self._began))
        self._free_from, self._began, self._speaking, self._silent = max(end, self._began), None, 0, 0
        if segment.seconds >= SHORTEST_SECONDS:
            self._ready.append(segment)

    def _segment(self, first: int, end: int) -> Segment:
        return Segment(self._sound.cut(first, end), first, self._sound.end)


class Levels:
    """Loudness of the present stretch of speech: in dB of full scale, smoothed over LOUDER_CHUNKS chunks."""

    def __init__(self) -> None:
        self._last: deque[float] = deque(maxlen=LOUDER_CHUNKS)
        self._loudest = SILENT_DB
        self._heard: list[float] = []

    def smoothed(self, level: float) -> float:
        """With the chunks before it: the mean of their power."""
        self._last.append(level)
        return 10 * math.log10(sum(10 ** (one / 10) for one in self._last) / len(self._last))

    def begins(self, level: float) -> None:
        """A stretch of speech begins, as loud as this."""
        self._loudest, self._heard = level, []

    def speech(self, level: float, quiet: bool) -> None:
        """It goes on."""
        self._heard.append(level)
        if not quiet:
            self._loudest = max(self._loudest, level)

    def faded(self, level: float) -> bool:
        """Whether this is so much fainter than the loudest that the one who spoke is silent."""
        return level < self._loudest - FADES_DB

    def rises_above_talk(self, level: float) -> bool:
        """Whether somebody much nearer than all that was heard so far has begun."""
        before = sorted(self._heard[:-LOUDER_CHUNKS])
        if len(before) < TALK_CHUNKS:
            return False
        talk = before[len(before) * 4 // 5]
        return min(level, self._heard[-1]) > talk + RISES_DB


def segments(frames: Iterable[Frame]) -> Iterator[Segment]:
    """The stretches of speech in a stream of frames, in order."""
    endpointer = Endpointer()
    for frame in frames:
        segment = endpointer.push(frame)
        if segment is not None:
            yield segment
    while (last := endpointer.flush()) is not None:
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
