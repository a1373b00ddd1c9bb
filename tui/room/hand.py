"""What a hand does at the keyboard, as opposed to a key that is held down and to text that is pasted where a terminal
does not mark it: neither of them may strike a line or end the case.
"""

from __future__ import annotations

from dataclasses import dataclass, field

HELD = 0.7
"""Seconds within which the same key again is a key held down: keyboards begin to repeat it after a quarter to two
thirds of a second."""

CALM = 0.3
"""Seconds without a key before an answer counts: nobody reads a question faster, and pasted text has no such pause."""

BURST = 0.02
"""Seconds: keys that come faster than this were not pressed one by one."""


@dataclass
class Hand:
    """The keys as they come. Times are seconds on any clock that only goes on."""

    held: float = HELD
    calm_after: float = CALM
    burst: float = BURST
    _key: str = field(default="", init=False)
    _at: float = field(default=float("-inf"), init=False)
    _pause: float = field(default=float("inf"), init=False)
    _acted: bool = field(default=False, init=False)

    def takes(self, key: str, at: float) -> bool:
        """Whether this key counts: one that has just acted and is still down does not."""
        self._pause, self._at = at - self._at, at
        if self._acted and key == self._key and self._pause < self.held:
            return False
        self._key, self._acted = key, False
        return True

    def acts(self) -> None:
        """The key that came last has done something: held down, it does it once."""
        self._acted = True

    def clicks(self) -> None:
        """The mouse was pressed: nobody pastes with it and clicks at once."""
        self._pause = float("inf")

    @property
    def calm(self) -> bool:
        """Whether there was time to read before the key that came last."""
        return self._pause >= self.calm_after

    @property
    def one_by_one(self) -> bool:
        """Whether the key that came last was pressed, and not pasted with those before it."""
        return self._pause >= self.burst
