"""The way from sound to meaning: a segment goes to every engine at once, what they heard is read by the definition's
phrases, and doubts are settled or turned into questions.

How far an engine is believed depends on how likely the log is meant (`Ears.thresholds_in`): after the lead word even
what is badly heard is worth a question; where nothing says so, a question that talk caused is in the way of the next
answer.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

from log.basics.entry import NotUnderstood, Question
from log.basics.errors import EngineError
from voice.engines.beam import Beam
from voice.engines.models import people_model
from voice.engines.people import PeopleSpec
from voice.engines.process import EngineProcess
from voice.engines.protocol import Utterance
from voice.engines.vosk import VoskSpec
from voice.meaning.evidence import Evidence
from voice.meaning.kept_grammars import kept_grammars
from voice.meaning.matcher import Listening
from voice.meaning.parallel import Call, Early, collect, sent, together
from voice.meaning.thresholds import IN_TALK, PUSH_TO_TALK, WITH_LEAD_WORD, Thresholds
from voice.meaning.verdict import Hearing, judged
from voice.phrases.language import spoken_sentences
from voice.phrases.phrases import Phrases
from voice.sound.segment import Segment
from voice.templates.grammar import ASKED, ENTRIES, NUMBER, Grammar

EngineChoice = Literal["auto", "vosk", "people", "pocketsphinx", "both"]
"""pocketsphinx is another name for people: what hears without vosk."""


class Ears:
    """The engines, each in its own process, and how they are combined. Use as a context manager.

    With a vosk model its net and people-en hear side by side (`auto`, `both`), or the net alone
    (`vosk`). Without one, people-en is alone (`auto`, `people`).
    """

    loading = False
    """Once made, they are there."""

    def __init__(
        self,
        phrases: Phrases,
        lead_word: str | None,
        engine: EngineChoice = "auto",
        model: Path | None = None,
        runtime_grammar: bool = True,
        thresholds: Thresholds | None = None,
        beam: Beam | None = None,
    ) -> None:
        """`beam`: how far people-en searches, where that is further than while somebody waits."""
        self.phrases = phrases
        self.lead_word = lead_word
        pronunciations = phrases.procedure.pronunciations
        self.notes: list[str] = []
        """Notes for the user on the choice of engines."""
        if model is None and engine in ("vosk", "both"):
            raise EngineError("no vosk model is installed", "add one (tamponade models add), or use --engine people")
        self._net: EngineProcess | None = None
        self._people: EngineProcess | None = None
        self._early: Early | None = None
        self._known: Evidence | None = None
        """What the engines heard of a segment that was begun early."""
        self._partly = False
        """The first engine was asked for the words so far."""
        self._expected = ENTRIES
        """Grammar that the engines are ready for."""
        self.thresholds = thresholds
        said = kept_grammars(phrases, lead_word)
        self._entry = said[ENTRIES].entry
        with contextlib.ExitStack() as unless_kept:  # both load at the same time
            if engine != "vosk":
                sentences = spoken_sentences(phrases, lead_word)
                self._people = EngineProcess(
                    PeopleSpec(people_model(), said, pronunciations, sentences=sentences, beam=beam or Beam())
                )
                unless_kept.callback(self._people.close)
            if model is not None and engine in ("auto", "vosk", "both"):
                spec = VoskSpec(model, said, runtime_grammar, pronunciations=pronunciations)
                self._net = self._vosk(spec, said[ENTRIES], needed=engine != "auto")
                if self._net is not None:
                    unless_kept.callback(self._net.close)
            if self._people is not None:
                self._people.wait()
            unless_kept.pop_all()

    def _vosk(self, spec: VoskSpec, grammar: Grammar, needed: bool) -> EngineProcess | None:
        """A model that lacks words of the phrases would mishear them without a sign, so it is used only on demand."""
        engine = EngineProcess(spec)
        try:
            engine.wait()
            engine.ask("missing_words", grammar)
            missing = engine.answer()
        except EngineError as error:
            engine.close()
            if needed:
                raise
            self.notes.append(f"{spec.model.name} is not used: {error}")
            return None
        if missing and not needed:
            engine.close()
            self.notes.append(
                f"{spec.model.name} is not used: it cannot hear {len(missing)} words of the phrases "
                f"({', '.join(missing[:5])} ...)"
            )
            return None
        if missing:
            self.notes.append(
                f"{spec.model.name} cannot hear {len(missing)} words of the phrases: {', '.join(missing)}"
            )
        return engine

    @property
    def _engines(self) -> list[EngineProcess]:
        """Those that are asked."""
        return [engine for engine in (self._net, self._people) if engine is not None]

    @property
    def names(self) -> tuple[str, ...]:
        """The engines that are asked."""
        return tuple(engine.name for engine in self._engines)

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        """The hearing of one segment. Raises EngineError when an engine fails twice in a row."""
        return self.judge(self.gather(segment, listening), listening)

    def early(self, segment: Segment, listening: Listening) -> None:
        """Has the engines begin with a segment that is probably whole; `hear` of the same segment then waits less."""
        self._forget()
        calls = self._calls(segment, _grammar(listening))
        self._early = Early(segment, listening, calls, [sent(call) for call in calls])

    def heard_early(self) -> Hearing | None:
        """The hearing of what was begun early, once; None while it is not known. Raises EngineError."""
        early = self._early
        if early is None or self._known is not None or not all(engine.answered() for engine in self._engines):
            return None
        self._early = None  # its answers are taken, or are lost with an engine that failed
        self._known = self._evidence(early.segment, collect(early.calls, early.were_sent))
        self._early = early
        return self.judge(self._known, early.listening)

    def is_whole(self, hearing: Hearing, listening: Listening) -> bool:
        """Whether it is logged as it is, and the grammar knows no word that could follow."""
        if _grammar(listening) != ENTRIES or isinstance(hearing.meaning, NotUnderstood):
            return False
        asked = any(isinstance(item, Question) for item in hearing.meaning.items)
        return not asked and self._entry.ends_with(hearing.text.split())

    def gather(self, segment: Segment, listening: Listening) -> Evidence:
        """The hearings of every engine. Raises EngineError when one fails twice in a row."""
        early, known, self._known = self._early, self._known, None
        if early is None or early.of != (segment.first_sample, segment.pcm, listening):
            self._forget()
            return self._evidence(segment, together(self._calls(segment, _grammar(listening))))
        self._early = None
        if known is not None:
            return replace(known, segment=segment)
        return self._evidence(segment, collect(early.calls, early.were_sent))

    def _evidence(self, segment: Segment, heard: Sequence[Utterance]) -> Evidence:
        ears = ("net",) * (self._net is not None) + ("people",) * (self._people is not None)
        return Evidence(segment, **dict(zip(ears, heard, strict=True)))

    def _calls(self, segment: Segment, grammar: str) -> list[Call]:
        return [(engine, "hear", (segment, grammar)) for engine in self._engines]

    def _forget(self) -> None:
        """Whatever the engines were asked without waiting for it is of no use any more."""
        self._early, self._known, self._partly = None, None, False
        for engine in self._engines:
            engine.forget()

    def judge(self, evidence: Evidence, listening: Listening) -> Hearing:
        """The verdict on all of it."""
        return judged(self.phrases, evidence, listening, self.thresholds_in(listening), "+".join(self.names))

    def thresholds_in(self, listening: Listening) -> Thresholds:
        """How far to believe what is heard: those that were given, else by how likely it is that the log is meant."""
        if self.thresholds is not None:
            return self.thresholds
        if listening.in_talk or (listening.lead_word is not None and listening.question_open):
            return IN_TALK  # an answer needs no lead word
        return WITH_LEAD_WORD if listening.lead_word is not None else PUSH_TO_TALK

    def expect(self, listening: Listening) -> None:
        """Nobody speaks yet: has the engines make ready for what would be said now. Does not wait."""
        grammar = _grammar(listening)
        if grammar == self._expected:
            return
        self._expected = grammar
        for engine in self._engines:
            with contextlib.suppress(EngineError):  # it is reported when there is something to hear
                engine.ask("prepare", grammar)
                engine.forget()

    @property
    def step(self) -> float:
        """Seconds of speech after which `partly` is worth its while; the people's ear begins anew each time."""
        return 0.3 if self._net is not None else 0.6

    def partly(self, so_far: Segment, listening: Listening) -> bool:
        """Has the first engine hear an utterance that is still being said: for the screen, and so that less is left
        to do in the end. False while it is busy with an earlier part of it. Does not wait.
        """
        if self._partly:
            return False
        self._forget()
        with contextlib.suppress(EngineError):  # it is reported when the whole utterance is heard
            self._engines[0].ask("follow", so_far, _grammar(listening))
            self._partly = True
        return True

    def words_so_far(self) -> str | None:
        """The result of `partly`, once; None while it is not known. Raises EngineError."""
        if not self._partly or not self._engines[0].answered():
            return None
        self._partly = False
        return str(self._engines[0].answer())

    def close(self) -> None:
        """Ends all engines."""
        for engine in self._engines:
            engine.close()

    def __enter__(self) -> Ears:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _grammar(listening: Listening) -> str:
    return NUMBER if listening.number_due else ASKED if listening.question_open else ENTRIES
