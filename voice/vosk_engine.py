"""The vosk engine, used when a model is installed. Only this module imports vosk.

Its run-time grammar is a statistical model estimated from phrases, not a strict grammar: words recombine across
phrases. So whatever it hears goes through our own strict parser like everything else.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from log.errors import EngineError
from voice.grammar import Grammar
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment, Utterance, Word

UNKNOWN = "[unk]"
"""The model's word for everything else."""

NO_WHEEL = "vosk has no working package for macOS"


@dataclass(frozen=True, slots=True)
class VoskSpec:
    """Everything the child process needs to build the engine."""

    model: Path
    grammars: Mapping[str, Grammar] = field(default_factory=dict)
    runtime_grammar: bool = True
    """Whether the model takes a grammar at run time; without one it decodes freely."""
    name: str = "vosk"

    def build(self) -> VoskEngine:
        """Called in the child process."""
        return VoskEngine(self)


def available() -> bool:
    """Whether vosk can be used on this system at all."""
    return sys.platform != "darwin"


class VoskEngine:
    """A model with one recogniser per grammar."""

    def __init__(self, spec: VoskSpec) -> None:
        if not available():
            raise EngineError(NO_WHEEL, "use --engine pocketsphinx")
        try:
            import vosk
        except (ImportError, OSError) as error:
            raise EngineError(
                f"vosk cannot be loaded ({error})", "install it again, or use --engine pocketsphinx"
            ) from None
        vosk.SetLogLevel(-1)
        self.name = spec.name
        self._model = _load(vosk, spec.model)
        self._recognisers: dict[str, Any] = {}
        self._taken: dict[str, int] = {}
        for grammar in spec.grammars.values():
            arguments = [self._model, float(SAMPLE_RATE)]
            if spec.runtime_grammar:
                arguments.append(self._phrase_list(spec.model, grammar))
            self._recognisers[grammar.name] = recogniser = vosk.KaldiRecognizer(*arguments)
            recogniser.SetWords(True)
            self._taken[grammar.name] = 0

    def hear(self, segment: Segment, grammar: str) -> Utterance:
        """Decodes one whole segment; unknown words are dropped, an utterance of nothing else has no words."""
        recogniser = self._recognisers[grammar]
        before = self._taken[grammar] / SAMPLE_RATE
        self._taken[grammar] += len(segment.pcm) // BYTES_PER_SAMPLE
        recogniser.AcceptWaveform(segment.pcm)
        return utterance(recogniser.FinalResult(), self.name, segment, before)

    def close(self) -> None:
        """The model is freed with the process."""

    def _phrase_list(self, path: Path, grammar: Grammar) -> str:
        """The grammar as vosk takes it. A word the model lacks would be dropped in silence and change the meaning."""
        words = {word for text in grammar.examples for word in text.split()}
        missing = {word for word in words if not self._knows(word)}
        usable = [text for text in grammar.examples if not missing.intersection(text.split())]
        if not usable:
            raise EngineError(f"{path}: this model knows none of the phrases", "install an English model")
        unknown = [UNKNOWN] if self._knows(UNKNOWN) else []
        return json.dumps([*usable, *unknown])

    def missing_words(self, grammar: Grammar) -> tuple[str, ...]:
        """Words of the grammar that the model cannot hear."""
        return tuple(sorted(word for word in grammar.words if not self._knows(word)))

    def _knows(self, word: str) -> bool:
        return bool(self._model.vosk_model_find_word(word) >= 0)


def _load(vosk: Any, path: Path) -> Any:
    if not path.is_dir():
        raise EngineError(f"{path}: there is no model here", "see tamponade models")
    try:
        return vosk.Model(model_path=str(path))
    except Exception:  # the binding raises nothing more particular
        raise EngineError(
            f"{path}: vosk cannot load this model", "remove it and add it again: tamponade models add"
        ) from None


def utterance(result: str, engine: str, segment: Segment, before: float = 0.0) -> Utterance:
    """What vosk answered, as an utterance. Raises EngineError if it is not what vosk is documented to answer.

    `before`: seconds of sound that the recogniser had taken earlier; its times count from the first of them.
    """
    shift = segment.start - before
    try:
        answer = json.loads(result)
        found = answer["result"] if answer["text"] else ()
        words = tuple(
            Word(str(w["word"]), shift + float(w["start"]), shift + float(w["end"]), float(w["conf"]))
            for w in found
            if w["word"] != UNKNOWN
        )
        refused = any(w["word"] == UNKNOWN for w in found)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise EngineError(
            f"vosk answered something unreadable ({type(error).__name__}: {result[:60]!r})",
            "report it; use --engine pocketsphinx meanwhile",
        ) from None
    return Utterance(() if refused else words, engine, segment.start, segment.end)
