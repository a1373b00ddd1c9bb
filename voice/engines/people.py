"""The ear of another make: the encoder of a general recogniser, trained on people and fine-tuned to the room's sounds,
run by onnxruntime and searched through the definition's own phrases, and where none fits through sentences as people
say them. Only this module imports onnxruntime.

It works wherever onnxruntime does: Linux, macOS and Windows, x86 and ARM. It hears a segment as a whole, after its end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from log.basics.errors import EngineError
from voice.engines.beam import BLANK, Beam, Floats, Found, any_sounds, best_ways
from voice.engines.dictionary import lexicon, pronounced
from voice.engines.log_mel import levelled, log_mel
from voice.engines.protocol import RIVALS, Rival, Utterance, Word
from voice.engines.vosk_model import trained_words
from voice.engines.vosk_strict import entry_and_another
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment
from voice.templates.grammar import NUMBER, Grammar
from voice.templates.language import Sentences
from voice.templates.sound_graph import SoundGraph, sentence_graph, sound_graph

NET, PHONES = "net.onnx", "phones.txt"
LONGEST_SECONDS = 29.0
"""The net has places for 30 s; what is longer is no entry, and its beginning alone is heard."""

EDGE_SECONDS = 0.2
"""Silence on both sides: the net learnt from speech that does not begin with the sound."""

FRAMES_A_SECOND = 50

SURELY_A_PHRASE = 5.0
"""Natural log: where a phrase loses less to any sounds at all, one sentence in 417 entries of the speech bench fitted
better, and 92 of 100 entries without noise lose less: they are read back without the time of a second search."""

_ADD_AGAIN = "install the program again"


@dataclass(frozen=True, slots=True)
class PeopleSpec:
    """Everything the child process needs to build the engine."""

    model: Path
    grammars: Mapping[str, Grammar] = field(default_factory=dict)
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """The definition's own, beside the dictionary's."""
    name: str = "people"
    sentences: Sentences | None = None
    """What is said that is no phrase; without it phrases alone are heard."""
    beam: Beam = field(default_factory=Beam)

    def build(self) -> PeopleEngine:
        """Called in the child process."""
        return PeopleEngine(self)


class PeopleEngine:
    """One net, and a graph of sounds for each grammar, made when it is first asked for."""

    def __init__(self, spec: PeopleSpec) -> None:
        try:
            import onnxruntime
        except ImportError as error:
            raise EngineError(f"onnxruntime cannot be loaded ({error})", _ADD_AGAIN) from None
        self.name, self._spec = spec.name, spec
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
        try:
            sounds = (spec.model / PHONES).read_text(encoding="utf-8").split()
            self._net: Any = onnxruntime.InferenceSession(
                str(spec.model / NET), options, providers=["CPUExecutionProvider"]
            )
        except Exception:  # the binding raises nothing more particular
            raise EngineError(f"{spec.model}: this model cannot be loaded", _ADD_AGAIN) from None
        self._numbers = {sound: number for number, sound in enumerate(sounds)}
        self._graphs: dict[str, SoundGraph] = {}
        self._sentences = self._sentence_graph(spec.sentences) if spec.sentences else None
        for first in [*spec.grammars][:1]:  # what is wrong with a grammar shows now and not when somebody speaks
            self._graph(first)

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """The likeliest phrase or sentence, and the other ways to hear it; `free` says how well any sounds fit."""
        chances = self.chances(segment)
        ways = best_ways(chances, self._graph(grammar), RIVALS, self._spec.beam)
        if self._sentences is not None and grammar != NUMBER and not is_phrase(ways, chances):
            ways = side_by_side(ways, best_ways(chances, self._sentences, RIVALS, self._spec.beam))
        return heard(ways, chances, self.name, segment)

    def follow(self, so_far: Segment, grammar: str) -> str:
        """The words of an utterance that is still being said, heard from its start again."""
        return self.hear(so_far, grammar).text

    def prepare(self, grammar: str) -> None:
        """Makes ready to hear with this grammar."""
        self._graph(grammar)

    def close(self) -> None:
        """The net is freed with the process."""

    def chances(self, segment: Segment) -> NDArray[np.float32]:
        """(frames, sounds) natural log of the chance of every sound, 50 frames a second."""
        pcm = segment.pcm[: int(LONGEST_SECONDS * SAMPLE_RATE) * BYTES_PER_SAMPLE]
        wave = np.asarray(np.frombuffer(pcm, "<i2") / 32768, np.float32)
        silence = np.zeros(int(EDGE_SECONDS * SAMPLE_RATE), np.float32)
        features = log_mel(np.concatenate([silence, levelled(wave), silence]))
        features = features[:, : features.shape[1] // 2 * 2]
        (chances,) = self._net.run(None, {"features": features[None]})
        return np.asarray(chances[0], np.float32)

    def _graph(self, grammar: str) -> SoundGraph:
        if grammar not in self._graphs:
            entry, then = entry_and_another(self._spec.grammars, grammar)
            words = entry.words | (then.words if then else frozenset())
            said = lexicon(words, self._spec.pronunciations, trained_words(self._spec.model))
            self._graphs[grammar] = sound_graph(entry, then, self._numbered(said))
        return self._graphs[grammar]

    def _sentence_graph(self, sentences: Sentences) -> SoundGraph:
        trained, extra = trained_words(self._spec.model), self._spec.pronunciations
        said = pronounced({*sentences.language.plain, *sentences.numbers.words}, extra, trained)
        return sentence_graph(sentences, self._numbered(said), len(self._numbers))

    def _numbered(self, said: Mapping[str, tuple[tuple[str, ...], ...]]) -> dict[str, list[list[int]]]:
        try:
            return {word: [[self._numbers[sound] for sound in way] for way in ways] for word, ways in said.items()}
        except KeyError as unknown:
            raise EngineError(
                f"{self._spec.model}: this model has no sound {unknown.args[0]}",
                "write [pronunciations] with the ARPAbet symbols the other words use",
            ) from None


def is_phrase(ways: tuple[Found, ...], chances: Floats) -> bool:
    """Whether a phrase fits so well that no sentence needs to be looked for."""
    return bool(ways) and any_sounds(chances) - ways[0].score < SURELY_A_PHRASE


def side_by_side(phrases: tuple[Found, ...], sentences: tuple[Found, ...]) -> tuple[Found, ...]:
    """The likeliest of both, each once: what is a phrase is no sentence, for a phrase's words cost nothing."""
    known = {way.words for way in phrases}
    others = (replace(way, phrase=False) for way in sentences if way.words not in known)
    return tuple(sorted((*phrases, *others), key=lambda way: -way.score))


def heard(ways: tuple[Found, ...], chances: Floats, engine: str, segment: Segment) -> Utterance:
    """What was found as an utterance; nothing found is nothing heard. Every word has the time of all of them:
    when each was said is not known.
    """
    free = any_sounds(chances)
    if not ways:
        return Utterance((), engine, segment.start, segment.end, free=free)
    best, *others = ways
    sounds = np.flatnonzero(chances.argmax(1) != BLANK) / FRAMES_A_SECOND - EDGE_SECONDS
    begins, ends = (sounds[0], sounds[-1]) if len(sounds) else (0.0, segment.seconds)
    began, ended = (segment.start + min(max(float(at), 0.0), segment.seconds) for at in (begins, ends))
    words = tuple(Word(text, began, ended) for text in best.words)
    rivals = tuple(Rival(other.words, best.score - other.score, other.phrase) for other in others)
    return Utterance(words, engine, segment.start, segment.end, best.score, rivals, free, best.phrase)
