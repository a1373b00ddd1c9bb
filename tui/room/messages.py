"""What the hearing and the writing thread tell the screen. Each message carries the record and the course it led to, so
that the screen never shows one of them newer than the other.
"""

from __future__ import annotations

from textual.message import Message

from log.basics.errors import TamponadeError
from log.facts.events import Fact
from log.facts.record import Record
from log.rules.course import Course
from tui.live.view import State
from voice.sound.sound_check import SoundCheckResult


class Grown(Message):
    """Something reached the log, or was heard in vain."""

    def __init__(self, facts: tuple[Fact, ...], record: Record, course: Course, asked: tuple[str, ...] = ()) -> None:
        """`asked`: what was asked of the log itself."""
        super().__init__()
        self.facts, self.record, self.course, self.asked = facts, record, course, asked


class EarChanged(Message):
    """What the ear is doing."""

    def __init__(self, state: State, why: str) -> None:
        super().__init__()
        self.state, self.why = state, why


class Partly(Message):
    """What is being said."""

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
    """What was played to the team has come to its end."""
