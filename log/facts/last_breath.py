"""The questions that an answer could still be for: those of the last breath, and those that an emergency has come
between. Older ones are the scribe's. What was asked before the case was resumed nobody in the room remembers.

An answer needs no lead word, but only for a question of the last breath; the session gives it 30 s. A doubtful
"confirm" confirms nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from log.facts.line import Line


@dataclass(frozen=True, slots=True)
class LastBreath:
    """The last breath, and its open questions."""

    said_at: datetime | None = None
    """When the newest line was said; None before the first."""
    questions: tuple[int, ...] = ()
    """Numbers of the open questions, the newest last."""
    emergency: bool = False
    """Whether an emergency was called and is not over: until then no question is given up for a later entry."""

    def followed_by(self, line: Line) -> LastBreath:
        """After one more line; a late one changes nothing."""
        if self.said_at is not None and line.said_at < self.said_at:
            return self
        waits = line.entry.kind == "emergency" or self.emergency  # what was asked comes back when it is over
        before = self.questions if waits or line.said_at == self.said_at else ()
        asked = (line.number,) if line.status == "asked" else ()
        return LastBreath(line.said_at, (*before, *asked), _emergency_after(self.emergency, line))

    def without(self, line: Line) -> LastBreath:
        """After this line, as it was until now, was answered or amended."""
        return replace(self, questions=tuple(number for number in self.questions if number != line.number))

    def struck(self, line: Line) -> LastBreath:
        """After this line, as it was until now, was struck."""
        emergency = self.emergency and line.entry.kind != "emergency"
        return replace(self.without(line), emergency=emergency)

    def resumed(self) -> LastBreath:
        """After somebody resumed the case."""
        return LastBreath(emergency=self.emergency)


def _emergency_after(emergency: bool, line: Line) -> bool:
    """Whether questions wait after this line. A doubtful call makes them wait, a doubtful end ends nothing."""
    stands = line.status == "stands"
    if line.entry.kind == "emergency":
        return line.entry.value != "over" or (emergency and not stands)
    return emergency and not (stands and (line.entry.kind, line.entry.value) == ("tube", "out"))
