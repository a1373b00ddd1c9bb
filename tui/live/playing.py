"""The sound of a line, played to the scribe. The microphone hears it too, and what it says was said before: so the log
is muted meanwhile, as it is for its own voice.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from log.basics.errors import EngineError, InputError
from voice.sound.audio import sound_of
from voice.sound.portaudio import play
from voice.sound.segment import SAMPLE_RATE
from voice.speak.speaker import Play


class Playing:
    """Plays one sound at a time; the next one ends the one before it."""

    def __init__(
        self,
        on_begin: Callable[[], None],
        on_end: Callable[[], None],
        on_failure: Callable[[EngineError | InputError], None],
        play: Play = play,
    ) -> None:
        """`on_begin` and `on_end` are called around every sound from a thread of its own, the latter in any case."""
        self._on_begin, self._on_end, self._on_failure, self._play = on_begin, on_end, on_failure, play
        self._stop = threading.Event()
        self._one = threading.Lock()

    def __call__(self, flac: bytes) -> None:
        """Plays a FLAC file; returns at once."""
        self._stop.set()
        self._stop = stop = threading.Event()
        threading.Thread(target=self._run, args=(flac, stop), name="playing", daemon=True).start()

    def close(self) -> None:
        """Falls silent."""
        self._stop.set()

    def _run(self, flac: bytes, stop: threading.Event) -> None:
        with self._one:
            if stop.is_set():
                return
            self._on_begin()
            try:
                self._play(_sound(flac), SAMPLE_RATE, stop)
            except (EngineError, InputError) as error:
                self._on_failure(error)
            finally:
                self._on_end()


def _sound(flac: bytes) -> bytes:
    try:
        return sound_of(flac)
    except RuntimeError:
        raise InputError("the sound of this line cannot be read", "tamponade verify shows what is damaged") from None
