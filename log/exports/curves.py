"""Each balloon over time: its volume step by step, its pressure reading by reading, and the
limits both are read against. Struck and unconfirmed lines are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import cycle, pairwise

from log.basics.patterns import LEVELS
from log.definition.limits import Limit
from log.exports.drawing import Point, Shape, Tone
from log.rules.bounds import pressure_limits, volume_limits
from log.state.balloon import Balloon
from log.summaries.whole import Whole
from log.words.totals import filling
from log.words.wording import figure


@dataclass(frozen=True, slots=True)
class Style:
    """The marks that set one balloon apart from the other without colour."""

    tone: Tone
    dash: tuple[float, ...]
    corners: tuple[Point, ...]
    """The outline of its marker around the value, in points."""
    filled: bool

    def marker(self, x: float, y: float) -> Shape:
        """The marker at this place."""
        return Shape(tuple((x + dx, y + dy) for dx, dy in self.corners), self.tone, self.filled)


@dataclass(frozen=True, slots=True)
class Series:
    """One balloon in one panel, in seconds and in the panel's unit."""

    style: Style
    label: str
    at_end: float
    """The last value; 0 for an amount that nobody said."""
    runs: tuple[tuple[Point, ...], ...] = ()
    """Lines; between two of them nothing is known."""
    points: tuple[Point, ...] = ()
    """Where a value was said."""
    unknown: tuple[tuple[float, float], ...] = ()
    """From when to when there was something in it, nobody said how much."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit as a level line, for as long as it holds."""

    value: float
    label: str
    until: float = math.inf


_CIRCLE = tuple((2.1 * math.cos(math.tau * n / 16), 2.1 * math.sin(math.tau * n / 16)) for n in range(16))
_SQUARE = ((-2.0, -2.0), (2.0, -2.0), (2.0, 2.0), (-2.0, 2.0))
_TRIANGLE = ((0.0, -2.8), (2.5, 1.8), (-2.5, 1.8))
STYLES = (
    Style("first", (), _CIRCLE, True),
    Style("second", (5, 2), _SQUARE, False),
    Style("third", (1.5, 2), _TRIANGLE, True),
)
NOT_SAID = Style("ink", (), ((0.0, -2.8), (2.8, 0.0), (0.0, 2.8), (-2.8, 0.0)), False)
"""A pressure of a balloon that nobody named: points alone, for no line joins them."""


def seconds(case: Whole, moment: datetime) -> float:
    """Seconds since the log was opened; negative for what happened before."""
    return (moment - case.opened.logged_at).total_seconds()


def volumes(case: Whole, end: float) -> list[Series]:
    """Millilitres in each balloon that was spoken of, up to `end` in seconds."""
    spoken_of = _spoken_of(case)
    return [_volume(case, site, style, end) for site, style in _styled(case) if site in spoken_of]


def _spoken_of(case: Whole) -> Mapping[str, None]:
    """The balloons that were, in whichever tube of the case."""
    return dict.fromkeys(site for step in case.happened for site in step.after.balloons)


def _styled(case: Whole) -> Iterator[tuple[str, Style]]:
    """The balloons of the tube, and any other that was spoken of, each with its style."""
    yield from zip(dict.fromkeys((*case.procedure.tube.balloons, *_spoken_of(case))), cycle(STYLES), strict=False)


def _volume(case: Whole, site: str, style: Style, end: float) -> Series:
    levels = tuple(_levels(case, site))
    first_at, first = levels[0]
    runs: list[list[Point]] = [[(first_at, 0.0)] if first is not None else []]
    unknown: list[tuple[float, float]] = []
    for (at, level), (until, _) in pairwise([*levels, (end, None)]):
        if level is None:
            runs[-1].extend((at, y) for _, y in runs[-1][-1:])
            runs.append([])
            unknown.append((at, until))
        else:
            runs[-1] += [(at, level), (until, level)]
    label = f"{site} {filling(case.situation.balloon(site))}"
    points = tuple((at, level) for at, level in levels if level is not None)
    at_end = levels[-1][1] or 0.0
    return Series(style, label, at_end, tuple(map(tuple, filter(None, runs))), points, tuple(unknown))


def _levels(case: Whole, site: str) -> Iterator[tuple[float, float | None]]:
    """From when on how much was in a balloon; None for an amount that nobody said, nought once the tube is out."""
    for step in case.happened:
        before, after = (_known(situation.balloons.get(site)) for situation in (step.before, step.after))
        if after != before:
            yield seconds(case, step.line.said_at), after[0] if after else 0.0


def _known(balloon: Balloon | None) -> tuple[float | None] | None:
    """Volume in a balloon, None within for an unknown amount; None for a balloon nobody has spoken of."""
    if balloon is None:
        return None
    return (None,) if balloon.may_hold or (balloon.said_up and not balloon.volume) else (float(balloon.volume),)


def pressures(case: Whole) -> list[Series]:
    """mmHg read in each balloon; readings of which nobody said the balloon come last."""
    styled: list[tuple[str | None, Style]] = [*_styled(case), (None, NOT_SAID)]
    return [series for site, style in styled for series in _pressure(case, site, style)]


def _pressure(case: Whole, site: str | None, style: Style) -> Iterator[Series]:
    runs: list[list[Point]] = [[]]
    for step in case.happened:
        entry = step.entry
        if entry.kind == "pressure" and entry.number is not None and entry.site in (site, "both" if site else None):
            runs[-1].append((seconds(case, step.line.said_at), float(entry.number)))
        elif site is not None and step.after.balloon(site).pressure is None:
            runs.append([])  # deflated: what is read later is another filling
    points = tuple(point for run in runs for point in run)
    if points:
        joined = tuple(map(tuple, filter(None, runs))) if site is not None else ()
        last = points[-1][1]
        yield Series(style, f"{site or 'balloon not said'}, last {figure(last)} mmHg", last, joined, points)


def since(series: Series, start: float) -> Series:
    """The series from a moment on, in seconds: a line that begins earlier is cut there."""
    return replace(
        series,
        runs=tuple(cut for run in series.runs if (cut := _cut(run, start))),
        points=tuple((x, y) for x, y in series.points if x >= start),
        unknown=tuple((max(begun, start), until) for begun, until in series.unknown if until > start),
    )


def _cut(run: tuple[Point, ...], start: float) -> tuple[Point, ...]:
    after = tuple(point for point in run if point[0] >= start)
    before = [point for point in run if point[0] < start]
    if not before or not after:
        return after
    (x, y), (then, there) = before[-1], after[0]
    at_start = y + (there - y) * (start - x) / (then - x)
    return ((start, at_start), *after)


def value_at(series: Series, moment: float) -> float | None:
    """The value of a series at a moment in seconds, on the line between its points; None where nothing is known."""
    for run in series.runs:
        for (x, y), (then, there) in pairwise(run):
            if x <= moment <= then:
                return there if then == x else y + (there - y) * (moment - x) / (then - x)
    return None


def high_findings(case: Whole) -> list[float]:
    """When findings of high priority happened, in seconds; without those whose entry was corrected or struck."""
    held = (found for found in case.record.findings if found.settled is None or found.settled.ended is not None)
    raised = (found.raised for found in held)
    lines = (found.number for found in raised if found.level == "high" and found.number is not None)
    return [seconds(case, case.record.line(number).said_at) for number in lines]


def volume_bounds(case: Whole) -> list[Bound]:
    """The limits of what is in a balloon; some hold until the X-ray confirms the position."""
    confirmed = (seconds(case, line.said_at) for line in case.said("xray") if line.entry.value == "confirmed")
    until = min(confirmed, default=math.inf)
    sites = case.procedure.tube.balloons
    first, full = (
        [name for site in sites for name in volume_limits(case.procedure, site, confirmed)]
        for confirmed in (False, True)
    )
    before_film = _bounds(case, *(name for name in first if name not in full))
    return [*(replace(bound, until=until) for bound in before_film), *_bounds(case, *full)]


def pressure_bounds(case: Whole) -> list[Bound]:
    """The limits of the pressure in a balloon."""
    names = (name for site in case.procedure.tube.balloons for name in pressure_limits(case.procedure, site))
    return _bounds(case, *names)


def _bounds(case: Whole, *names: str) -> list[Bound]:
    """The bounds of these limits. Where two are the same number one line is drawn, under the graver one's name."""
    known = [(name, case.procedure.limits[name]) for name in names]
    gravest_last = sorted(known, key=lambda pair: LEVELS.index(pair[1].level), reverse=True)
    found = {(sign, value): name for name, limit in gravest_last for sign, value in _signed(limit)}
    units = {name: limit.unit for name, limit in known}
    return [
        Bound(value, f"{sign} {figure(value)} {units[name]} {name.replace('_', ' ')}")
        for (sign, value), name in found.items()
    ]


def _signed(limit: Limit) -> Iterator[tuple[str, float]]:
    if limit.max is not None:
        yield "≤", limit.max
    if limit.min is not None:
        yield "≥", limit.min
