"""The timers that somebody set by voice: how long they still run, and which of them have just run out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.facts.record import Record

SHOWN_FOR = timedelta(minutes=5)
"""How long a timer stays on the screen once it has run out."""


@dataclass(frozen=True, slots=True)
class Timer:
    """One timer, or a stopwatch if no time was set."""

    number: int
    """Its line."""
    began: datetime
    lasts: timedelta | None

    @property
    def ends(self) -> datetime | None:
        """When it rings; None for a stopwatch."""
        return self.began + self.lasts if self.lasts is not None else None

    @property
    def title(self) -> str:
        """How it is called on the screen."""
        return "stopwatch" if self.lasts is None else f"timer {self.lasts.total_seconds() / 60:g} min"

    def told(self, now: datetime) -> str:
        """How long it still runs, or for how long it has been over."""
        if self.ends is None:
            return ""
        return f"{_clock(self.ends - now)} left" if now < self.ends else f"OVER for {_clock(now - self.ends)}"


def timers(record: Record, now: datetime) -> Iterator[Timer]:
    """Those that run, and those that ran out a short while ago."""
    for line in record.lines:
        if line.status != "stands" or line.entry.kind != "timer":
            continue
        lasts = timedelta(minutes=line.entry.number) if line.entry.number is not None else None
        timer = Timer(line.number, line.said_at, lasts)
        if timer.ends is None or now < timer.ends + SHOWN_FOR:
            yield timer


def rung(record: Record, since: datetime, now: datetime) -> bool:
    """Whether a timer ran out after one moment and not after the other."""
    return any(timer.ends is not None and since < timer.ends <= now for timer in timers(record, now))


def _clock(time: timedelta) -> str:
    minutes, seconds = divmod(int(time.total_seconds()), 60)
    return f"{minutes}:{seconds:02}"
