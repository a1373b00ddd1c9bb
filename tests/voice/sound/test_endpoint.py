"""What somebody says in one breath is one segment, whole, and with the time at which it was said."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby, pairwise

import numpy as np
import pytest

from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.detector import CHUNK_SAMPLES
from voice.sound.endpoint import AFTER_SECONDS, BEFORE_SECONDS, LONGEST_SECONDS, SHORTEST_SECONDS, Endpointer, segments
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

BEGINS, ENDS = 0.63, 2.21
"""Seconds of the clip between which somebody speaks."""

NEAR = 0.45
"""Seconds: what is kept from before the first word, and the silence by which an end is known."""


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


def ahead(pcm: bytes) -> list[tuple[Segment | None, Segment | None]]:
    """After every frame: what is perhaps over, and what is over."""
    endpointer = Endpointer()
    pushed = ((endpointer.push(frame), endpointer) for frame in frames(pcm))
    return [(after.perhaps_over(), over) for over, after in pushed]


def heard_in(segment: Segment) -> tuple[bytes, int]:
    return segment.pcm, segment.first_sample


@pytest.mark.parametrize("room", [0, 30])
def test_what_is_perhaps_over_is_what_comes_when_nothing_more_is_said(clip_pcm: bytes, room: float) -> None:
    pcm = mixed(clip_pcm + silence(1), noise(len(clip_pcm) / 32_000 + 1, level=room)) if room else clip_pcm + silence(1)
    steps = ahead(pcm)
    (ended,) = [place for place, (_, over) in enumerate(steps) if over]
    segment = steps[ended][1]
    assert segment is not None
    early = [perhaps for perhaps, _ in steps[:ended] if perhaps]

    assert early, "it was not known before it was sure"
    assert heard_in(early[-1]) == heard_in(segment)
    assert early[-1].overheard_until < segment.overheard_until
    assert steps[ended][0] is None, "what is over is not perhaps over"


def test_what_is_perhaps_over_can_be_ended_at_once(clip_pcm: bytes) -> None:
    (usual,) = found(clip_pcm + silence(1))
    endpointer, ended = Endpointer(), []
    for frame in frames(clip_pcm + silence(1)):
        assert endpointer.push(frame) is None
        if endpointer.perhaps_over() is not None:
            ended.append(endpointer.end())
    (segment,) = ended
    assert segment is not None and heard_in(segment) == heard_in(usual)
    assert usual.overheard_until - segment.overheard_until > 0.15 * SAMPLE_RATE


def test_while_somebody_speaks_nothing_can_be_ended(clip_pcm: bytes) -> None:
    endpointer = Endpointer()
    for frame in frames(clip_pcm[: round((BEGINS + 0.5) * SAMPLE_RATE) * 2]):
        endpointer.push(frame)
    assert endpointer.in_speech and endpointer.end() is None and endpointer.in_speech


def test_while_somebody_speaks_and_where_nobody_does_nothing_is_perhaps_over(clip_pcm: bytes) -> None:
    assert all(perhaps is None for perhaps, _ in ahead(silence(2)))
    assert all(perhaps is None for perhaps, _ in ahead(clip_pcm[: round((BEGINS + 0.5) * SAMPLE_RATE) * 2]))


def test_when_speech_goes_on_after_a_pause_it_is_not_over_any_more(clip_pcm: bytes) -> None:
    said = cut(clip_pcm, BEGINS, ENDS)
    for pause in np.arange(AFTER_SECONDS, 1.0, 0.03):
        steps = ahead(silence(1) + said + silence(float(pause)) + said + silence(1))
        whole = [over for _, over in steps if over]
        turns = [known for known, _ in groupby(perhaps is not None for perhaps, _ in steps)]
        if len(whole) == 1 and turns == [False, True, False, True, False]:
            early = [perhaps for perhaps, _ in steps if perhaps]
            assert heard_in(early[-1]) == heard_in(whole[0])
            assert early[0].first_sample == whole[0].first_sample
            assert len(early[0].pcm) < len(whole[0].pcm)
            return
    pytest.fail("no pause was long enough to be perhaps the end and short enough not to be")


def test_the_words_so_far_are_shown_only_while_somebody_speaks(clip_pcm: bytes) -> None:
    endpointer = Endpointer()
    lengths = []
    for frame in frames(clip_pcm + silence(1)):
        endpointer.push(frame)
        so_far = endpointer.so_far()
        assert (so_far is not None) is endpointer.in_speech
        if so_far is not None:
            start = so_far.first_sample * BYTES_PER_SAMPLE
            assert so_far.pcm == clip_pcm[start : start + len(so_far.pcm)] or start + len(so_far.pcm) > len(clip_pcm)
            lengths.append(len(so_far.pcm))
    assert lengths == sorted(lengths)
    assert not endpointer.in_speech
    assert endpointer.flush() is None


def test_after_a_gap_times_are_those_of_the_source(clip_pcm: bytes) -> None:
    later = Endpointer(first_sample=60 * SAMPLE_RATE)
    pushed = [later.push(Frame(frame.pcm, frame.first_sample + 60 * SAMPLE_RATE)) for frame in frames(clip_pcm)]
    (segment,) = [over for over in (*pushed, later.flush()) if over]
    (same,) = found(clip_pcm)
    assert (segment.pcm, segment.first_sample) == (same.pcm, same.first_sample + 60 * SAMPLE_RATE)


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


def test_an_entry_is_found_in_talk_that_never_ends(clip_pcm: bytes) -> None:
    """Somebody behind the speaker talks without a pause, 20 dB fainter: every entry is still a segment of its own."""
    speech = np.frombuffer(cut(clip_pcm, BEGINS, ENDS), dtype="<i2").astype(np.float64)
    room = np.resize(speech[::-1] / 10, round(24 * SAMPLE_RATE))
    said_at = (8.0, 12.0, 16.0)
    for begin in said_at:
        place = round(begin * SAMPLE_RATE)
        room[place : place + len(speech)] += speech
    heard = found(np.clip(room, -32768, 32767).astype("<i2").tobytes())
    seconds = len(speech) / SAMPLE_RATE
    for begin in said_at:
        (entry,) = [one for one in heard if one.start <= begin + 0.05 and one.end >= begin + seconds - 0.05]
        assert begin - entry.start < 1.0
        assert entry.end - begin - seconds < 1.0
    assert [one.first_sample for one in heard] == sorted(one.first_sample for one in heard)


# A word that the detector was not sure of

CHUNK = CHUNK_SAMPLES / SAMPLE_RATE


class Scripted:
    """A detector that is as sure as the script says, chunk by chunk, and hears nobody afterwards."""

    def __init__(self, sure: list[float]) -> None:
        self._sure = iter(sure)

    def process_chunk(self, _: bytes) -> float:
        return next(self._sure, 0.0)


def first_kept(monkeypatch: pytest.MonkeyPatch, *parts: tuple[int, float, float]) -> float:
    """Seconds at which the only segment begins. A part: chunks of noise, its level, how sure the detector is."""
    sure = [probability for chunks, _, probability in parts for _ in range(chunks)]
    monkeypatch.setattr("voice.sound.endpoint.speech_detector", lambda: Scripted(sure))
    pcm = b"".join(noise(chunks * CHUNK, level) for chunks, level, _ in parts)
    (segment,) = found(pcm + silence(1))
    return segment.start


QUIET, HALF_HEARD, HEARD = (20, 30.0, 0.0), (8, 3000.0, 0.3), (20, 3000.0, 0.9)


def test_a_word_that_was_half_heard_just_before_belongs_to_what_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Clipped, "five five" is "five": heard clearly, and wrong."""
    start = first_kept(monkeypatch, QUIET, HALF_HEARD, (4, 30.0, 0.0), HEARD)
    assert start == pytest.approx(20 * CHUNK - BEFORE_SECONDS, abs=CHUNK)


@pytest.mark.parametrize(
    "before",
    [
        (HALF_HEARD, (12, 30.0, 0.0)),  # a longer pause than within an entry
        ((8, 900.0, 0.3), (4, 30.0, 0.0)),  # fainter: somebody in the background
        ((8, 3000.0, 0.1), (4, 30.0, 0.0)),  # no voice
    ],
)
def test_what_is_far_or_faint_or_no_voice_does_not(
    monkeypatch: pytest.MonkeyPatch, before: tuple[tuple[int, float, float], ...]
) -> None:
    start = first_kept(monkeypatch, QUIET, *before, HEARD)
    chunks = 20 + sum(many for many, _, _ in before)
    assert start == pytest.approx(chunks * CHUNK - BEFORE_SECONDS, abs=CHUNK)
