"""The way from sound to meaning: a segment goes to every engine at once, what they heard is read by the definition's
phrases, and doubts are settled or turned into questions.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from log.errors import EngineError
from log.spoken import Meaning, NotUnderstood
from voice.doubt import DEFAULT, Thresholds, agreed, confidence, doubted
from voice.engine_process import EngineProcess
from voice.grammar import ASKED, ENTRIES, NUMBER, compile_grammars
from voice.matcher import Situation, understand
from voice.phrases import Phrases
from voice.recogniser import Segment, Utterance
from voice.sphinx_engine import OPEN, SphinxSpec
from voice.vosk_engine import VoskSpec

EngineChoice = Literal["auto", "vosk", "pocketsphinx", "both"]


@dataclass(frozen=True, slots=True)
class Hearing:
    """What was made of one segment."""

    segment: Segment
    meaning: Meaning
    text: str
    """The words of the engine that was believed."""
    engine: str
    confidence: float
    said_at: float
    """Seconds from the start of the source to the first word."""


class Ears:
    """The engines, each in its own process, and how they are combined. Use as a context manager."""

    def __init__(
        self, phrases: Phrases, lead_word: str | None, engine: EngineChoice = "auto", model: Path | None = None,
        runtime_grammar: bool = True, thresholds: Thresholds = DEFAULT,
    ) -> None:
        self.phrases = phrases
        self.lead_word = lead_word
        self.thresholds = thresholds
        grammars = compile_grammars(phrases, lead_word)
        pronunciations = phrases.procedure.pronunciations
        self._engines: list[EngineProcess] = []
        if model is not None and engine != "pocketsphinx":
            self._engines.append(EngineProcess(VoskSpec(model, grammars, runtime_grammar)))
        elif engine in ("vosk", "both"):
            raise EngineError("no vosk model is installed", "add one: tamponade models add PATH, or use --engine pocketsphinx")
        if engine != "vosk" or model is None:
            self._engines.append(EngineProcess(SphinxSpec(grammars, pronunciations)))
        self._open = EngineProcess(SphinxSpec({}, pronunciations, hears_openly=True, name="pocketsphinx (open)"))

    @property
    def names(self) -> tuple[str, ...]:
        """The engines that are asked, the most trusted first."""
        return tuple(engine.name for engine in self._engines)

    def hear(self, segment: Segment, situation: Situation) -> Hearing:
        """What was said in one segment. Raises EngineError when an engine fails twice in a row."""
        grammar = NUMBER if situation.number_due else ASKED if situation.asked else ENTRIES
        questions = [(engine, grammar) for engine in self._engines] + [(self._open, OPEN)]
        heard = self._asked_together(segment, questions)
        *strict, freely = heard
        believed = [self._judged(utterance, freely, situation) for utterance in strict]
        meaning, sure = believed[0]
        for other, other_sure in believed[1:]:
            meaning, sure = agreed(meaning, other), min(sure, other_sure)
        words = strict[0].words
        said_at = words[0].start if words else segment.start
        return Hearing(segment, meaning, strict[0].text, "+".join(self.names), round(sure, 3), said_at)

    def close(self) -> None:
        """Ends all engines."""
        for engine in (*self._engines, self._open):
            engine.close()

    def __enter__(self) -> Ears:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _asked_together(self, segment: Segment, questions: list[tuple[EngineProcess, str]]) -> list[Utterance]:
        """All engines work on the segment at the same time; one that fails is started again and asked once more."""
        failed: list[EngineProcess] = []
        for engine, grammar in questions:
            try:
                engine.ask("hear", segment, grammar)
            except EngineError:
                failed.append(engine)
        heard: list[Utterance] = []
        for engine, grammar in questions:
            try:
                if engine in failed:
                    raise EngineError("failed")
                heard.append(engine.answer())
            except EngineError:
                engine.restart()
                heard.append(engine.hear(segment, grammar))
        return heard

    def _judged(self, utterance: Utterance, freely: Utterance, situation: Situation) -> tuple[Meaning, float]:
        words = tuple(word.text for word in utterance.words)
        if not words:
            return NotUnderstood(heard=""), 0.0
        meaning = understand(self.phrases, words, situation)
        sure = self._confidence(words, tuple(word.text for word in freely.words))
        return doubted(meaning, sure, self.thresholds), sure

    def _confidence(self, words: tuple[str, ...], freely: tuple[str, ...]) -> float:
        self._open.ask("phones", words)
        strict = self._open.answer()
        self._open.ask("phones", freely)
        return confidence(strict, self._open.answer())

