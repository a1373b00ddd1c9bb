"""The pressure of each balloon over time in one line: enough to see which way it goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from log.basics.entry import Number
from log.rules.course import Course
from log.words.wording import elapsed

BLOCKS = " ▁▂▃▄▅▆▇█"

LONGEST_WATCH = timedelta(hours=12)
"""In which a pressure is drawn for those who watch over it."""

Points = Sequence[tuple[datetime, Number | None]]
"""From then on it was this, or nobody knew."""


def pressures(course: Course, now: datetime, width: int) -> Iterator[tuple[str, str]]:
    """The pressure of each balloon that is up and was read more than once: its name, and the curve since then."""
    steps = [step for step in course.steps if now - LONGEST_WATCH <= step.line.said_at <= now]
    for site in course.procedure.tube.balloons:
        read = [step for step in steps if step.entry.kind == "pressure" and step.entry.site in (site, "both")]
        if len(read) > 1 and course.end.situation.balloon(site).up:
            since = read[0].line.said_at
            points = [(step.line.said_at, step.after.balloon(site).pressure) for step in steps]
            yield site, f"{curve(points, since, now, width)} {elapsed(since, now)[:-3]} h"


def curve(points: Points, since: datetime, now: datetime, width: int) -> str:
    """The highest value in each part of the time, in blocks; a part in which nobody knew one is empty."""
    top = max((value for _, value in points if value is not None), default=0)
    part = (now - since) / width
    drawn = []
    for column in range(width):
        began, ended = since + part * column, since + part * (column + 1)
        before = [value for at, value in points if at <= began]
        within = [value for at, value in points if began < at <= ended]
        known = [value for value in (*before[-1:], *within) if value is not None]
        drawn.append(_block(max(known), top) if known else BLOCKS[0])
    return "".join(drawn)


def _block(value: Number, top: Number) -> str:
    return BLOCKS[max(1, round(value / top * (len(BLOCKS) - 1)))] if top > 0 else BLOCKS[1]
