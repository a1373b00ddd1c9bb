"""One picture of a case: how full each balloon was and at what pressure, against the limits that were in force, with
the steps of the procedure marked on a shared time axis.

Nothing is shown by colour alone: each balloon has its own dashes, its own marker and its name beside the end of its
line. The picture is a list of parts in points, so that paper and screen show the same one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import timedelta

from log.exports.curves import (
    Bound,
    Series,
    high_findings,
    pressure_bounds,
    pressures,
    seconds,
    since,
    volume_bounds,
    volumes,
)
from log.exports.drawing import Chart, Line, Part, Point, Scale, Shape, Text, Tone, fitted, spread, text_width, ticks
from log.state.tube import Step
from log.summaries.whole import Whole
from log.words.wording import elapsed, figure, sentence

WIDTH = 510.0
"""Points; fits between the margins of both paper sizes."""
LEFT, RIGHT = 38.0, WIDTH - 170.0
"""Of the panels; to the right of them there is room for the names."""
PANEL, STRIP, BETWEEN, ROW = 118.0, 16.0, 20.0, 8.6
"""Heights: a panel, the strip of marks above, the room between panels, a line of small text."""
NIGHT = timedelta(hours=12)
"""As much of a long case as is drawn by itself: a night shift."""
SHORTEST = 300.0
"""Seconds on the time axis of a case that had hardly begun."""
MOST_STEPS = 45
"""Steps named below the chart; the others stand in the timeline."""
_TIME_STEPS = (60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400)
ALARM = ((0.0, -4.5), (2.6, 0.0), (-2.6, 0.0))
"""The outline of the mark of a finding, in points."""
_MARKED = frozenset({"tube", "xray", "traction", "clamp", "balloon", "bleeding"})


def chart(case: Whole, last: timedelta | None = None) -> Chart:
    """The picture of a case: any case, one without entries included. `last`: only so much of it, up to its end."""
    times = [seconds(case, step.line.said_at) for step in case.happened]
    start = min([0.0, *times])
    end = max([0.0, start + SHORTEST, *times])
    start = max(start, end - last.total_seconds()) if last is not None else start
    time = Scale(start, end, LEFT, RIGHT)
    filled, read = ([since(series, start) for series in found] for found in (volumes(case, end), pressures(case)))
    placed = zip(times, case.happened, strict=True)
    marks = [(at, step) for at, step in placed if _is_marked(step) and at >= start]
    below = STRIP + 2 * PANEL + BETWEEN + 10.0
    legend = tuple(_legend(case, marks, below + 24.0))
    parts = (
        *_panel("Volume, mL", filled, volume_bounds(case), time, STRIP + 10.0),
        *_panel("Pressure, mmHg", read, pressure_bounds(case), time, STRIP + PANEL + BETWEEN + 10.0),
        *_time_axis(case, time, below),
        *_mark_lines([time.at(at) for at, _ in marks]),
        *_findings(case, time, below),
        *legend,
    )
    texts = [series.label for series in (*filled, *read)] or ["no volume and no pressure was logged"]
    return Chart(
        WIDTH,
        max([below + 24.0, *(part.y for part in legend)]) + 4.0,
        "Volume and pressure of each balloon over time",
        f"At the end: {'; '.join(texts)}. {len(marks)} steps are marked.",
        parts,
    )


def _is_marked(step: Step) -> bool:
    return step.entry.kind in _MARKED and step.entry.value not in ("requested", "taken")


def _panel(title: str, found: Sequence[Series], bounds: Sequence[Bound], time: Scale, top: float) -> Iterator[Part]:
    said = [y for series in found for run in (*series.runs, series.points) for _, y in run]
    values = (*said, *(bound.value * 1.05 for bound in bounds))
    marks = ticks(min([0.0, *values]), max([10.0, *values]))
    scale = Scale(marks[0], marks[-1], top + PANEL, top)
    yield Text(LEFT, top - 4.0, title, 7.5, bold=True)
    for mark in marks:
        y = scale.at(mark)
        yield Line(((LEFT, y), (RIGHT, y)), "faint", 0.4)
        yield Text(LEFT - 4.0, y + 2.3, figure(mark), tone="soft", anchor="end")
    for bound in bounds:
        last = time.at(min(bound.until, time.high))
        if bound.until > time.low:
            yield Line(((LEFT, scale.at(bound.value)), (last, scale.at(bound.value))), "limit", 0.8, (6, 2, 1, 2))
    yield Line(((LEFT, top), (RIGHT, top), (RIGHT, top + PANEL), (LEFT, top + PANEL), (LEFT, top)), "soft", 0.5)
    if not found:
        nothing = f"no {title.partition(',')[0].lower()} logged"
        yield Text((LEFT + RIGHT) / 2, top + PANEL - 5.0, nothing, 7.5, "soft", "middle")
    for number, series in enumerate(found):
        yield from _series(series, time, scale, lift=3.0 * (number + 1))
    if any(series.unknown for series in found):
        yield Text(RIGHT, top + PANEL + 8.0, "row of dots: up, volume not said", 6.0, "soft", "end")
    yield from _names(found, bounds, time, scale)


def _series(series: Series, time: Scale, scale: Scale, lift: float) -> Iterator[Part]:
    style = series.style
    for run in series.runs:
        yield Line(tuple((time.at(x), scale.at(y)) for x, y in run), style.tone, 1.2, style.dash)
    for begun, until in series.unknown:  # a thick row of dots off the base line: it says "some", not "none"
        y = scale.at(0) - lift
        yield Line(((time.at(begun), y), (time.at(until), y)), style.tone, 1.8, (1.0, 3.0))
    for x, y in series.points:
        yield style.marker(time.at(x), scale.at(y))


def _names(found: Sequence[Series], bounds: Sequence[Bound], time: Scale, scale: Scale) -> Iterator[Part]:
    """Names in the right margin, each at the height of what it names as far as there is room, and led to it."""
    limits = [(scale.at(b.value), b.label, None) for b in bounds if b.until > time.low]
    labels = [*limits, *((scale.at(series.at_end), series.label, series.style) for series in found)]
    places = spread([y for y, _, _ in labels], ROW, scale.end + 3.0, scale.start - 3.0)
    for (y, label, style), place in zip(labels, places, strict=True):
        tone: Tone = style.tone if style else "limit"
        yield Line(((RIGHT, y), (RIGHT + 9.0, place)), "soft", 0.3)
        sample = ((RIGHT + 9.0, place), (RIGHT + 27.0, place))
        if style is None:
            yield Line(sample, "limit", 0.8, (6, 2, 1, 2))
        else:
            yield Line(sample, tone, 1.2, style.dash)
            yield style.marker(RIGHT + 18.0, place)
        bold = style is not None
        name = fitted(label, WIDTH - RIGHT - 33.0, bold=bold)
        yield Text(RIGHT + 31.0, place + 2.3, name, tone=tone, bold=bold)


def _findings(case: Whole, time: Scale, bottom: float) -> Iterator[Part]:
    """A triangle on the time axis for each finding of high priority."""
    found = [at for at in high_findings(case) if at >= time.low]
    for at in found:
        yield Shape(tuple((time.at(at) + dx, bottom + dy) for dx, dy in ALARM), "limit", filled=True)
    if found:
        yield Text(RIGHT, bottom + 19.0, "▲ finding of high priority", tone="limit")


def _time_axis(case: Whole, time: Scale, bottom: float) -> Iterator[Part]:
    span = time.high - time.low
    step = next((step for step in _TIME_STEPS if span / step <= 8), 86400 * math.ceil(span / 8 / 86400))
    for number in range(math.ceil(time.low / step), math.floor(time.high / step) + 1):
        x = time.at(number * step)
        yield Line(((x, bottom), (x, bottom + 3.0)), "soft")
        moment = case.opened.logged_at + timedelta(seconds=number * step)
        hours_and_minutes = elapsed(case.opened.logged_at, moment).rpartition(":")[0]
        yield Text(x, bottom + 10.0, hours_and_minutes, tone="soft", anchor="middle")
    about = "Time since the log was opened, h:mm"
    yield Text((LEFT + RIGHT) / 2, bottom + 19.0, about, tone="soft", anchor="middle")


def _mark_lines(places: Sequence[float]) -> Iterator[Part]:
    """A thin line through both panels for each step, and its number above; numbers that would overlap become one."""
    for x in places:
        for top in (STRIP + 10.0, STRIP + PANEL + BETWEEN + 10.0):
            yield Line(((x, top), (x, top + PANEL)), "soft", 0.4, (0.6, 1.6))
    groups: list[tuple[int, int]] = []
    for number in range(len(places)):
        groups.append((number, number))
        while len(groups) > 1 and _edges(groups[-2], places)[1] + 3.0 > _edges(groups[-1], places)[0]:
            groups[-2:] = [(groups[-2][0], groups[-1][1])]
    for group in groups:
        low, high = places[group[0]], places[group[1]]
        yield Line(((low, STRIP - 7.0), (high, STRIP - 7.0)), "soft", 0.6)
        yield Text(sum(_edges(group, places)) / 2, STRIP - 9.0, _tag(group), anchor="middle")


def _edges(group: tuple[int, int], places: Sequence[float]) -> Point:
    """Where the number of a group begins and ends."""
    half = text_width(_tag(group), 6.5) / 2
    centre = min(max((places[group[0]] + places[group[1]]) / 2, half), WIDTH - half)
    return centre - half, centre + half


def _tag(group: tuple[int, int]) -> str:
    return f"{group[0] + 1}" if group[0] == group[1] else f"{group[0] + 1}-{group[1] + 1}"


def _legend(case: Whole, marks: Sequence[tuple[float, Step]], top: float) -> Iterator[Text]:
    texts = [
        f"{number} {elapsed(case.opened.logged_at, step.line.said_at)} {sentence(case.procedure, step.entry)}"
        f" (line {step.line.number})"
        for number, (_, step) in enumerate(marks[:MOST_STEPS], 1)
    ]
    if len(marks) > MOST_STEPS:
        texts.append(f"and {len(marks) - MOST_STEPS} more: see the timeline")
    if texts:
        yield Text(0.0, top + 6.0, "Steps", 7.5, bold=True)
    rows = math.ceil(len(texts) / 3)
    for index, text in enumerate(texts):
        column, row = divmod(index, rows)
        yield Text(column * WIDTH / 3, top + 6.0 + (row + 1) * ROW, fitted(text, WIDTH / 3 - 6.0))
