"""Cases for the tests of the watch: a placed tube, and what is said in the hours after."""

from __future__ import annotations

from datetime import datetime, timedelta

from log.definition.procedure import Procedure
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules.course import Course, course_of
from tests import cases
from tests.log.rules.test_rules import BEGAN, HELD, THREE, entry

Said = tuple[float, str]
"""Hours since the tube was placed, and an entry in short."""


def at(hours: float) -> datetime:
    """So many hours after the tube was placed and lay under traction."""
    return BEGAN + timedelta(hours=hours)


def watched(*said: Said, procedure: Procedure | None = None, name: str = THREE) -> Course:
    """A tube under traction with a full gastric balloon and bleeding above it, and then these entries."""
    lines = [(0.0, text) for text in HELD[name]]
    numbered = enumerate((*lines, *said), start=1)
    record = Record(
        lines=tuple(Line(number, "stands", entry(text), at(h), at(h), Origin()) for number, (h, text) in numbered)
    )
    return course_of(procedure or cases.procedure(name), record)


def pressures(*values: float, first_h: float = 1.0, every_h: float = 1.0) -> tuple[Said, ...]:
    """Readings of the oesophageal balloon."""
    return tuple((first_h + i * every_h, f"pressure oesophageal {value:g}") for i, value in enumerate(values))
