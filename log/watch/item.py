"""One thing that is due, and how urgent it is by now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from log.basics.patterns import Level

When = Literal["overdue", "due", "next"]
ORDER: tuple[When, ...] = ("overdue", "due", "next")


@dataclass(frozen=True, slots=True)
class Item:
    """Something that has to be done or decided at a time."""

    id: str
    title: str
    due_at: datetime
    when: When
    source: str
    """Tag and citation, as printed."""
    level: Level = "low"
    every_h: float | None = None
    """For what comes again."""


def when_due(due_at: datetime, now: datetime, late: timedelta) -> When:
    """Due from its moment on, overdue once more than the definition's time has passed."""
    if now < due_at:
        return "next"
    return "due" if now - due_at <= late else "overdue"
