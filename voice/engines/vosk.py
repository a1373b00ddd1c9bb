"""The vosk engine, used when a model is installed. Only this module imports vosk.

Where the installed model allows it, strict models are made of the definition (`voice.engines.vosk_strict`): nothing
but its whole phrases is heard. Elsewhere vosk's run-time grammar is used, a statistical model estimated from phrases:
words recombine. Whatever it hears goes through our own strict parser like everything else.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from log.basics.errors import EngineError
from voice.engines.protocol import RIVALS, Rival, Utterance, Word
from voice.engines.vosk_graph import UNKNOWN
from voice.engines.vosk_model import ModelKind, kind_of, missing_words
from voice.engines.vosk_strict import FREE, complete, strict_models
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment
from voice.templates.grammar import Grammar

NO_WHEEL = "vosk has no working package for macOS"

STEP_BYTES = SAMPLE_RATE // 5 * BYTES_PER_SAMPLE
"""vosk searches 0.2 s of sound at a time, counted from the first sample it is given."""


@dataclass(frozen=True, slots=True)
class VoskSpec:
    """Everything the child process needs to build the engine."""

    model: Path
    grammars: Mapping[str, Grammar] = field(default_factory=dict)
    runtime_grammar: bool = True
    """Whether the model takes a grammar at run time; without one it decodes freely. Of no account when strict."""
    name: str = "vosk"
    strict: bool = True
    """Whether strict models are made of the grammars where the model allows it."""
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """The definition's own, beside the dictionary's."""
    cache: Path | None = None
    """Where strict models are kept; without it in the user's cache folder."""

    def build(self) -> VoskEngine:
        """Called in the child process."""
        return VoskEngine(self)


def available() -> bool:
    """Whether vosk can be used on this system at all."""
    return sys.platform != "darwin"


class VoskEngine:
    """One recogniser, of the grammar that was last asked for: a strict model holds the whole net once more."""

    def __init__(self, spec: VoskSpec) -> None:
        if not available():
            raise EngineError(NO_WHEEL, "use --engine people")
        try:
            import vosk
        except (ImportError, OSError) as error:
            raise EngineError(f"vosk cannot be loaded ({error})", "install it again, or use --engine people") from None
        vosk.SetLogLevel(-2)  # its warnings would be written across the room's screen
        self.name = spec.name
        self._vosk, self._spec = vosk, spec
        self._model: Any = None
        """The one for every grammar, where the grammars are not strict."""
        self._ready: tuple[str, _Recogniser] | None = None
        """The grammar, and who hears with it."""
        if not spec.model.is_dir():
            raise EngineError(f"{spec.model}: there is no model here", "see tamponade models")
        self.strict = spec.strict and bool(spec.grammars) and kind_of(spec.model) is not ModelKind.FIXED
        """Whether only the grammars' phrases can be heard."""
        self._folders: Mapping[str, Path] = {}
        if self.strict:
            self._folders = strict_models(spec.model, spec.grammars, spec.pronunciations, spec.cache)
        for first in [*spec.grammars][:1]:  # what is wrong with a model shows now and not when somebody speaks
            self._recogniser(first)
        if not spec.grammars:
            self._whole_model()
        self._free: _Recogniser | None = None
        if FREE in self._folders:
            self._free = self._strict(FREE)

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """Decodes one whole segment; where an unknown word is heard, there are no words: it was none of the phrases.

        `closely`: with how likely the sound is without any grammar.
        """
        heard = self._heard(segment, grammar)
        if not closely or not heard.words or self._free is None:
            return heard
        return replace(heard, free=self._free.hear(self.name, segment).score)

    def follow(self, so_far: Segment, grammar: str) -> str:
        """Hears an utterance while it is being said, so that little is left to do when it is over. The words so far."""
        words = self._recogniser(grammar).follow(so_far)
        if self._free is not None:
            self._free.follow(so_far)
        return words

    def prepare(self, grammar: str) -> None:
        """Makes ready to hear with this grammar."""
        self._recogniser(grammar)

    def close(self) -> None:
        """The models are freed with the process."""

    def missing_words(self, grammar: Grammar) -> tuple[str, ...]:
        """Words of the grammar that the model cannot hear."""
        if self.strict:
            return missing_words(self._spec.model, grammar.words)
        model = self._whole_model()
        return tuple(sorted(word for word in grammar.words if not _knows(model, word)))

    def _heard(self, segment: Segment, grammar: str) -> Utterance:
        return self._whole(self._recogniser(grammar).hear(self.name, segment), grammar)

    def _whole(self, heard: Utterance, grammar: str) -> Utterance:
        """Sound that ends within a phrase leaves vosk with the beginning of one, which can be another phrase."""
        if not self.strict:
            return heard
        whole = tuple(rival for rival in heard.rivals if complete(self._spec.grammars, grammar, rival.words))
        words = heard.words if complete(self._spec.grammars, grammar, heard.texts) else ()
        return replace(heard, words=words, rivals=whole)

    def _recogniser(self, grammar: str) -> _Recogniser:
        if self._ready is None or self._ready[0] != grammar:
            self._ready = None  # what it held is free before more is taken
            self._ready = grammar, self._strict(grammar) if self.strict else self._loose(grammar)
        return self._ready[1]

    def _strict(self, grammar: str) -> _Recogniser:
        folder = self._folders[grammar]
        with self._told(folder):
            return _Recogniser(self._vosk.KaldiRecognizer(self._loaded(folder), float(SAMPLE_RATE)))

    def _loose(self, grammar: str) -> _Recogniser:
        model, arguments = self._whole_model(), []
        if self._spec.runtime_grammar:
            arguments.append(_phrase_list(model, self._spec.model, self._spec.grammars[grammar]))
        with self._told(self._spec.model):
            return _Recogniser(self._vosk.KaldiRecognizer(model, float(SAMPLE_RATE), *arguments))

    def _whole_model(self) -> Any:
        if self._model is None:
            self._model = self._loaded(self._spec.model)
        return self._model

    def _loaded(self, folder: Path) -> Any:
        with self._told(folder):
            return self._vosk.Model(model_path=str(folder))

    @contextlib.contextmanager
    def _told(self, folder: Path) -> Iterator[None]:
        """Problems of a model's files, or of those that were made of it."""
        try:
            yield
        except Exception:  # the binding raises nothing more particular
            again = "remove it and add it again: tamponade models add"
            made_of_it = f"delete {folder.parent}; if that does not help, {again}"
            raise EngineError(
                f"{self._spec.model}: vosk cannot load this model", made_of_it if self.strict else again
            ) from None


class _Recogniser:
    """One of vosk's recognisers; its times count from the first sample it ever took."""

    def __init__(self, recogniser: Any) -> None:
        self._recogniser = recogniser
        self._recogniser.SetMaxAlternatives(RIVALS)
        self._recogniser.SetWords(True)
        self._taken = self._before = 0
        """Samples that it was given in all, and before the present segment."""
        self._followed = b""
        """Sound taken of the present segment."""
        self._left = b""
        """Sound not given yet, because it is not a whole step."""

    def follow(self, so_far: Segment) -> str:
        """Takes what is new of a segment that is not over, in vosk's own steps: what is heard in the end is the same as
        if all came at once. Gives the words so far; none while it refuses them.
        """
        self._begin(so_far)
        self._take(so_far.pcm[: len(so_far.pcm) // STEP_BYTES * STEP_BYTES])
        words = str(json.loads(self._recogniser.PartialResult()).get("partial", ""))
        return "" if UNKNOWN in words.split() else words

    def hear(self, engine: str, segment: Segment) -> Utterance:
        """The likeliest words of one whole segment, and the other ways to hear it."""
        self._begin(segment)
        self._take(segment.pcm)
        before = self._before / SAMPLE_RATE
        return utterance(self._end(), engine, segment, before)

    def _begin(self, segment: Segment) -> None:
        if not segment.pcm.startswith(self._followed):
            self._end()

    def _take(self, pcm: bytes) -> None:
        new, self._followed = pcm[len(self._followed) :], pcm
        self._left += new
        self._give(len(self._left) // STEP_BYTES * STEP_BYTES)

    def _give(self, size: int) -> None:
        if size:
            self._recogniser.AcceptWaveform(self._left[:size])  # it may say the speech is over; unasked, it goes on
            self._taken += size // BYTES_PER_SAMPLE
            self._left = self._left[size:]

    def _end(self) -> str:
        self._give(len(self._left))
        self._followed, self._before = b"", self._taken
        return str(self._recogniser.FinalResult())


def _knows(model: Any, word: str) -> bool:
    return bool(model.vosk_model_find_word(word) >= 0)


def _phrase_list(model: Any, path: Path, grammar: Grammar) -> str:
    """The grammar as vosk takes it. A word the model lacks would be dropped in silence and change the meaning."""
    words = {word for text in grammar.examples for word in text.split()}
    missing = {word for word in words if not _knows(model, word)}
    usable = [text for text in grammar.examples if not missing.intersection(text.split())]
    if not usable:
        raise EngineError(f"{path}: this model knows none of the phrases", "install an English model")
    unknown = [UNKNOWN] if _knows(model, UNKNOWN) else []
    return json.dumps([*usable, *unknown])


def utterance(result: str, engine: str, segment: Segment, before: float = 0.0) -> Utterance:
    """vosk's answer as an utterance. Raises EngineError if it is not what vosk is documented to answer.

    `before`: seconds of sound that the recogniser had taken earlier; its times count from the first of them.
    """
    shift = segment.start - before
    try:
        found = [
            (float(way["confidence"]), [(str(w["word"]), float(w["start"]), float(w["end"])) for w in way["result"]])
            for way in json.loads(result)["alternatives"]
            if way["text"]
        ]
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise EngineError(
            f"vosk gave an unreadable answer ({type(error).__name__}: {result[:60]!r})",
            "report it; use --engine people meanwhile",
        ) from None
    if not found:
        return Utterance((), engine, segment.start, segment.end)
    score, best = found[0]
    refused = any(text == UNKNOWN for text, _, _ in best)
    words = () if refused else tuple(Word(text, shift + start, shift + end) for text, start, end in best)
    others = ((least, tuple(text for text, _, _ in way)) for least, way in found[1:])
    rivals = tuple(Rival(() if UNKNOWN in texts else texts, score - least) for least, texts in others)
    return Utterance(words, engine, segment.start, segment.end, score=score, rivals=rivals)
