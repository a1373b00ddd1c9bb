"""The engines for each way in which entries can be said. With the lead word the grammar demands it, without it not, so
each has engines of its own: started when that way is first wanted, and kept for going back to it at once.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from log.errors import EngineError
from tui.view import Mode
from voice.listener import Ears


class Ways:
    """Engines by whether the lead word is wanted. Use as a context manager."""

    def __init__(self, lead_word: str | None, start: Callable[[str | None], Ears]) -> None:
        """`start`: starts engines that want this lead word, or none."""
        self._lead_word, self._start = lead_word, start
        self._started: dict[str | None, Ears] = {}
        self._lock = threading.Lock()
        self._closed = False

    def ears(self, mode: Mode) -> Ears:
        """The engines for this way, started if they have not been. Raises EngineError."""
        wanted = self._lead_word if mode == "lead word" else None
        with self._lock:
            if self._closed:
                raise EngineError("the engines were ended", "start the program again")
            if wanted not in self._started:
                self._started[wanted] = self._start(wanted)
            return self._started[wanted]

    def close(self) -> None:
        """Ends all engines, once those that are being started are there."""
        with self._lock:
            self._closed = True
            for ears in self._started.values():
                ears.close()

    def __enter__(self) -> Ways:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
