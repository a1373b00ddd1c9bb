"""Messages from the hearing and the writing thread to the screen. Each message carries the record and the course it led
to, so that the screen never shows one of them newer than the other.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from textual.message import Message

from log.basics.errors import TamponadeError
from log.facts.events import Fact
from log.facts.record import Record
from log.rules.course import Course
from log.scribe.session import Session
from tui.live.view import State
from voice.meaning.matcher import asked_of_the_log
from voice.meaning.verdict import Hearing
from voice.sound.endpoint import level_db
from voice.sound.sound_check import SoundCheckResult

LEVEL_EVERY = 6
"""Frames between two readings of the meter: five a second."""

CLIPPED = 32_700


class Grown(Message):
    """Something reached the log, or was heard in vain."""

    def __init__(self, facts: tuple[Fact, ...], record: Record, course: Course, asked: tuple[str, ...] = ()) -> None:
        """`asked`: what was asked of the log itself."""
        super().__init__()
        self.facts, self.record, self.course, self.asked = facts, record, course, asked


class EarChanged(Message):
    """The state of the ear."""

    def __init__(self, state: State, why: str) -> None:
        super().__init__()
        self.state, self.why = state, why


class Partly(Message):
    """Words being said."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


class Loudness(Message):
    """How loud it is."""

    def __init__(self, db: float, clipped: bool) -> None:
        super().__init__()
        self.db, self.clipped = db, clipped


class Failed(Message):
    """Something that the people in the room have to know."""

    def __init__(self, error: TamponadeError) -> None:
        super().__init__()
        self.error = error


class Checked(Message):
    """How well the room can be heard."""

    def __init__(self, result: SoundCheckResult) -> None:
        super().__init__()
        self.result = result


class RehearsalOver(Message):
    """The rehearsal has come to its end."""


class Messenger:
    """The room's View: whatever the other threads report becomes a message to the screen."""

    def __init__(self, session: Session, post: Callable[[Message], object]) -> None:
        self._session, self._post, self._frames = session, post, 0

    def state(self, state: State, why: str = "") -> None:
        """The state of the ear."""
        self._post(EarChanged(state, why))

    def level(self, pcm: bytes) -> None:
        """A frame of sound; a few a second are enough for the meter."""
        self._frames += 1
        if self._frames % LEVEL_EVERY == 0:
            self._post(Loudness(level_db(pcm), _clipped(pcm)))

    def partial(self, words: str) -> None:
        """Words being said."""
        self._post(Partly(words))

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it."""
        self._grown(facts, asked_of_the_log(hearing.meaning))

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said; they are on disk."""
        self._grown(facts)

    def checked(self, result: SoundCheckResult) -> None:
        """How well the room can be heard."""
        self._post(Checked(result))

    def rehearsal_over(self) -> None:
        """The rehearsal has come to its end."""
        self._post(RehearsalOver())

    def failed(self, error: TamponadeError) -> None:
        """Something that the people in the room have to know."""
        self._post(Failed(error))

    def _grown(self, facts: tuple[Fact, ...], asked: tuple[str, ...] = ()) -> None:
        self._post(Grown(facts, self._session.record, self._session.course, asked))


def _clipped(pcm: bytes) -> bool:
    return bool(np.abs(np.frombuffer(pcm, "<i2").astype(np.int32)).max(initial=0) > CLIPPED)
