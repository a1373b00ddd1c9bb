"""The way from sound to meaning: a segment goes to every engine at once, what they heard is read by the definition's
phrases, and doubts are settled or turned into questions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from log.errors import EngineError
from log.spoken import Meaning, NotUnderstood, Understood
from voice.doubt import OPEN_MICROPHONE, PUSH_TO_TALK, Thresholds, agreed, confidence, doubted, same_meaning, similarity
from voice.engine_process import EngineProcess
from voice.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar, compile_grammars
from voice.matcher import Situation, understand
from voice.phrases import Phrases
from voice.recogniser import Segment, Utterance
from voice.sphinx_engine import SecondEarSpec, SecondHearing, SphinxSpec
from voice.vosk_engine import VoskSpec

EngineChoice = Literal["auto", "vosk", "pocketsphinx", "both"]

TWO_ENTRIES_SECONDS = 2.0
"""Shorter segments cannot hold two entries."""

TWO_ENTRIES_MARGIN = 0.12


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
        self,
        phrases: Phrases,
        lead_word: str | None,
        engine: EngineChoice = "auto",
        model: Path | None = None,
        runtime_grammar: bool = True,
        thresholds: Thresholds | None = None,
    ) -> None:
        self.phrases = phrases
        self.lead_word = lead_word
        self.thresholds = thresholds or (OPEN_MICROPHONE if lead_word else PUSH_TO_TALK)
        grammars = compile_grammars(phrases, lead_word)
        pronunciations = phrases.procedure.pronunciations
        self._engines: list[EngineProcess] = []
        self._ready: set[EngineProcess] = set()
        self.notes: list[str] = []
        """What the user should know of the choice of engines."""
        if model is None and engine in ("vosk", "both"):
            raise EngineError(
                "no vosk model is installed", "add one (tamponade models add), or use --engine pocketsphinx"
            )
        if model is not None and engine != "pocketsphinx":
            self._add_vosk(VoskSpec(model, grammars, runtime_grammar), grammars[ENTRIES], needed=engine != "auto")
        if engine != "vosk":
            self._engines.append(EngineProcess(SphinxSpec(grammars, pronunciations)))
        self._second_ear = EngineProcess(SecondEarSpec(grammars, pronunciations))
        try:
            for started in {*self._engines, self._second_ear} - self._ready:
                started.wait()
        except EngineError:
            self.close()
            raise

    def _add_vosk(self, spec: VoskSpec, grammar: Grammar, needed: bool) -> None:
        """A model that lacks words of the phrases would mishear them without a sign, so it is used only on demand."""
        engine = EngineProcess(spec)
        try:
            engine.wait()
            engine.ask("missing_words", grammar)
            missing = engine.answer()
        except EngineError:
            engine.close()
            raise
        if missing and not needed:
            engine.close()
            self.notes.append(
                f"{spec.model.name} is not used: it cannot hear {len(missing)} words of the phrases "
                f"({', '.join(missing[:5])} ...)"
            )
            return
        if missing:
            self.notes.append(
                f"{spec.model.name} cannot hear {len(missing)} words of the phrases: {', '.join(missing)}"
            )
        self._engines.append(engine)
        self._ready.add(engine)

    @property
    def names(self) -> tuple[str, ...]:
        """The engines that are asked, the most trusted first."""
        return tuple(engine.name for engine in self._engines)

    def hear(self, segment: Segment, situation: Situation) -> Hearing:
        """What was said in one segment. Raises EngineError when an engine fails twice in a row."""
        grammar = _grammar(situation)
        calls: list[Call] = [(engine, "hear", (segment, grammar)) for engine in self._engines]
        if grammar == ENTRIES and segment.seconds >= TWO_ENTRIES_SECONDS:
            calls.append((self._engines[-1], "hear", (segment, BREATH)))
        *heard, second = _together([*calls, (self._second_ear, "check", (segment, grammar))])
        judged = [self._judged(utterance, second, situation) for utterance in heard]
        if len(heard) > len(self._engines):
            judged[-2:] = [_better(*judged[-2:])]
        believed = judged[0]
        for other in judged[1:]:
            meaning = agreed(believed.meaning, other.meaning)
            believed = replace(believed, meaning=meaning, sure=min(believed.sure, other.sure))
        words = believed.utterance.words
        return Hearing(
            segment,
            believed.meaning,
            believed.utterance.text,
            "+".join(self.names),
            round(believed.sure, 3),
            words[0].start if words else segment.start,
        )

    def partly(self, so_far: Segment, situation: Situation) -> str:
        """The words of an utterance that is still being said, for the screen alone. Raises EngineError."""
        return self._engines[-1].hear(so_far, _grammar(situation)).text

    def close(self) -> None:
        """Ends all engines."""
        for engine in (*self._engines, self._second_ear):
            engine.close()

    def __enter__(self) -> Ears:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _judged(self, utterance: Utterance, second: SecondHearing, situation: Situation) -> _Judged:
        """What one engine heard, with the doubts about it."""
        words = tuple(word.text for word in utterance.words)
        if not words:
            return _Judged(utterance, NotUnderstood(heard=""), 0.0)
        meaning = understand(self.phrases, words, situation)
        copies = (*utterance.alternatives, second.raw) if utterance.alternatives else ()
        agreement = [float(same_meaning(meaning, understand(self.phrases, copy, situation))) for copy in copies]
        agreement += [word.confidence for word in utterance.words if word.confidence is not None]
        sure = confidence(self._similarity(words, second.openly), agreement)
        return _Judged(utterance, doubted(meaning, sure, self.thresholds), sure)

    def _similarity(self, words: tuple[str, ...], openly: tuple[str, ...]) -> float:
        strict, free = _together([(self._second_ear, "phones", (said,)) for said in (words, openly)])
        return similarity(strict, free)


def _grammar(situation: Situation) -> str:
    return NUMBER if situation.number_due else ASKED if situation.asked else ENTRIES


@dataclass(frozen=True, slots=True)
class _Judged:
    """One engine's utterance with its meaning and how far it is believed."""

    utterance: Utterance
    meaning: Meaning
    sure: float


def _better(one: _Judged, two: _Judged) -> _Judged:
    """One entry or two in a breath: two only if that sounds clearly more like what was said."""
    pair = isinstance(two.meaning, Understood) and len(two.meaning.items) > 1
    return two if pair and two.sure > one.sure + TWO_ENTRIES_MARGIN else one


Call = tuple[EngineProcess, str, tuple[object, ...]]
"""Whom to ask, what, and with which arguments."""


def _together(calls: Sequence[Call]) -> list[Any]:
    """All answers, the engines working at the same time; one that fails is started again and asked once more.

    Raises EngineError when that fails too, but only after every other engine has answered: an answer left behind
    would be taken for the next segment's.
    """
    asked = [_asked(call) for call in calls]
    answers, failure = [], None
    restarted: set[EngineProcess] = set()
    for call, sent in zip(calls, asked, strict=True):
        try:
            answers.append(_answered(call, sent, restarted))
        except EngineError as error:
            failure = error
    if failure is not None:
        raise failure
    return answers


def _asked(call: Call) -> bool:
    engine, method, arguments = call
    try:
        engine.ask(method, *arguments)
    except EngineError:
        return False
    return True


def _answered(call: Call, sent: bool, restarted: set[EngineProcess]) -> Any:
    engine, method, arguments = call
    if sent and engine not in restarted:
        try:
            return engine.answer()
        except EngineError:
            pass
    if engine not in restarted:
        restarted.add(engine)
        engine.restart()
    engine.ask(method, *arguments)
    return engine.answer()
