"""One utterance heard a second time, with all the time there is: every reading that any ear finds near, how far the
ears believe each, and how likely the general recogniser thinks its words, where one is installed.

The general recogniser knows neither the phrases nor the ears' errors. It writes words of the trade badly ("castric"),
so it is asked above all which of the readings it heard: of two that differ in a number it knows better than free words.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache

from log.basics.entry import Meaning, NotUnderstood
from voice.engines.beam import Beam
from voice.engines.process import EngineProcess
from voice.engines.words import Draft, WordsSpec
from voice.english.numbers import SOUND_ALIKE, in_figures
from voice.meaning.ears import Ears
from voice.meaning.evidence import Evidence, Words, belief
from voice.meaning.matcher import Listening, understand
from voice.meaning.normalise import PAUSE, normalise
from voice.meaning.thresholds import same_meaning
from voice.meaning.verdict import may_be_meant, read_words
from voice.phrases.phrases import Phrases
from voice.sound.segment import Segment

NOTHING = NotUnderstood(heard="")

WIDE = Beam(behind=20.0, ways=2000)
"""The people's ear searches four times as many ways as while somebody waits."""

MOST_READINGS = 10
"""Readings that the general recogniser compares."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that may have been said."""

    meaning: Meaning
    words: Words
    sure: float
    """The ears' belief, 0 to 1."""
    chance: float | None = None
    """Natural log, the general recogniser's, to be compared with that of the others; None where it was not asked."""


@dataclass(frozen=True, slots=True)
class Again:
    """The result of the second hearing of one utterance."""

    evidence: Evidence
    readings: tuple[Reading, ...]
    """The likeliest first."""
    draft: Draft = field(default_factory=Draft)
    """The general recogniser's own words."""
    drafted: Meaning = NOTHING
    """The meaning of these."""


class SecondEars:
    """The ears with a wider search, and the general recogniser. Use as a context manager."""

    def __init__(self, ears: Ears, words: WordsSpec | None = None) -> None:
        """Takes the ears over, which search as far as WIDE, and closes them."""
        self._phrases, self._ears = ears.phrases, ears
        self._words: EngineProcess | None = None
        try:
            if words is not None:
                self._words = EngineProcess(words)
                self._words.wait()
        except BaseException:
            self.close()
            raise

    @property
    def names(self) -> str:
        """The engines that hear."""
        words = (self._words.name,) if self._words is not None else ()
        return "+".join((*self._ears.names, *words))

    @property
    def drafts(self) -> bool:
        """Whether free words are heard."""
        return self._words is not None

    def hear(self, segment: Segment, listening: Listening, also: Sequence[Words] = ()) -> Again:
        """`also`: words that are compared whether an ear hears them now or not: those of the log.

        Raises EngineError."""
        if self._words is not None:
            self._words.ask("draft", segment)
        evidence = self._ears.gather(segment, listening)
        draft = self._words.answer() if self._words is not None else Draft()
        readings = readings_of(self._phrases, evidence, listening, (*also, *_written(self._phrases, draft)))
        drafted = understand(self._phrases, draft.text, listening) if draft.text else NOTHING
        return Again(evidence, self._compared(segment, readings), draft, drafted)

    def draft(self, segment: Segment) -> Draft:
        """Free words alone; none without the general recogniser. Raises EngineError."""
        if self._words is None:
            return Draft()
        self._words.ask("draft", segment)
        draft: Draft = self._words.answer()
        return draft

    def _compared(self, segment: Segment, readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
        if self._words is None or not readings:
            return readings
        said = [way for one in readings for way in ways_to_write(one.words)]
        self._words.ask("likely", segment, said)
        chances = dict(zip(said, self._words.answer(), strict=True))
        return tuple(
            Reading(one.meaning, one.words, one.sure, max(chances[way] for way in ways_to_write(one.words)))
            for one in readings
        )

    def close(self) -> None:
        """Ends all engines."""
        self._ears.close()
        if self._words is not None:
            self._words.close()

    def __enter__(self) -> SecondEars:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _written(phrases: Phrases, draft: Draft) -> tuple[Words, ...]:
    """The ways in which the general recogniser wrote it, as the log's own words."""
    return tuple(tuple(word for word in normalise(phrases, way) if word != PAUSE) for way in draft.ways)


def _alike(words: Words) -> Iterator[Words]:
    """The same with a teen for a ten, or a ten for a teen."""
    for place, word in enumerate(words):
        if word in SOUND_ALIKE:
            yield (*words[:place], SOUND_ALIKE[word], *words[place + 1 :])


def readings_of(
    phrases: Phrases, evidence: Evidence, listening: Listening, also: Sequence[Words] = ()
) -> tuple[Reading, ...]:
    """Every reading once, of all that was heard and came near, the likeliest first; those of `also` in any case, and
    the sound-alikes of what was heard first."""

    @cache
    def read(words: Words) -> Meaning:
        return read_words(phrases, words, listening)

    found: list[Reading] = []
    heard = [said.texts for said in evidence.heard.values()]
    also = (*also, *(other for words in (*also, *heard) for other in _alike(words)))
    for words in (*also, *evidence.rivals):
        meaning = read(words)
        if isinstance(meaning, NotUnderstood) or any(same_meaning(meaning, one.meaning) for one in found):
            continue
        if words not in also and not may_be_meant(phrases, evidence, words, meaning, listening):
            continue
        found.append(Reading(meaning, words, belief(evidence, meaning, words, read, listening.number_due)))
    found.sort(key=lambda one: (one.words not in also, -one.sure))  # none of the log's is left out
    return tuple(sorted(found[:MOST_READINGS], key=lambda one: -one.sure))


def ways_to_write(words: Words) -> tuple[str, ...]:
    """The words as a writer may put them: with numbers in words and in figures."""
    return tuple(dict.fromkeys((" ".join(words), in_figures(words))))
