"""The ear is shut by hand, or while something of ours sounds in the room and a moment longer; for how long is in the
log.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

MUTED_AFTER_SPEAKING = 0.3
"""Seconds: the room still rings with our own voice."""

Ours = Literal["read-back", "line"]
"""Our own sound in the room: the last entry read back, or the sound of a line played to the scribe."""

WHILE: dict[Ours, tuple[str, str]] = {
    "read-back": ("our own voice is speaking", "muted while the read-back was spoken"),
    "line": ("a line is played", "muted while a line was played"),
}
"""Said while it sounds, and of it afterwards."""

PAUSED = "paused by hand"


class Muting:
    """Since when the ear is shut, and until when. Times are seconds on the session's clock."""

    def __init__(self) -> None:
        self._since: float | None = None
        self._until = 0.0
        self._while = WHILE["read-back"]
        self._sounding: frozenset[Ours] = frozenset()
        """A read-back may begin while a line is played."""
        self._paused = ""
        """Since when it is shut by hand, in words; "" where it is not."""

    @property
    def by_hand(self) -> bool:
        """Whether somebody has shut it."""
        return bool(self._paused)

    def pause(self, now: float, clock: datetime) -> None:
        """Somebody shuts it. `clock`: the time in the room."""
        if not self._paused:
            self._paused = f"{PAUSED} at {clock:%H:%M:%S}"
            self._while = self._paused, PAUSED
            self._shut(now)

    def go_on(self, now: float) -> None:
        """Somebody opens it again; what of ours still sounds keeps it shut."""
        if self._paused:
            self._paused = ""
            self._open(now)

    def sounds(self, what: Ours, now: float) -> None:
        """Something of ours begins to sound."""
        self._sounding |= {what}
        self._while = self._while if self._paused else WHILE[what]
        self._shut(now)

    def silent(self, what: Ours, now: float) -> None:
        """It has ended."""
        self._sounding -= {what}
        self._open(now + MUTED_AFTER_SPEAKING)

    def sound_comes(self, now: float) -> None:
        """A source begins anew: what was shut stays shut."""
        if self._paused or self._sounding:
            self._shut(now)

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
        return None if since is None else (since, self._while[1])

    def _shut(self, now: float) -> None:
        self._until = float("inf")
        self._since = now if self._since is None else self._since

    def _open(self, at: float) -> None:
        if not self._sounding and not self._paused and self._since is not None:
            self._until = at
