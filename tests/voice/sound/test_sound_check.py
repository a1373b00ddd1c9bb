"""The check before the start measures what was put into the sound, and its verdict follows."""

from __future__ import annotations

import numpy as np
import pytest

from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.segment import SAMPLE_RATE
from voice.sound.sound_check import ADVICE, NO_SOUND, USABLE, Phase, RoomCheck, SoundCheck, SoundCheckResult, level

SPEECH = slice(round(0.63 * SAMPLE_RATE), round(2.21 * SAMPLE_RATE))
"""Where the shipped clip is spoken."""


def noise(db: float, seconds: float, seed: int = 1) -> np.ndarray:
    """White noise of this level in dB below full scale."""
    sound: np.ndarray = np.random.default_rng(seed).normal(0.0, 10 ** (db / 20), round(seconds * SAMPLE_RATE))
    return sound


def tone(db: float, seconds: float) -> np.ndarray:
    """A sine of this level; its peak is 3 dB above."""
    moments = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    sound: np.ndarray = 10 ** (db / 20) * np.sqrt(2) * np.sin(2 * np.pi * 200 * moments)
    return sound


def pcm_of(sound: np.ndarray) -> bytes:
    samples: np.ndarray = np.clip(np.rint(sound * 32768), -32768, 32767)
    return bytes(samples.astype("<i2"))


def checked(sound: np.ndarray) -> tuple[SoundCheckResult, float]:
    """The result, and after how many seconds it was there."""
    check, pcm = SoundCheck(), pcm_of(sound)
    for start in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        if check.push(Frame(pcm[start : start + FRAME_BYTES], start // 2)) == "done":
            return check.result(), (start + FRAME_BYTES) / 2 / SAMPLE_RATE
    return check.result(), len(pcm) / 2 / SAMPLE_RATE


def said(speech: np.ndarray, noise_db: float) -> np.ndarray:
    """Two and a half seconds of the room, then speech, then the room again."""
    quiet = np.zeros(round(2.52 * SAMPLE_RATE))
    sound = np.concatenate([quiet, speech, np.zeros(6 * SAMPLE_RATE)])
    sound += noise(noise_db, len(sound) / SAMPLE_RATE)
    return sound


@pytest.mark.parametrize("db", [-6.0, -20.0, -40.0, -60.0])
def test_the_level_of_white_noise_and_of_a_tone_is_their_level(db: float) -> None:
    assert level(pcm_of(noise(db, 2.0) if db < -10 else tone(db, 2.0))).rms_db == pytest.approx(db, abs=0.1)
    assert level(pcm_of(tone(db, 2.0))).peak == pytest.approx(10 ** ((db + 3.0103) / 20), rel=0.01)


def test_silence_full_scale_and_nothing_have_levels_too() -> None:
    assert level(bytes(FRAME_BYTES)).rms_db == -100
    assert level(b"").rms_db == -100
    square = level(pcm_of(np.sign(tone(0, 1.0) + 1e-9)))
    assert square.rms_db == pytest.approx(0, abs=0.01)
    assert square.clipped == SAMPLE_RATE


@pytest.mark.parametrize(("speech_db", "noise_db"), [(-20, -60), (-20, -45), (-30, -52), (-25, -47)])
def test_noise_speech_and_their_ratio_are_measured(speech_db: float, noise_db: float) -> None:
    result, _ = checked(said(tone(speech_db, 2.0), noise_db))
    assert result.noise_db == pytest.approx(noise_db, abs=0.3)
    assert result.speech_db == pytest.approx(speech_db, abs=0.3)
    assert result.snr_db == pytest.approx(speech_db - noise_db, abs=0.5)
    assert result.verdict == "good"
    assert result.advice == (USABLE if speech_db - noise_db < 30 else ADVICE["good"])


def test_it_says_what_the_room_has_to_do_and_ends_soon_after_the_phrase() -> None:
    check, phases = SoundCheck(), list[Phase]()
    pcm = pcm_of(said(tone(-20, 1.5), -60))
    for start in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        phases.append(check.push(Frame(pcm[start : start + FRAME_BYTES], start // 2)))
    assert list(dict.fromkeys(phases)) == ["silence", "speech", "done"]
    assert phases.index("speech") * FRAME_SAMPLES / SAMPLE_RATE == pytest.approx(2.0, abs=0.05)
    assert phases.index("done") * FRAME_SAMPLES / SAMPLE_RATE == pytest.approx(2.52 + 1.5 + 0.9, abs=0.1)


def test_who_says_nothing_is_waited_for_six_seconds() -> None:
    result, seconds = checked(noise(-60, 12.0))
    assert result.verdict == "nothing heard"
    assert (result.speech_db, result.snr_db) == (None, None)
    assert seconds == pytest.approx(8.0, abs=0.1)


def test_a_click_is_no_phrase() -> None:
    assert checked(said(tone(-10, 0.09), -60))[0].verdict == "nothing heard"


def test_a_muted_microphone_is_told_apart_from_a_quiet_room() -> None:
    assert checked(np.zeros(9 * SAMPLE_RATE))[0].advice == NO_SOUND
    assert checked(noise(-70, 9.0))[0].advice == ADVICE["nothing heard"]


@pytest.mark.parametrize(
    ("speech_db", "noise_db", "verdict"),
    [(-44, -80, "good"), (-46, -80, "too quiet"), (-20, -41, "good"), (-20, -39, "too noisy"), (-38, -40, "too noisy")],
)
def test_the_verdict_changes_at_the_thresholds(speech_db: float, noise_db: float, verdict: str) -> None:
    assert checked(said(tone(speech_db, 2.0), noise_db))[0].verdict == verdict


def test_speech_that_is_cut_flat_is_reported_before_anything_else() -> None:
    result, _ = checked(said(tone(-1, 2.0), -30))
    assert result.verdict == "clipped"
    assert result.clipped > 0.1


@pytest.mark.parametrize(("snr", "verdict"), [(35, "good"), (25, "good"), (15, "too noisy"), (10, "too noisy")])
def test_a_real_phrase_in_noise_is_measured_within_some_decibels(clip_pcm: bytes, snr: float, verdict: str) -> None:
    speech = np.frombuffer(clip_pcm, "<i2")[SPEECH] / 32768
    speech_db = 10 * np.log10(np.mean(speech**2))
    result, _ = checked(said(speech, speech_db - snr))
    assert result.snr_db == pytest.approx(snr, abs=3.5)  # pauses between words do not count as speech
    assert result.verdict == verdict


# ---- from what is heard anyway ------------------------------------------------------------------------------------


def judged(sound: np.ndarray, speech: slice) -> list[SoundCheckResult]:
    """The verdict on a room whose endpointer notices speech a third of a second late, and its end a second late."""
    check, pcm, told = RoomCheck(), pcm_of(sound), []
    for start in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        at = start // 2
        speaking = speech.start + 5000 <= at < speech.stop + SAMPLE_RATE
        told.append(check.push(Frame(pcm[start : start + FRAME_BYTES], at), speaking))
    return [result for result in told if result is not None]


def room(noise_db: float, speech_db: float, silent: float = 3.0) -> tuple[np.ndarray, slice]:
    """So much silence, a second and a half of something loud, silence again."""
    begins, ends = round(silent * SAMPLE_RATE), round((silent + 1.5) * SAMPLE_RATE)
    sound = np.concatenate([np.zeros(begins), tone(speech_db, 1.5), np.zeros(2 * SAMPLE_RATE)])
    return sound + noise(noise_db, len(sound) / SAMPLE_RATE), slice(begins, ends)


@pytest.mark.parametrize(
    ("noise_db", "speech_db", "verdicts"),
    [
        (-65.0, -25.0, ["good", "good"]),
        (-65.0, -50.0, ["good", "too quiet"]),
        (-40.0, -25.0, ["too noisy", "too noisy"]),
        (-65.0, 2.0, ["good", "clipped"]),
    ],
)
def test_a_room_is_judged_by_its_noise_and_then_by_the_first_utterance(
    noise_db: float, speech_db: float, verdicts: list[str]
) -> None:
    found = judged(*room(noise_db, speech_db))
    assert [result.verdict for result in found] == verdicts
    assert found[0].noise_db == pytest.approx(noise_db, abs=0.5)
    assert found[1].speech_db == pytest.approx(min(speech_db, 0.0), abs=2.0)


def test_who_speaks_at_once_is_no_noise() -> None:
    sound, speech = room(-65.0, -25.0, silent=0.3)
    (result,) = judged(np.concatenate([sound, noise(-65.0, 2.0)]), speech)
    assert (result.verdict, result.speech_db) == ("good", None)
    assert result.noise_db == pytest.approx(-65.0, abs=0.5)


def test_a_microphone_that_is_muted_and_one_that_is_full_of_noise_are_reported_at_once() -> None:
    nothing = slice(10**9, 10**9)
    (muted,) = judged(np.zeros(3 * SAMPLE_RATE), nothing)
    assert (muted.verdict, muted.advice) == ("nothing heard", NO_SOUND)
    (full,) = judged(noise(-3.0, 3.0), nothing)
    assert full.verdict == "clipped"
