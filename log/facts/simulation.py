"""The mark of a case in which nobody was treated, the same on every screen and in every export.

A rehearsal is logged in the very way a case is, so nothing but this mark distinguishes them, years later and
elsewhere.

A simulation has one field and one kind of fact more than any other case, so that every format carries the mark.
"""

from __future__ import annotations

from log.basics.visible import visible
from log.facts.events import CaseOpened, SimulationPlayed
from log.facts.record import Record

MARK = "SIMULATION - training, no patient"
"""Stands in every export and on every screen of a rehearsed case, word for word."""


def marked(opened: CaseOpened | None) -> str:
    """The mark with the name of the scenario; "" for a case with a patient."""
    if opened is None or not opened.simulation:
        return ""
    return f"{MARK} (scenario: {visible(opened.simulation, 80)})"


def speed_of(record: Record) -> float:
    """Speed of the case's clock by now, as a multiple of the room's."""
    speeds = [played.speed for played in record.played if played.speed is not None]
    return speeds[-1] if speeds else 1.0


def in_words(speed: float) -> str:
    """ "one minute is one hour"; "" where time is not compressed."""
    if speed == 1:
        return ""
    minutes = round(speed)
    if minutes % 60 == 0:
        return f"one minute is {_many(minutes // 60, 'hour')}"
    return f"one minute is {_many(minutes, 'minute')}"


def _many(number: int, what: str) -> str:
    return f"one {what}" if number == 1 else f"{number} {what}s"


def played_in_words(played: SimulationPlayed) -> str:
    """A played event in one line; where the team was not informed, that too."""
    text = visible(played.told)
    return f"(hidden from the team) {text}" if played.hidden else text
