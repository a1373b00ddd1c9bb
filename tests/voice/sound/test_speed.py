"""Copies at another speed: as long as they should be, no louder, and the same however the sound comes."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import soxr
from hypothesis import given
from hypothesis import strategies as st

from voice.engines import sphinx as sphinx_engine
from voice.engines import vosk as vosk_engine
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE
from voice.sound.speed import AtSpeed, at_speed

SPEEDS = sorted({*sphinx_engine.SPEEDS, *vosk_engine.SPEEDS})
SOUND = (3000 * np.random.default_rng(0).normal(size=SAMPLE_RATE)).clip(-32768, 32767).astype("<i2").tobytes()


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_copy_at_another_speed_is_that_much_shorter_or_longer_and_no_louder(clip_pcm: bytes, speed: float) -> None:
    copy = at_speed(clip_pcm, speed)
    assert len(copy) % BYTES_PER_SAMPLE == 0
    assert len(copy) == pytest.approx(len(clip_pcm) / speed, abs=4 * BYTES_PER_SAMPLE)
    before, after = (np.frombuffer(pcm, "<i2").astype(float).std() for pcm in (clip_pcm, copy))
    assert after == pytest.approx(before, rel=0.05)


@pytest.mark.parametrize("speed", SPEEDS)
def test_a_copy_is_what_the_reference_gives_of_the_whole(speed: float) -> None:
    whole = soxr.resample(np.frombuffer(SOUND, "<i2").astype(np.float32), SAMPLE_RATE * speed, SAMPLE_RATE)
    found = np.frombuffer(at_speed(SOUND, speed), "<i2")
    assert np.abs(found - whole.clip(-32768, 32767)).max() <= 0.5


def test_at_its_own_speed_it_is_itself() -> None:
    assert at_speed(SOUND, 1.0) == SOUND


@given(st.lists(st.integers(0, SAMPLE_RATE), max_size=6), st.sampled_from(SPEEDS))
def test_sound_that_comes_bit_by_bit_gives_the_same_copy(cuts: list[int], speed: float) -> None:
    copy, places = AtSpeed(speed), [0, *sorted(cuts), SAMPLE_RATE]
    bits = [SOUND[BYTES_PER_SAMPLE * first : BYTES_PER_SAMPLE * end] for first, end in pairwise(places)]
    assert b"".join([*map(copy.more, bits), copy.rest()]) == at_speed(SOUND, speed)


def test_after_the_end_another_sound_begins() -> None:
    copy = AtSpeed(SPEEDS[0])
    assert [copy.more(SOUND) + copy.rest() for _ in range(2)] == [at_speed(SOUND, SPEEDS[0])] * 2
    assert copy.rest() == b""
