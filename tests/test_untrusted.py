"""Files from outside that are broken or mean harm: every one ends in success or in one line that says what to do.

A little of the bench `tests/bench/fuzz.py`, the same every time; and what is known to do harm, by name.
"""

from __future__ import annotations

import json
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest
import soundfile

from log.basics.errors import IncompleteInput, InputError, TamponadeError
from log.definition.load import BrokenDefinition, read_override
from log.rules.definitions import examine, read_procedure
from tests.bench import fuzz
from tests.bench.fuzzing.definitions import HOSTILE, LAUGHS, RING, procedure
from tests.bench.fuzzing.media import MODEL
from tests.bench.fuzzing.mutation import Given, Target
from tests.bench.fuzzing.running import judged
from voice.engines.models import add
from voice.phrases.phrases import template_problems
from voice.sound.audio import BLOCK_VALUES, AudioFile

ALL_ACCEPTED = {"journal", "typed sign"}
"""None of these is refused, whatever is in it."""

INPUTS = {
    "definition": 50,
    "override": 150,
    "jsonl import": 50,
    "sound file": 150,
    "model archive": 100,
    "case file": 30,
    "journal": 20,
    "typed sign": 60,
}


@pytest.mark.slow
@pytest.mark.parametrize("target", fuzz.TARGETS, ids=[target.name for target in fuzz.TARGETS])
def test_spoilt_files_end_in_success_or_in_one_line(target: Target, tmp_path: Path) -> None:
    outcomes = []
    for number in range(INPUTS[target.name]):
        outcome = judged(target, fuzz.given(target, 7, number), tmp_path / "scratch")
        assert not outcome.failure, f"input {number}: {outcome.failure}\n{outcome.detail}"
        outcomes.append(outcome.accepted)
    assert {True, False} == set(outcomes) or (target.name in ALL_ACCEPTED and set(outcomes) == {True})


# Definitions and overrides


@pytest.mark.parametrize("text", HOSTILE, ids=[text[:30] for text in HOSTILE])
def test_toml_made_to_break_its_reader_is_reported(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    for read in (lambda: read_procedure(str(path)), lambda: read_override(path, procedure())):
        with pytest.raises(BrokenDefinition) as caught:
            read()
        assert str(caught.value).isprintable()
        assert str(path) in str(caught.value)


def test_parts_that_multiply_are_refused_before_they_are_put_together(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(LAUGHS, encoding="utf-8")
    assert examine(str(path)) == (None, (("(file)", "parts.p0 is longer than any phrase, with its parts put in"),))


def test_parts_that_contain_each_other_are_reported(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(RING, encoding="utf-8")
    read, found = examine(str(path))
    assert found or (read is not None and any(template_problems(read)))


@pytest.mark.parametrize("name", ["x" * 5000, "a\0b", "a\0.toml", "x" * 5000 + ".toml"])
def test_what_cannot_be_the_name_of_a_file_is_reported(name: str) -> None:
    with pytest.raises(BrokenDefinition):
        read_procedure(name)
    with pytest.raises(TamponadeError):
        add(name, directory=Path("models"))


def test_the_home_of_somebody_who_is_not_there_is_reported(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="neither a folder nor a zip file"):
        add("~nobody-of-this-name/m.zip", directory=tmp_path)


# Sound


def wav(rate: int = 16_000, channels: int = 1, promised: int | None = None, seconds: float = 0.2) -> bytes:
    """Silence under a header that may say anything."""
    held = bytes(int(16_000 * seconds) * 2)
    form = struct.pack("<HHIIHH", 1, channels, rate, rate * channels * 2 % 2**32, channels * 2 % 2**16, 16)
    size = len(held) if promised is None else promised
    return (
        b"RIFF"
        + struct.pack("<I", 36 + len(held))
        + b"WAVEfmt "
        + struct.pack("<I", 16)
        + form
        + b"data"
        + (struct.pack("<I", size) + held)
    )


def test_a_header_that_promises_gigabytes_gives_what_is_there(tmp_path: Path) -> None:
    path = tmp_path / "x.wav"
    path.write_bytes(wav(promised=0x7FFFFFF0))
    with pytest.raises(IncompleteInput, match="breaks off"):
        assert len(list(AudioFile(path).frames())) < 10


@pytest.mark.parametrize("rate", [1, 999, 1_000_001, 2**31 - 1])
def test_a_rate_that_no_recording_has_is_reported(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "x.wav"
    path.write_bytes(wav(rate))
    with pytest.raises(InputError, match="is not a rate of recorded speech"):
        AudioFile(path).check()


def test_what_is_read_at_once_does_not_grow_with_the_channels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.wav"
    soundfile.write(path, np.zeros((16_000, 200)), 16_000)
    sizes: list[int] = []
    read = soundfile.SoundFile.read

    def watched(sound: soundfile.SoundFile, *given: object, **named: object) -> np.ndarray:
        block: np.ndarray = read(sound, *given, **named)
        sizes.append(block.size)
        return block

    monkeypatch.setattr(soundfile.SoundFile, "read", watched)
    assert len(list(AudioFile(path).frames())) == 34
    assert max(sizes) <= BLOCK_VALUES


def test_sound_that_ends_early_is_not_heard_twice(tmp_path: Path) -> None:
    """A FLAC file whose header promises an hour and that holds a second: the second is heard once."""
    path = tmp_path / "x.flac"
    soundfile.write(path, np.random.default_rng(1).uniform(-0.5, 0.5, 16_000), 16_000)
    content = bytearray(path.read_bytes())
    content[22:26] = (16_000 * 3600).to_bytes(4, "big")  # the low part of the number of samples
    path.write_bytes(content)
    frames = []
    try:
        for frame in AudioFile(path).frames():
            frames.append(frame.pcm)
    except IncompleteInput:
        pass
    assert len(frames) <= 34
    assert len(set(frames)) == len(frames)


@pytest.mark.parametrize("name", ["x.raw", "x.RAW"])
def test_samples_without_a_header_are_reported(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(bytes(5000))
    with pytest.raises(InputError, match=f"{name}: not a sound file"):
        AudioFile(tmp_path / name).check()


# Archives; more of them in tests/voice/engines/test_fetch.py


@pytest.mark.parametrize("name", ["m/" + "y/" * 2000 + "z", "m/" + "z" * 300, "m/\x1b[2J\n" + "w" * 60_000])
def test_a_member_with_a_name_for_no_disk_is_reported_in_a_short_line(tmp_path: Path, name: str) -> None:
    path = tmp_path / "m.zip"
    with zipfile.ZipFile(path, "w") as packed:
        for known, content in MODEL.items():
            packed.writestr(f"m/{known}", content)
        packed.writestr(name, b"x")
    with pytest.raises(InputError, match=r"m\.zip: .* has too long a name") as caught:
        add(str(path), directory=tmp_path / "models")
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 500
    assert list((tmp_path / "models").iterdir()) == []


def test_the_bench_counts_and_keeps_what_fails(tmp_path: Path) -> None:
    def fail(path: Path, folder: Path) -> None:
        if b"x" in path.read_bytes():
            raise ZeroDivisionError

    target = Target("fails", 1, lambda rng: Given("a.txt", json.dumps(rng.random()).encode() + b"xyz"), fail)
    tally = fuzz.run(target, 0, 3, tmp_path)
    assert (tally.inputs, tally.failures.total(), tally.accepted) == (3, 3, 0)
    assert (tmp_path / "smallest-fails-0.txt").read_bytes()[:1] == b"a"
    assert sorted(path.name for path in tmp_path.iterdir())[0] == "fails-0.txt"
