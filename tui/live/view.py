"""The two sides of listening: a source that is heard, and a view that shows what came of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Protocol

from log.basics.errors import TamponadeError
from log.facts.events import Fact
from log.facts.origin import WayOfSaying
from voice.meaning.verdict import Hearing
from voice.sound.audio import Frame
from voice.sound.reception import Back, Lost
from voice.sound.sound_check import SoundCheckResult

Mode = WayOfSaying
State = Literal["starting", "listening", "hearing", "muted", "paused", "lost", "waiting for the key", "stopped"]


class LiveSource(Protocol):
    """A source of live sound: losses are reported in between."""

    @property
    def name(self) -> str:
        """The name of the source, for the record."""
        ...

    def frames(self) -> Iterator[Frame | Lost | Back]:
        """Frames in order until the source ends; raises InputError or EngineError if it fails."""
        ...


class View(Protocol):
    """Whoever shows the room. Called from other threads: pass on, and return at once."""

    def state(self, state: State, why: str = "") -> None:
        """The state of the ear."""
        ...

    def level(self, pcm: bytes) -> None:
        """A frame of sound, for the meter."""
        ...

    def partial(self, words: str) -> None:
        """Words of the present utterance so far."""
        ...

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it; it is on disk."""
        ...

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said; they are on disk."""
        ...

    def checked(self, result: SoundCheckResult) -> None:
        """How well the room can be heard: its noise first, then the first utterance."""
        ...

    def failed(self, error: TamponadeError) -> None:
        """The case can no longer be written, or nothing can be heard any more."""
        ...
