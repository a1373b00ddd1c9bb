"""The ear is shut while something of ours sounds in the room, and a moment longer; for how long is in the log."""

from __future__ import annotations

from typing import Literal

MUTED_AFTER_SPEAKING = 0.3
"""Seconds: the room still rings with our own voice."""

Ours = Literal["read-back", "line"]
"""Our own sound in the room: the last entry read back, or the sound of a line played to the scribe."""

WHILE: dict[Ours, tuple[str, str]] = {
    "read-back": ("our own voice is speaking", "the read-back was spoken"),
    "line": ("a line is played", "a line was played"),
}
"""Said while it sounds, and of it afterwards."""


class Muting:
    """Since when the ear is shut, and until when. Times are seconds on the session's clock."""

    def __init__(self) -> None:
        self._since: float | None = None
        self._until = 0.0
        self._while = WHILE["read-back"]
        self._sounding: frozenset[Ours] = frozenset()
        """A read-back may begin while a line is played."""

    def sounds(self, what: Ours, now: float) -> None:
        """Something of ours begins to sound."""
        self._sounding |= {what}
        self._until = float("inf")
        self._while = WHILE[what]
        self._since = now if self._since is None else self._since

    def silent(self, what: Ours, now: float) -> None:
        """It has ended."""
        self._sounding -= {what}
        if not self._sounding and self._since is not None:
            self._until = now + MUTED_AFTER_SPEAKING

    def why(self, at: float) -> str | None:
        """Why nothing is heard at this moment; None where the ear is open."""
        return self._while[0] if self._since is not None and self._since <= at < self._until else None

    def over(self, at: float) -> tuple[float, str] | None:
        """When the ear was shut and why, once it is open again at this moment; None where it was not."""
        if self._since is None or at < self._since or at < self._until:
            return None
        return self.ended()

    def ended(self) -> tuple[float, str] | None:
        """The same at the end of all sound, whatever still sounds."""
        since, self._since = self._since, None
        return None if since is None else (since, f"muted while {self._while[1]}")
