"""The read-back spoken aloud, for those who cannot see the screen. Off unless it is asked for; the screen stays what
counts.

The microphone hears it too. It says when it begins and ends, so that the listener is muted meanwhile, and never says
the lead word: without that, nothing it says is an entry.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import threading
import wave
from collections.abc import Callable
from typing import Protocol

from log.basics.errors import EngineError
from voice.english.spoken import ACCENT
from voice.sound.portaudio import play

INSTALL = "type: sudo apt install espeak-ng   (macOS: brew install espeak-ng), or go on without spoken read-back"

SYNTHESISE = ("espeak-ng", "-v", ACCENT, "-s", "150", "--stdin", "--stdout")
"""150 words a minute: a little slower than talk, for numbers are said."""

SYNTHESISE_SECONDS = 10.0
"""A sentence takes 0.03 s; after this it has hung."""


class Play(Protocol):
    """Plays 16-bit mono sound; returns when it was heard, or soon after the event is set. Raises EngineError."""

    def __call__(self, pcm: bytes, rate: int, stop: threading.Event) -> None: ...


def _nothing() -> None:
    pass


def _ignored(error: EngineError) -> None:
    pass


class Speaker:
    """Says one sentence at a time. Of sentences that wait, only the newest is said: old read-backs mislead.

    `on_begin` and `on_end` are called around every sentence from the speaking thread, the latter in any case;
    `on_failure` when a sentence could not be said. Raises EngineError at once if there is no voice.
    """

    def __init__(
        self,
        on_begin: Callable[[], None] = _nothing,
        on_end: Callable[[], None] = _nothing,
        on_failure: Callable[[EngineError], None] = _ignored,
        play: Play = play,
    ) -> None:
        check_voice()
        self._on_begin, self._on_end, self._on_failure, self._play = on_begin, on_end, on_failure, play
        self._changed = threading.Condition()
        self._waiting: str | None = None
        self._stop = threading.Event()
        self._hush = threading.Event()
        self._speaking = False
        self._thread = threading.Thread(target=self._run, name="speaker", daemon=True)
        self._thread.start()

    @property
    def speaking(self) -> bool:
        """Whether something is being said or waits to be."""
        with self._changed:
            return self._speaking or self._waiting is not None

    def say(self, text: str) -> None:
        """Says it when the present sentence is over; returns at once."""
        with self._changed:
            self._waiting = text
            self._changed.notify()

    def hush(self) -> None:
        """Falls silent in the middle of a sentence; what waited to be said is not said either."""
        with self._changed:
            self._waiting = None
            self._hush.set()

    def close(self) -> None:
        """Falls silent; may be called twice."""
        self._stop.set()
        self.hush()
        with self._changed:
            self._changed.notify()
        self._thread.join(timeout=2)

    def _run(self) -> None:
        while (text := self._next()) is not None:
            try:
                pcm, rate = synthesised(text)
                self._on_begin()
                try:
                    self._play(pcm, rate, self._hush)
                finally:
                    self._on_end()
            except EngineError as error:
                self._on_failure(error)

    def _next(self) -> str | None:
        with self._changed:
            self._speaking = False
            self._changed.wait_for(lambda: self._waiting is not None or self._stop.is_set())
            text, self._waiting = self._waiting, None
            if not self._stop.is_set():
                self._hush.clear()
            self._speaking = not self._stop.is_set()
            return text if self._speaking else None


def check_voice() -> None:
    """Raises EngineError if nothing here can speak."""
    if shutil.which(SYNTHESISE[0]) is None:
        raise EngineError(f"{SYNTHESISE[0]} is not installed: nothing can be spoken", INSTALL)


def synthesised(text: str) -> tuple[bytes, int]:
    """The text as 16-bit mono sound, and its rate in hertz. Raises EngineError."""
    try:
        done = subprocess.run(
            SYNTHESISE, input=text.encode(), capture_output=True, check=True, timeout=SYNTHESISE_SECONDS
        )
        with wave.open(io.BytesIO(done.stdout)) as sound:  # its header promises more than there is
            return sound.readframes(sound.getnframes()), sound.getframerate()
    except (OSError, subprocess.SubprocessError, wave.Error, EOFError) as error:
        raise EngineError(f"{SYNTHESISE[0]} cannot speak ({type(error).__name__})", "read the screen") from None
