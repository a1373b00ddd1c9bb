"""The second hearing while a room stays open: a thread of its own, which waits while somebody speaks."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime

from log.basics.errors import TamponadeError
from log.scribe.session import Session
from tui.live.relisten import Batch, Ears, left_to_hear, relisten, written
from tui.live.writing import Doing
from voice.phrases.phrases import Phrases

PAUSE = 0.2
"""Seconds between two looks whether somebody still speaks."""

MakeEars = Callable[[Phrases], AbstractContextManager[Ears]]


def _every_ear(phrases: Phrases) -> AbstractContextManager[Ears]:
    from tui.live.second_ears import second_ears  # the room begins without it

    return second_ears(phrases)


class Second:
    """One second hearing at a time. `write` may be called from any thread, and returns when it is on disk."""

    def __init__(
        self,
        session: Session,
        phrases: Phrases,
        write: Callable[[Doing], None],
        speaking: Callable[[], bool],
        now: Callable[[], datetime],
        ears: MakeEars = _every_ear,
    ) -> None:
        """`speaking`: whether somebody speaks, who is heard first."""
        self._session, self._phrases = session, phrases
        self._write, self._speaking, self._now, self._ears = write, speaking, now, ears
        self._thread: threading.Thread | None = None
        self._stopping = threading.Event()
        self.progress = ""
        """How far it has come, in words; "" before it was begun."""

    @property
    def running(self) -> bool:
        """Whether sounds are being heard again."""
        return self._thread is not None and self._thread.is_alive()

    def start(self) -> None:
        """Begins, or goes on where it was stopped; nothing while it runs."""
        if self.running:
            return
        self._stopping.clear()
        self.progress = "hearing again: the ears are getting ready"
        self._thread = threading.Thread(target=self._run, name="second hearing", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Ends it after the sound that is being heard. Returns at once."""
        self._stopping.set()

    def _run(self) -> None:
        try:
            with self._ears(self._phrases) as ears:
                left = len(left_to_hear(self._session.record, ears.names).sounds)
                relisten(self._session, ears, lambda batch: self._bring(batch, ears.names), self._went_on)
            self.progress = "every kept sound was heard again" if left else "nothing was left to hear again"
            if self._stopping.is_set():
                self.progress = "stopped; press a to go on"
        except TamponadeError as error:
            self.progress = str(error)
        except RuntimeError:  # the screen is gone: what was heard last is heard again the next time
            self.progress = "stopped"

    def _bring(self, batch: Batch, engine: str) -> None:
        self._write(lambda session: written(session, batch, engine, self._now()))

    def _went_on(self, number: int, of: int) -> bool:
        self.progress = f"heard again: {number} of {of} sounds"
        while self._speaking() and not self._stopping.wait(PAUSE):
            pass
        return not self._stopping.is_set()
