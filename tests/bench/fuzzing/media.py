"""Recordings and speech models as they come from outside."""

from __future__ import annotations

import io
import os
import random
import struct
import warnings
import zipfile
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from tests.bench.fuzzing.mutation import TEXTS, Given, Target, bytewise
from voice.engines import models
from voice.sound.audio import AudioFile

SOUNDS = (
    ("WAV", "PCM_16", 1, 16_000),
    ("WAV", "PCM_U8", 2, 8_000),
    ("WAV", "FLOAT", 1, 44_100),
    ("WAV", "MS_ADPCM", 1, 16_000),
    ("FLAC", "PCM_16", 1, 16_000),
    ("FLAC", "PCM_24", 2, 48_000),
    ("OGG", "VORBIS", 1, 16_000),
    ("OGG", "OPUS", 1, 16_000),
    ("AIFF", "PCM_16", 1, 16_000),
    ("AU", "PCM_16", 1, 16_000),
    ("CAF", "ALAC_16", 1, 16_000),
    ("W64", "PCM_16", 1, 16_000),
    ("RF64", "PCM_16", 1, 16_000),
    ("MP3", "MPEG_LAYER_III", 1, 16_000),
)
NAMES = ("x.wav", "x.wav", "x.flac", "x.ogg", "x.raw", "x.RAW", "x", "x.mp3", "x.sd2", "x.\u202egnp", "x.wav.toml")
LONGEST_S = 40_000
"""More sound than this out of a small file is a bomb, or a header that is believed."""

MODEL = {"am/final.mdl": b"x" * 500, "conf/model.conf": b"--min-active=200\n", "graph/HCLr.fst": b"y" * 300}
MEMBERS = (
    "/tmp/evil",
    "../evil",
    "m/../../evil",
    "m\\..\\..\\evil",
    "C:\\evil",
    "\\\\host\\evil",
    "m/./../m/../../evil",
    ".",
    "./",
    "/",
    "//",
    "m//x",
    "m/",
    "m",
    "m/am",
    "m/am/final.mdl",
    "M/AM/FINAL.MDL",
    "m/am/final.mdl/x",
    "other/am/final.mdl",
    "x" * 300,
    "m/" + "y/" * 2000 + "z",
    "m/" + "z" * 60_000,
    "m/\U0001f480\u202e",
    "m/con",
    "m/ ",
    "m/\x1b[2J\n",
    "~/x",
    "$HOME/x",
    "-rf",
    "small.zip",
)


@cache
def _sound(form: str, subtype: str, channels: int, rate: int) -> bytes:
    file = io.BytesIO()
    noise = np.random.default_rng(1).uniform(-0.4, 0.4, (rate // 5, channels))
    soundfile.write(file, noise, rate, format=form, subtype=subtype)
    return file.getvalue()


def sound(rng: random.Random) -> Given:
    """A fifth of a second of noise in some format, spoilt most often where the header is."""
    content = bytearray(_sound(*rng.choice(SOUNDS)))
    for _ in range(rng.choice((0, 1, 1, 2, 4))):
        place = rng.randrange(min(len(content), rng.choice((64, 64, 256, 4096))))
        width = rng.choice((1, 2, 4, 8))
        largest = 256**width - 1
        value = rng.choice((0, 1, largest, largest // 2, largest // 2 + 1, rng.randint(0, largest)))
        content[place : place + width] = value.to_bytes(width, rng.choice(("little", "big")))
    spoilt = bytewise(rng, bytes(content)) if rng.random() < 0.5 else bytes(content)
    if rng.random() < 0.15:
        spoilt = spoilt[: rng.randrange(len(spoilt) + 1)]
    return Given(rng.choice(NAMES), spoilt)


def use_sound(path: Path, _folder: Path) -> None:
    """Looks at it and listens to all of it."""
    source = AudioFile(path)
    source.check()
    for frame in source.frames():
        assert frame.first_sample < LONGEST_S * 16_000, "a small file that never ends"
        assert len(frame.pcm) == 960


def archive(rng: random.Random) -> Given:
    """A model in a zip file with members that mean harm, or spoilt as bytes, or with sizes that are lies."""
    file = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        warnings.simplefilter("ignore")  # two members of one name
        for name, content in MODEL.items():
            if rng.random() < 0.95:
                packed.writestr(f"m/{name}", content)
        for _ in range(rng.choice((0, 0, 1, 1, 3))):
            _member(rng, packed)
    whole = bytearray(file.getvalue())
    if rng.random() < 0.4:
        _lie(rng, whole)
    spoilt = bytewise(rng, bytes(whole)) if rng.random() < 0.4 else bytes(whole)
    return Given(rng.choice(("m.zip", "m.zip", "m.ZIP", "m", "..zip", "\u202e.zip", "x y.zip")), spoilt)


def _member(rng: random.Random, packed: zipfile.ZipFile) -> None:
    member = zipfile.ZipInfo("x")
    member.filename = rng.choice((*MEMBERS, *TEXTS)).encode("utf-8", "replace").decode()
    member.external_attr = rng.choice((0, 0, 0o100644, 0o40755, 0o120777, 0o20666, 0o10666, 0o140777, 0o104777)) << 16
    member.compress_type = rng.choice(
        (zipfile.ZIP_DEFLATED,) * 4 + (zipfile.ZIP_STORED, zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2)
    )
    zeros = rng.choice((0, 1, 20, 5000, 5000)) if rng.random() < 0.97 else 20_000_000
    packed.writestr(member, rng.choice((b"/etc/passwd", bytes(zeros), b"PK\x03\x04" * 50)))


def _lie(rng: random.Random, content: bytearray) -> None:
    """A field of the list of members, or of its end, that is not so."""
    marks = [
        i
        for i in range(len(content) - 46)
        if bytes(content[i : i + 4]) in (b"PK\x01\x02", b"PK\x03\x04", b"PK\x05\x06")
    ]
    if not marks:
        return
    where = rng.choice(marks)
    offset, width = rng.choice(((6, 2), (8, 2), (10, 2), (16, 4), (20, 4), (24, 4), (28, 2), (30, 2), (38, 4), (42, 4)))
    value = rng.choice((0, 1, 0xFFFFFFFF, 0xFFFFFFFE, 0x7FFFFFFF, 0x01000000, rng.randrange(2**16))) % 256**width
    struct.pack_into("<H" if width == 2 else "<I", content, where + offset, value)


def use_archive(path: Path, folder: Path) -> None:
    """Adds it as a model."""
    model = models.add(str(path), directory=folder / "models")
    assert model.path.parent == folder / "models", f"{model.path} is elsewhere"
    for root, folders, names in os.walk(folder):
        for name in (*folders, *names):
            assert not os.path.islink(os.path.join(root, name)), f"a link: {name}"  # noqa: PTH114, PTH118


TARGETS = (
    Target("sound file", 36, sound, use_sound),
    Target("model archive", 12, archive, use_archive),
)
