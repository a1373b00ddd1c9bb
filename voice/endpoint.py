"""When somebody starts and stops speaking. One endpointer serves all engines, so that they hear the same segments."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from voice.audio import FRAME_BYTES, Frame
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

LONGEST_SECONDS = 12.0
"""A segment is cut here at the latest: no entry is longer, and noise that never ends must not be kept for ever."""

SHORTEST_SECONDS = 0.25
"""Shorter sounds are clicks."""


def segments(frames: Iterable[Frame]) -> Iterator[Segment]:
    """The stretches of speech in a stream of frames, in order."""
    from voice.sphinx_engine import speech_detector

    detector = speech_detector()
    speech: list[bytes] = []
    first = last = 0
    for frame in frames:
        was_speaking = detector.in_speech
        heard = detector.process(frame.pcm)
        last = frame.first_sample + len(frame.pcm) // BYTES_PER_SAMPLE
        if heard is not None:
            if not was_speaking:
                first = round(detector.speech_start * SAMPLE_RATE)
            speech.append(heard)
        if speech and (not detector.in_speech or _samples(speech) >= LONGEST_SECONDS * SAMPLE_RATE):
            yield from _segment(speech, first, last)
            first += _samples(speech)
            speech = []
    while detector.in_speech:  # it keeps the latest sounds back until it hears that nothing follows them
        heard = detector.process(bytes(FRAME_BYTES))
        if heard is not None:
            speech.append(heard)
    if speech:
        yield from _segment(speech, first, last)


def _samples(speech: list[bytes]) -> int:
    return sum(map(len, speech)) // BYTES_PER_SAMPLE


def _segment(speech: list[bytes], first: int, last: int) -> Iterator[Segment]:
    """The sound as a segment, without what was added after the end of the source; nothing if it is only a click."""
    segment = Segment(b"".join(speech)[:(last - first) * BYTES_PER_SAMPLE], first, last)
    if segment.seconds >= SHORTEST_SECONDS:
        yield segment
