"""A speech engine as the rest of the program sees it: a segment of sound in, an utterance out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from voice.sound.segment import Segment


@dataclass(frozen=True, slots=True)
class Word:
    """One word as an engine heard it."""

    text: str
    start: float
    """Seconds from the start of the source."""
    end: float
    """Seconds from the start of the source."""
    confidence: float | None = None
    """0 to 1 where the engine gives one that means something, else None."""


RIVALS = 10
"""Ways to hear the same sound that an engine compares, the likeliest included."""


@dataclass(frozen=True, slots=True)
class Rival:
    """Another way to hear the same sound."""

    words: tuple[str, ...]
    """Empty where it is no phrase at all."""
    behind: float
    """How much less likely it is than the first, natural log; never negative."""
    phrase: bool = True
    """Whether it is one of the grammar's phrases; else it is a sentence as people say it."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """One engine's hearing of one segment. No words means that nothing was heard that the grammar allows."""

    words: tuple[Word, ...]
    engine: str
    start: float
    end: float
    score: float = 0.0
    """Natural log likelihood of the words, to be compared with that of others for the same sound."""
    rivals: tuple[Rival, ...] = ()
    """Other ways to hear the same sound, the likeliest first."""
    free: float | None = None
    """Log likelihood of the sound where any sounds may follow each other; exactly 0 where not one was heard, None where
    that is not known."""
    phrase: bool = True
    """Whether the words are one of the grammar's phrases; else they are a sentence as people say it."""

    @property
    def texts(self) -> tuple[str, ...]:
        """The words without their times."""
        return tuple(word.text for word in self.words)

    @property
    def text(self) -> str:
        """The words as one string."""
        return " ".join(word.text for word in self.words)


class Recogniser(Protocol):
    """A speech engine, wherever it runs."""

    name: str

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """Decode one whole segment with the named grammar; `closely`: tell how well any sounds fit. Raises
        EngineError."""
        ...

    def close(self) -> None:
        """Let go of the engine; may be called twice."""
        ...
