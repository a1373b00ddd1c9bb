"""The general recogniser: free words for any speech, as a draft that somebody reads. Only this module imports
ctranslate2, which the extra `words` installs; the model is the site's (`voice.engines.words_models`).

It hears ten seconds at a time where the speech is shorter, else thirty: measured on speech of people, ten give the
same words in a third of the time (tests/bench).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from log.basics.errors import EngineError
from voice.engines.log_mel import SHIFT, log_mel
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

SHORT_SECONDS, LONG_SECONDS = 10.0, 30.0
"""Lengths that the net is given: the shorter where the speech fits with a second to spare."""

MOST_TOKENS = 200
BEAM = 5
SILENT_FROM = 0.6
"""Chance of no speech from which there are no words; our choice."""

LEAST_SURE = -1.2
"""Mean natural log of the chances of a draft's pieces below which there are no words: noise makes it write at random;
our choice."""

REMEDY = "install the extra: tamponade-log[words]"


@dataclass(frozen=True, slots=True)
class Draft:
    """The words of one segment, and other ways to hear them, the likeliest first; none where nothing was heard."""

    ways: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The likeliest words."""
        return self.ways[0] if self.ways else ""


@dataclass(frozen=True, slots=True)
class WordsSpec:
    """Everything the child process needs to build the engine."""

    model: Path
    name: str
    context: str = ""
    """Words that are likely to be said, as if they had been said before."""
    threads: int = 2

    def build(self) -> WordsEngine:
        """Called in the child process."""
        return WordsEngine(self)


class WordsEngine:
    """One model, for whatever language it knows; it is asked for English."""

    def __init__(self, spec: WordsSpec) -> None:
        try:
            import ctranslate2
        except ImportError as error:
            raise EngineError(f"ctranslate2 cannot be loaded ({error})", REMEDY) from None
        self.name = spec.name
        self._ct: Any = ctranslate2
        try:
            self._net: Any = ctranslate2.models.Whisper(
                str(spec.model), device="cpu", compute_type="int8", intra_threads=spec.threads
            )
            self._known = _vocabulary(spec.model)
        except (RuntimeError, OSError, ValueError):
            raise EngineError(f"{spec.model}: this model cannot be loaded", "see tamponade models") from None
        language = ("<|en|>", "<|transcribe|>") if self._net.is_multilingual else ()
        begins = ("<|startoftranscript|>", *language, "<|notimestamps|>")
        before = ("<|startofprev|>", *_tokens(spec.context, self._known)) if spec.context else ()
        self._prompt = [*before, *begins]
        self._begins = [self._known[token] for token in begins]

    def draft(self, segment: Segment) -> Draft:
        """The words of a segment; of a long one, those of its pieces one after the other."""
        found = [self._heard(piece) for piece in _pieces(segment)]
        if len(found) == 1:
            return found[0]
        text = " ".join(one.text for one in found if one.text)
        return Draft((text,) if text else ())

    def likely(self, segment: Segment, sentences: Sequence[str]) -> tuple[float, ...]:
        """Natural log of the chance of each sentence, to be compared with each other: what was said in a short
        segment, by a net that knows neither the phrases nor the log."""
        wave = next(_pieces(segment))
        sound = self._net.encode(self._ct.StorageView.from_array(np.ascontiguousarray(log_mel(wave)[None])))
        return tuple(self._chance(sound, len(wave) // (2 * SHIFT), sentence) for sentence in sentences)

    def _chance(self, sound: Any, frames: int, sentence: str) -> float:
        tokens = [self._known[token] for token in _tokens(sentence, self._known)]
        (found,) = self._net.align(sound, self._begins, [tokens], frames)
        return float(np.log(np.maximum(found.text_token_probs, 1e-9)).sum())

    def close(self) -> None:
        """The net is freed with the process."""

    def _heard(self, wave: NDArray[np.float32]) -> Draft:
        features = np.ascontiguousarray(log_mel(wave)[None])
        (found,) = self._net.generate(
            self._ct.StorageView.from_array(features),
            [self._prompt],
            beam_size=BEAM,
            num_hypotheses=BEAM,
            max_length=MOST_TOKENS,
            return_scores=True,
            return_no_speech_prob=True,
        )
        if found.no_speech_prob >= SILENT_FROM:
            return Draft()
        written = zip(found.sequences, found.scores, strict=True)
        texts = (_text(tokens) for tokens, score in written if score >= LEAST_SURE)
        return Draft(tuple(dict.fromkeys(text for text in texts if text)))


def _pieces(segment: Segment) -> Iterator[NDArray[np.float32]]:
    """The sound as (samples) from -1 to 1, each piece filled up with silence to one of both lengths."""
    step = int((LONG_SECONDS - 1) * SAMPLE_RATE) * BYTES_PER_SAMPLE
    for at in range(0, max(len(segment.pcm), 1), step):
        wave = np.frombuffer(segment.pcm[at : at + step], "<i2").astype(np.float32) / 32768
        length = SHORT_SECONDS if len(wave) <= (SHORT_SECONDS - 1) * SAMPLE_RATE else LONG_SECONDS
        yield np.pad(wave, (0, int(length * SAMPLE_RATE) - len(wave)))


def _vocabulary(model: Path) -> Mapping[str, int]:
    """Piece of text -> its number."""
    table = model / "vocabulary.json"
    if table.is_file():
        pieces = json.loads(table.read_text(encoding="utf-8"))
    else:
        pieces = (model / "vocabulary.txt").read_text(encoding="utf-8").split("\n")
    return {piece: number for number, piece in enumerate(pieces)}


def _tokens(text: str, known: Mapping[str, int]) -> Iterator[str]:
    """The text in the longest pieces that the model knows."""
    rest = "".join(_letters()[byte] for byte in f" {text}".encode())
    while rest:
        piece = next((rest[:end] for end in range(len(rest), 0, -1) if rest[:end] in known), None)
        if piece is not None:
            yield piece
        rest = rest[len(piece or rest[0]) :]


def _text(tokens: Sequence[str]) -> str:
    """Pieces as text; marks of the model are left out."""
    bytes_ = {letter: byte for byte, letter in _letters().items()}
    said = "".join(token for token in tokens if not token.startswith("<|"))
    return bytes(bytes_[letter] for letter in said if letter in bytes_).decode("utf-8", "ignore").strip()


@cache
def _letters() -> dict[int, str]:
    """The letter that stands for each byte in such a model: its own where it can be seen, else one from 256 on."""
    seen = [*range(33, 127), *range(161, 173), *range(174, 256)]
    hidden = [byte for byte in range(256) if byte not in seen]
    return {byte: chr(byte) for byte in seen} | {byte: chr(256 + n) for n, byte in enumerate(hidden)}
