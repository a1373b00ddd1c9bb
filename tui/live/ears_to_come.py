"""Ears that are still being loaded: the room is listened to from the first moment, and what is said is heard once they
are there.
"""

from __future__ import annotations

from concurrent.futures import Future
from typing import Protocol

from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.meaning.verdict import Hearing
from voice.phrases.phrases import Phrases
from voice.sound.segment import Segment

STEP = 0.6
"""Seconds of speech between two looks for words so far, while there are none."""


class Hearer(Protocol):
    """What hears segments of speech; see `Ears`, which is one."""

    @property
    def phrases(self) -> Phrases:
        """What can be said."""
        ...

    @property
    def lead_word(self) -> str | None:
        """The word before an entry."""
        ...

    @property
    def step(self) -> float:
        """Seconds of speech after which `partly` is worth its while."""
        ...

    @property
    def loading(self) -> bool:
        """Whether it takes a while until anything is heard."""
        ...

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        """The hearing of one segment. Raises EngineError."""
        ...

    def early(self, segment: Segment, listening: Listening) -> None:
        """A head start with a segment that is probably whole."""
        ...

    def heard_early(self) -> Hearing | None:
        """The hearing of that, once it is known. Raises EngineError."""
        ...

    def is_whole(self, hearing: Hearing, listening: Listening) -> bool:
        """Whether it is logged as it is and nothing can follow it."""
        ...

    def expect(self, listening: Listening) -> None:
        """Makes ready for what would be said now."""
        ...

    def partly(self, so_far: Segment, listening: Listening) -> bool:
        """Begins with an utterance that is still being said; False if it cannot now."""
        ...

    def words_so_far(self) -> str | None:
        """The words of that."""
        ...


class EarsToCome:
    """Keeps whoever has said something waiting until they are there; without speech nobody waits."""

    def __init__(self, phrases: Phrases, lead_word: str | None, coming: Future[Ears]) -> None:
        self.phrases, self.lead_word, self._coming = phrases, lead_word, coming

    @property
    def loading(self) -> bool:
        """Whether they are not there yet."""
        return not self._coming.done()

    @property
    def step(self) -> float:
        """As long as theirs once they are there."""
        return STEP if self.loading else self._coming.result().step

    def hear(self, segment: Segment, listening: Listening) -> Hearing:
        """Waits for them. Raises EngineError, also where they could not be loaded."""
        return self._coming.result().hear(segment, listening)

    def early(self, segment: Segment, listening: Listening) -> None:
        """Nothing can be begun before they are there."""
        if not self.loading:
            self._coming.result().early(segment, listening)

    def heard_early(self) -> Hearing | None:
        """None before they are there. Raises EngineError."""
        return None if self.loading else self._coming.result().heard_early()

    def is_whole(self, hearing: Hearing, listening: Listening) -> bool:
        """False before they are there."""
        return not self.loading and self._coming.result().is_whole(hearing, listening)

    def expect(self, listening: Listening) -> None:
        """The same. Raises EngineError where they could not be loaded: nobody has to speak to learn that."""
        if not self.loading:
            self._coming.result().expect(listening)

    def partly(self, so_far: Segment, listening: Listening) -> bool:
        """False before they are there."""
        return not self.loading and self._coming.result().partly(so_far, listening)

    def words_so_far(self) -> str | None:
        """None before they are there."""
        return None if self.loading else self._coming.result().words_so_far()
