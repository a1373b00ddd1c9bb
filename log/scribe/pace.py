"""The case's own clock in a rehearsal: it may run faster than the room's, so that a watch of hours takes minutes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one moment on the case's clock runs at one speed."""

    room: float
    """Seconds on the room's clock."""
    case: float
    """Seconds on the case's clock at that moment."""
    speed: float


@dataclass(frozen=True, slots=True)
class Pace:
    """How seconds in the room become seconds of the case."""

    stretches: tuple[Stretch, ...] = (Stretch(0.0, 0.0, 1.0),)

    def case(self, room: float) -> float:
        """Seconds on the case's clock at this moment in the room."""
        now = self._at(room)
        return now.case + (room - now.room) * now.speed

    def speed(self, room: float) -> float:
        """How many times as fast as the room's it runs then."""
        return self._at(room).speed

    def changed(self, case: float, speed: float) -> Pace:
        """The same up to this moment of the case, in the last stretch, and at this speed from then on."""
        last = self.stretches[-1]
        room = last.room + (case - last.case) / last.speed
        return Pace((*self.stretches, Stretch(room, case, speed)))

    def _at(self, room: float) -> Stretch:
        return next((one for one in reversed(self.stretches) if one.room <= room), self.stretches[0])


STEADY = Pace()
"""As every case with a patient: a second is a second."""
