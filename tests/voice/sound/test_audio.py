"""Any recording becomes the same 30 ms frames, and a file that cannot be used says so in one line."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from log.basics.errors import IncompleteInput, InputError
from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, AudioFile
from voice.sound.segment import SAMPLE_RATE

TONE_HZ, TONE_LEVEL = 440.0, 0.25


def tone(rate: int, channels: int = 1, seconds: float = 1.0) -> np.ndarray:
    wave = TONE_LEVEL * np.sin(2 * np.pi * TONE_HZ * np.arange(int(rate * seconds)) / rate)
    return np.repeat(wave[:, None], channels, axis=1).astype(np.float32)


def samples(path: Path) -> np.ndarray:
    return np.frombuffer(AudioFile(path).pcm(), dtype="<i2") / 32768


@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    ("form", "subtype", "channels"),
    [
        ("wav", "PCM_U8", 1),
        ("wav", "PCM_16", 2),
        ("wav", "PCM_24", 1),
        ("wav", "FLOAT", 1),
        ("flac", "PCM_16", 1),
        ("flac", "PCM_24", 2),
    ],
)
def test_a_tone_keeps_its_pitch_level_and_length_whatever_it_was_recorded_as(
    tmp_path: Path, rate: int, form: str, subtype: str, channels: int
) -> None:
    path = tmp_path / f"tone.{form}"
    soundfile.write(path, tone(rate, channels), rate, subtype=subtype)

    heard = samples(path)

    assert abs(len(heard) - SAMPLE_RATE) <= FRAME_SAMPLES
    inner = heard[1600:14400]
    spectrum = np.abs(np.fft.rfft(inner * np.hanning(len(inner))))
    assert np.argmax(spectrum) * SAMPLE_RATE / len(inner) == pytest.approx(TONE_HZ, abs=2)
    assert np.sqrt(2 * np.mean(inner**2)) == pytest.approx(TONE_LEVEL, rel=0.02)


def test_frames_count_samples_from_the_start_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(16_000), 16_000)
    frames = list(AudioFile(path).frames())
    assert [frame.first_sample for frame in frames] == list(range(0, 16_000, FRAME_SAMPLES))
    assert {len(frame.pcm) for frame in frames} == {FRAME_BYTES}


def test_a_paced_file_takes_as_long_as_it_lasts(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(16_000, seconds=0.3), 16_000)
    began = time.monotonic()
    list(AudioFile(path, paced=True).frames())
    assert time.monotonic() - began >= 0.3


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"", "the file is empty"), (b"\0" * 5000, "not a sound file"), (b"RIFF\x04\0\0\0WAVE", "not a sound file")],
)
def test_a_file_that_is_no_sound_is_reported_by_name_with_a_remedy(tmp_path: Path, content: bytes, told: str) -> None:
    path = tmp_path / "bad.wav"
    path.write_bytes(content)
    with pytest.raises(InputError, match=told) as caught:
        AudioFile(path).check()
    assert str(path) in str(caught.value)
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_a_missing_file_and_a_folder_are_reported(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        AudioFile(tmp_path / "none.wav").check()
    with pytest.raises(InputError, match="is a folder"):
        AudioFile(tmp_path).check()


def test_a_recording_without_samples_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    soundfile.write(path, np.zeros(0), 16_000)
    with pytest.raises(InputError, match="no sound in this file"):
        AudioFile(path).check()


def test_a_truncated_wav_gives_what_it_holds_and_then_says_what_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    soundfile.write(path, tone(16_000, seconds=2.0), 16_000, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: 44 + 16_000 * 2])
    frames = []
    with pytest.raises(IncompleteInput, match=r"breaks off after 1\.0 s, 1\.0 s are missing"):
        for frame in AudioFile(path).frames():
            frames.append(frame)
    assert len(frames) == pytest.approx(1.0 / 0.03, abs=1)


def opus(path: Path, seconds: float) -> bytes:
    noise = np.random.default_rng(0).standard_normal(round(seconds * SAMPLE_RATE)) * 2000
    soundfile.write(path, noise.astype("int16"), SAMPLE_RATE, format="OGG", subtype="OPUS")
    return path.read_bytes()


@pytest.mark.parametrize("seconds", [0.2, 5.0])
def test_an_ogg_file_whose_end_is_not_marked_is_read_and_says_so(tmp_path: Path, seconds: float) -> None:
    """libsndfile calls the short one malformed, and says nothing of the long one."""
    path = tmp_path / "x.opus"
    whole = opus(path, seconds)
    assert len(AudioFile(path).pcm()) == pytest.approx(seconds * 32000, abs=1000)
    last = whole.rindex(b"OggS")
    for content in (whole[: last + 5] + b"\0" + whole[last + 6 :], whole[: last + 10] if seconds > 1 else None):
        if content is not None:
            path.write_bytes(content)
            frames = AudioFile(path).frames()
            with pytest.raises(IncompleteInput, match=r"breaks off after .* s: its end is not marked"):
                for number in range(200):
                    assert next(frames).first_sample == number * FRAME_SAMPLES


def test_a_truncated_flac_says_that_it_breaks_off(tmp_path: Path) -> None:
    path = tmp_path / "cut.flac"
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, 32_000)
    soundfile.write(path, noise, 16_000)
    path.write_bytes(path.read_bytes()[:20_000])
    with pytest.raises(IncompleteInput, match="breaks off"):
        list(AudioFile(path).frames())
