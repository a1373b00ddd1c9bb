"""The watch over a placed tube as the room sees it: what is overdue, due and next, how long each balloon has been up,
the step-down, and which way the pressures go. Pure: the screen and the lines only lay it out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.basics.patterns import LEVELS, Level
from log.facts.record import Record
from log.rules.course import Course
from log.watch.due import Watch, watch
from log.watch.item import Item, When
from log.watch.leak import Trend
from log.words.wording import SIGNS, WHEN, away, clock, figure
from tui.views.watch_page import state, trends

OFFER = "the tube is placed: w shows the watch"

Told = tuple[str, datetime, When]
"""An announcement: which check, due when, and how it stood then."""

NEWS_FOR = timedelta(minutes=2)
"""Items due for longer when a room begins to look are no news: the screen and `due` show them."""


@dataclass(frozen=True, slots=True)
class DueAtAGlance:
    """Something that has to be done at a time."""

    id: str
    when: When
    word: str
    """ "OVERDUE", "DUE NOW", "next"."""
    away: str
    """ "0:10 ago", "in 0:20"."""
    at: str
    """The time of day."""
    sign: str
    level: Level
    title: str
    due_at: datetime

    @property
    def line(self) -> str:
        """The same in words."""
        return f"{self.word} {self.away} ({self.at}) {self.sign} {self.title}"


@dataclass(frozen=True, slots=True)
class Attending:
    """The watch at a moment."""

    placed: bool
    """Whether there is anything to watch."""
    due: tuple[DueAtAGlance, ...]
    """Overdue first, then due, then next."""
    state: tuple[tuple[str, str], ...]
    """Balloons, step-down, leaks, remarks: what it is about, and how it stands."""

    @property
    def most_urgent(self) -> DueAtAGlance | None:
        """The first item: overdue before due, and of these the higher priority."""
        waiting = [one for one in self.due if one.when != "next"]
        if not waiting:
            return self.due[0] if self.due else None
        return min(waiting, key=lambda one: (one.when != "overdue", LEVELS.index(one.level), one.due_at))

    @property
    def waiting(self) -> int:
        """How many are due or overdue."""
        return sum(one.when != "next" for one in self.due)

    @property
    def first_line(self) -> str:
        """The most urgent in one line, and how many wait beside it."""
        first = self.most_urgent
        if first is None:
            return "nothing is due"
        others = self.waiting - (first.when != "next")
        return first.line + (f" (and {others} more)" if others else "")

    @property
    def lines(self) -> Iterator[str]:
        """All of it in words."""
        if not self.placed:
            yield "no tube is in according to the log: nothing to watch"
            return
        yield from (one.line for one in self.due)
        yield from (f"{what}: {how}" for what, how in self.state)


def attending(course: Course, now: datetime, record: Record | None = None) -> Attending:
    """The watch at this moment, by what was logged up to then. `record`: with findings that nobody dealt with."""
    found = watch(course, now, record)
    return Attending(found.placed, tuple(_due(item, found) for item in found.items), tuple(_state(found)))


def _state(found: Watch) -> Iterator[tuple[str, str]]:
    """The same as on the page of the watch, in fewer words."""
    pressures = trends(found)
    for what, how in state(found):
        match what:
            case "step-down":
                yield what, _steps(found)
            case "leak":
                yield what, _leak(next(pressures))
            case _:
                yield what, how


def _leak(trend: Trend) -> str:
    """Which way a pressure goes; when it may leave its range stands among what comes next."""
    if trend.slope is None:
        return f"{trend.site} {trend.doubt}"
    one, readings = trend.slope, len(trend.readings)
    return f"{trend.site} {one.per_hour:+.1f} mmHg/h ({one.low:+.1f} to {one.high:+.1f}; {readings} readings)"


def _steps(found: Watch) -> str:
    """The step-down in one line: where it has come to, and what is to come."""
    progress = found.step_down
    if progress is None or progress.since is None:
        return f"not begun: {progress.state}" if progress is not None else ""
    start = figure(progress.start_mmhg or 0)
    here = f"at {figure(progress.done[-1].mmhg)} of {start} mmHg" if progress.done else f"from {start} mmHg"
    coming = ", ".join(f"{figure(step.mmhg)} at {clock(step.due_at, found.now)}" for step in progress.coming)
    return f"{here}; " + (f"to come {coming}" if coming else "nothing to come")


def _due(item: Item, found: Watch) -> DueAtAGlance:
    now = found.now
    return DueAtAGlance(
        item.id,
        item.when,
        WHEN[item.when],
        away(item.due_at, now, ahead=item.when == "next"),
        clock(item.due_at, now),
        SIGNS[item.level],
        item.level,
        item.title,
        item.due_at,
    )


def is_placed(course: Course) -> bool:
    """Whether the watch can begin: the tube lies, and is held by traction."""
    situation = course.end.situation
    up = any(situation.balloon(site).up for site in course.procedure.tube.balloons)
    return (situation.tube_in or up) and situation.traction is not None


def news(told: Iterable[Told], now: Attending, at: datetime) -> tuple[DueAtAGlance, ...]:
    """Checks that have become due or overdue since they were last announced.

    `told`: keys of past announcements. What was due long before anybody could announce it is no news.
    """
    before = set(told)
    return tuple(
        one
        for one in now.due
        if one.when != "next" and key(one) not in before and (one.when == "overdue" or at - one.due_at <= NEWS_FOR)
    )


def key(one: DueAtAGlance) -> Told:
    """Says whether it was announced."""
    return one.id, one.due_at, one.when
