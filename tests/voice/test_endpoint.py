"""What somebody says in one breath is one segment, whole, and with the time at which it was said."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest

from voice.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.endpoint import LONGEST_SECONDS, SHORTEST_SECONDS, segments
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

BEGINS, ENDS = 0.63, 2.21
"""Seconds of the clip between which somebody speaks."""

NEAR = 0.3
"""Seconds: the window in which the detector makes up its mind."""


def silence(seconds: float) -> bytes:
    return bytes(round(seconds * SAMPLE_RATE) * BYTES_PER_SAMPLE)


def noise(seconds: float, level: float) -> bytes:
    wave = np.random.default_rng(7).normal(0, level, round(seconds * SAMPLE_RATE))
    return bytes(np.clip(wave, -32768, 32767).astype("<i2").tobytes())


def cut(pcm: bytes, begins: float, ends: float) -> bytes:
    return pcm[round(begins * SAMPLE_RATE) * BYTES_PER_SAMPLE : round(ends * SAMPLE_RATE) * BYTES_PER_SAMPLE]


def frames(pcm: bytes) -> Iterator[Frame]:
    pcm += bytes(-len(pcm) % FRAME_BYTES)
    for start in range(0, len(pcm), FRAME_BYTES):
        yield Frame(pcm[start : start + FRAME_BYTES], start // BYTES_PER_SAMPLE)


def found(pcm: bytes) -> list[Segment]:
    """The segments, each of which is exactly what the source holds at its place."""
    heard = list(segments(frames(pcm)))
    padded = pcm + bytes(-len(pcm) % FRAME_BYTES)
    for segment in heard:
        start = segment.first_sample * BYTES_PER_SAMPLE
        assert segment.pcm == padded[start : start + len(segment.pcm)]
        assert start + len(segment.pcm) <= segment.overheard_until * BYTES_PER_SAMPLE <= len(padded)
    return heard


@pytest.mark.parametrize("before", [0.0, 1.0, 1.98, 7.5])
def test_one_utterance_is_one_segment_at_the_time_it_was_said(clip_pcm: bytes, before: float) -> None:
    (segment,) = found(silence(before) + clip_pcm + silence(1))

    assert segment.start == pytest.approx(before + BEGINS, abs=NEAR)
    assert segment.end == pytest.approx(before + ENDS, abs=NEAR)
    assert segment.start <= before + BEGINS
    assert segment.end >= before + ENDS
    assert segment.overheard_until / SAMPLE_RATE == pytest.approx(segment.end, abs=NEAR + 0.03)


def test_two_utterances_with_a_pause_of_a_second_are_two_segments(clip_pcm: bytes) -> None:
    said = cut(clip_pcm, BEGINS, ENDS)
    first, second = found(silence(1) + said + silence(1) + said + silence(1))
    assert first.start == pytest.approx(1, abs=NEAR)
    assert second.start == pytest.approx(1 + ENDS - BEGINS + 1, abs=NEAR)


def test_in_a_room_that_is_not_quiet_each_utterance_is_a_segment_and_keeps_its_first_sounds(clip_pcm: bytes) -> None:
    gap, said = silence(3), cut(clip_pcm, BEGINS, ENDS)
    quiet = gap + said + gap + said + gap
    room = np.frombuffer(quiet, "<i2").astype(int) + np.frombuffer(noise(len(quiet) / 32_000, level=200), "<i2")
    heard = found(np.clip(room, -32768, 32767).astype("<i2").tobytes())

    assert [segment.start for segment in heard] == pytest.approx([3, 6 + ENDS - BEGINS], abs=2 * NEAR)
    assert heard[0].start <= 3
    assert heard[1].start <= 6 + ENDS - BEGINS


def test_what_is_said_up_to_the_end_of_the_recording_is_heard_to_the_end(clip_pcm: bytes) -> None:
    """The detector holds the latest sounds back; they must not be lost with the end of the file."""
    pcm = silence(1) + cut(clip_pcm, BEGINS, ENDS)
    (segment,) = found(pcm)
    assert segment.end == pytest.approx(len(pcm) / BYTES_PER_SAMPLE / SAMPLE_RATE, abs=0.03)


@pytest.mark.parametrize(
    "pcm",
    [b"", silence(0.03), silence(20), noise(20, level=20), silence(2) + noise(0.1, level=8000) + silence(2)],
    ids=["nothing", "one frame", "silence", "a quiet room", "a click"],
)
def test_where_nobody_speaks_there_is_no_segment(pcm: bytes) -> None:
    assert found(pcm) == []


def mixed(one: bytes, other: bytes) -> bytes:
    total = np.frombuffer(one, "<i2").astype(np.int32) + np.frombuffer(other[: len(one)], "<i2")
    return bytes(np.clip(total, -32768, 32767).astype("<i2").tobytes())


def test_steady_noise_is_not_taken_for_speech_once_it_is_known() -> None:
    """The first moments have no floor to compare with."""
    assert sum(segment.seconds for segment in found(noise(40, level=3000))) < 1.5


def test_in_steady_noise_each_utterance_is_a_segment_with_its_first_and_last_sounds(clip_pcm: bytes) -> None:
    said = silence(4) + (clip_pcm + silence(1)) * 3
    sound = np.frombuffer(cut(clip_pcm, BEGINS, ENDS), "<i2").astype(np.float64)
    level = float(np.sqrt(np.mean(sound**2))) / 10 ** (15 / 20)  # 15 dB below the voice
    heard = [s for s in found(mixed(said, noise(len(said) / 2 / SAMPLE_RATE, level))) if s.start > 1.5]

    assert len(heard) == 3
    for place, segment in enumerate(heard):
        offset = 4 + place * (len(clip_pcm) / BYTES_PER_SAMPLE / SAMPLE_RATE + 1)
        assert segment.start <= offset + BEGINS + 0.05
        assert segment.end >= offset + ENDS - 0.05
        assert segment.seconds < ENDS - BEGINS + 1


def test_sound_that_never_ends_is_cut_and_no_sample_is_lost_or_doubled(clip_pcm: bytes) -> None:
    pcm = cut(clip_pcm, BEGINS, ENDS) * 25
    heard = found(pcm)

    assert len(heard) >= 3
    for segment in heard[:-1]:
        assert segment.seconds == pytest.approx(LONGEST_SECONDS, abs=FRAME_SAMPLES / SAMPLE_RATE)
    for segment, following in pairwise(heard):
        assert following.first_sample == segment.first_sample + len(segment.pcm) // BYTES_PER_SAMPLE
    assert heard[0].start <= NEAR
    assert heard[-1].end == pytest.approx(len(pcm) / BYTES_PER_SAMPLE / SAMPLE_RATE, abs=NEAR)


def test_speech_after_a_cut_keeps_its_own_time(clip_pcm: bytes) -> None:
    pcm = noise(LONGEST_SECONDS + 2, level=5000) + silence(2) + cut(clip_pcm, BEGINS, ENDS)
    *_, last = found(pcm)
    assert last.start == pytest.approx(LONGEST_SECONDS + 4, abs=NEAR)


def test_every_segment_is_long_enough_to_be_more_than_a_click(clip_pcm: bytes) -> None:
    pcm = b"".join(cut(clip_pcm, BEGINS, BEGINS + length) + silence(1) for length in (0.1, 0.2, 0.3, 0.4, 0.6, 1.0))
    heard = found(pcm)
    assert heard
    assert all(segment.seconds >= SHORTEST_SECONDS for segment in heard)
