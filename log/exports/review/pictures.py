"""The pictures of the registry page: how a time is distributed, and a control chart."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import ceil, floor

from log.exports.drawing import Chart, Line, Part, Scale, Shape, Text, text_width, ticks
from log.exports.review.control_chart import ControlChart

WIDTH, LEFT, RIGHT, TOP, PANEL = 510.0, 38.0, 488.0, 16.0, 96.0
"""Points."""
BOTTOM = TOP + PANEL
Said = Callable[[float], str]
"""A value as it is written on the axis."""
Marks = Callable[[float, float, int], tuple[float, ...]]
"""Round numbers from the first value to the second, about so many."""
_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400)


def times(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Seconds, minutes or hours apart, from the last not above `low` to the first not below `high`."""
    raw = (high - low) / about
    step = next((step for step in _STEPS if step >= raw), 86400 * ceil(raw / 86400))
    return tuple(float(step * number) for number in range(floor(low / step), ceil(high / step) + 1))


def histogram(title: str, values: Sequence[float], marks: Sequence[tuple[str, float]], said: Said) -> Chart:
    """Times up to their 95th percentile in some twenty steps of equal width, and marks such as the median. `values`:
    seconds, at least one, in ascending order."""
    low, high = min(0.0, values[0]), max(values[int(0.95 * (len(values) - 1))], values[0] + 1.0)
    edges = times(low, high, about=20)
    x = Scale(edges[0], edges[-1], LEFT, RIGHT)
    counts = [bisect_right(values, end) - bisect_right(values, start) for start, end in pairwise(edges)]
    counts[0] += bisect_right(values, edges[0])
    y = Scale(0, ticks(0, max(counts), 4)[-1], BOTTOM, TOP)
    beyond = len(values) - sum(counts)
    about = "; ".join(f"{name} {said(value)}" for name, value in marks)
    return Chart(
        WIDTH,
        BOTTOM + 26.0,
        title,
        f"{len(values)} cases. {about}.",
        (
            *_frame(x, y, said, lambda count: f"{count:.0f}"),
            *_bars(x, y, edges, counts),
            *_marks(x, marks, said),
            *(
                [Text(RIGHT, BOTTOM + 21.0, f"{beyond} beyond {said(edges[-1])}", tone="soft", anchor="end")]
                * (beyond > 0)
            ),
        ),
    )


def _bars(x: Scale, y: Scale, edges: Sequence[float], counts: Sequence[int]) -> Iterator[Part]:
    for (start, end), count in zip(pairwise(edges), counts, strict=True):
        if count:
            left, right, top = x.at(start) + 0.5, x.at(end) - 0.5, y.at(count)
            yield Shape(((left, BOTTOM), (left, top), (right, top), (right, BOTTOM)), "first", filled=True)


def _marks(x: Scale, marks: Sequence[tuple[str, float]], said: Said) -> Iterator[Part]:
    for name, value in marks:
        if value <= x.high:
            at = x.at(value)
            yield Line(((at, TOP - 2.0), (at, BOTTOM)), "ink", 1.0, (3, 2))
            words = f"{name} {said(value)}"
            fits = at + text_width(words, 6.5) < RIGHT
            yield Text(at, TOP - 5.0, words, anchor="start" if fits else "end", bold=True)


def control(title: str, chart: ControlChart, said: Said, marks: Marks) -> Chart:
    """A control chart: the periods, the line that they lie about, the limits in steps."""
    values = [edge for point in chart.points for edge in (point.value, point.low, point.high)]
    edges = marks(min([0.0, *values]), max([*values, 1e-9]), 4)
    y = Scale(edges[0], edges[-1], BOTTOM, TOP)
    x = Scale(-0.5, len(chart.points) - 0.5, LEFT, RIGHT)
    outside = [point.period for point in chart.points if point.outside]
    told = f"Outside the limits: {', '.join(outside)}." if outside else "No period is outside the limits."
    return Chart(
        WIDTH,
        BOTTOM + 26.0,
        title,
        f"{len(chart.points)} periods about {said(chart.centre)}. {told}",
        (*_ruled(y, edges, said), *_limits(x, y, chart), *_course(x, y, chart), *_periods(x, chart)),
    )


def _limits(x: Scale, y: Scale, chart: ControlChart) -> Iterator[Part]:
    yield Line(((LEFT, y.at(chart.centre)), (RIGHT, y.at(chart.centre))), "ink", 0.6)
    for limits in ([point.low for point in chart.points], [point.high for point in chart.points]):
        steps = [(x.at(n + side), y.at(limit)) for n, limit in enumerate(limits) for side in (-0.5, 0.5)]
        yield Line(tuple(steps), "limit", 0.8, (6, 2, 1, 2))


def _course(x: Scale, y: Scale, chart: ControlChart) -> Iterator[Part]:
    places = [(x.at(n), y.at(point.value)) for n, point in enumerate(chart.points)]
    yield Line(tuple(places), "first", 1.0)
    for (at, height), point in zip(places, chart.points, strict=True):
        size = 4.0 if point.outside else 1.8
        outline = ((at, height - size), (at + size, height), (at, height + size), (at - size, height))
        yield Shape(outline, "limit" if point.outside else "first", filled=True)
        if point.outside:
            yield Text(at, height - 6.0, point.period, tone="limit", anchor="middle", bold=True)


def _periods(x: Scale, chart: ControlChart) -> Iterator[Part]:
    """Every period is named, or every second, third ..., as there is room."""
    room = (RIGHT - LEFT) / len(chart.points)
    every = int(max(text_width(point.period, 6.5) for point in chart.points) * 1.3 / room) + 1
    for number in range(0, len(chart.points), every):
        yield Text(x.at(number), BOTTOM + 10.0, chart.points[number].period, tone="soft", anchor="middle")


def _frame(x: Scale, y: Scale, said_x: Said, said_y: Said) -> Iterator[Part]:
    yield from _ruled(y, ticks(y.low, y.high, 4), said_y)
    for mark in times(x.low, x.high, 8):
        if mark <= x.high:
            yield Text(x.at(mark), BOTTOM + 10.0, said_x(mark), tone="soft", anchor="middle")


def _ruled(y: Scale, marks: Sequence[float], said: Said) -> Iterator[Part]:
    for mark in marks:
        height = y.at(mark)
        yield Line(((LEFT, height), (RIGHT, height)), "faint", 0.4)
        yield Text(LEFT - 4.0, height + 2.3, said(mark), tone="soft", anchor="end")
    yield Line(((LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)), "soft", 0.5)
