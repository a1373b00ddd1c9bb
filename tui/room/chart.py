"""The last twelve hours of volumes and pressures against their limits, over the whole screen: for the night shift.

It draws the same curves as the chart on paper and on the page (log/exports/curves.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import timedelta
from itertools import groupby
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Static

from log.basics.visible import visible
from log.exports.chart import NIGHT
from log.exports.curves import (
    Bound,
    Series,
    high_findings,
    pressure_bounds,
    pressures,
    seconds,
    since,
    value_at,
    volume_bounds,
    volumes,
)
from log.exports.drawing import ticks
from log.summaries.whole import Whole
from log.words.wording import figure
from tui.room.theme import Look, look_of

MARGIN = 7
"""Columns for the numbers on the left."""
AROUND = 5
"""Rows for the title, the two headings, the findings and the hours."""
POINTS, STROKES = "●○▲", "━╍┅"
"""A reading, and the line between two, of the first, the second and the third balloon."""
HOURS = 8
"""Times of day below the chart, at most."""
BETWEEN = (60, 300, 900, 1800, 3600, 7200, 10800)
"""Seconds between two of them: they are those that a clock on the wall shows."""

Cell = tuple[str, str]
"""A sign, and its style."""


def drawn(case: Whole, width: int, height: int, look: Look) -> Text:
    """The chart in so many columns and rows, up to `case.until`."""
    end = seconds(case, case.until)
    start = max(0.0, end - NIGHT.total_seconds())
    end = max(end, start + 300)
    filled, read = ([since(one, start) for one in found] for found in (volumes(case, end), pressures(case)))
    rows = max((height - AROUND) // 2, 4)
    columns = [start + (end - start) * (n + 0.5) / (width - MARGIN) for n in range(width - MARGIN)]
    text = Text(no_wrap=True)
    text.append("volumes and pressures of the last 12 h against their limits   escape: back\n", "bold")
    for name, found, bounds in (("mL", filled, volume_bounds(case)), ("mmHg", read, pressure_bounds(case))):
        _heading(text, name, found, look)
        for row in _panel(found, [one for one in bounds if one.until > start], columns, rows, look):
            for style, cells in groupby(row, key=lambda cell: cell[1]):
                text.append("".join(sign for sign, _ in cells), style)
            text.append("\n")
    text.append(f"{'HIGH':>{MARGIN - 1}} ", look.text["high"])
    text.append(_marks(high_findings(case), columns) + "\n", look.text["high"])
    text.append(_hours(case, columns), look.soft)
    return text


def _heading(text: Text, unit: str, found: Sequence[Series], look: Look) -> None:
    text.append(f"{unit:>{MARGIN - 1}} ", "bold")
    for number, one in enumerate(found):
        text.append(f" {POINTS[number % 3]}{STROKES[number % 3]} {visible(one.label)}  ", "bold")
    text.append("nothing logged\n" if not found else "  ─ limit\n", look.soft)


def _panel(
    found: Sequence[Series], bounds: Sequence[Bound], columns: Sequence[float], rows: int, look: Look
) -> Iterator[list[Cell]]:
    values = [y for one in found for run in (*one.runs, one.points) for _, y in run]
    top = ticks(0.0, max([10.0, *values, *(one.value * 1.05 for one in bounds)]))[-1]
    grid: dict[tuple[int, int], Cell] = {}

    def row_of(value: float) -> int:
        return rows - 1 - round(value / top * (rows - 1))

    labels = {row_of(value): figure(round(value, 1)) for value in (0, top)}
    for bound in bounds:
        labels[row_of(bound.value)] = figure(bound.value)
        for column, at in enumerate(columns):
            if at <= bound.until:
                grid[column, row_of(bound.value)] = ("─", look.text["high"])
    for number, one in enumerate(found):
        for column, at in enumerate(columns):
            value = value_at(one, at)
            if value is not None:
                grid[column, row_of(value)] = (STROKES[number % 3], "bold")
        for at, value in one.points:
            column = min(range(len(columns)), key=lambda n: abs(columns[n] - at))
            grid[column, row_of(value)] = (POINTS[number % 3], "bold")
    for row in range(rows):
        label = (f"{labels.get(row, ''):>{MARGIN - 2}} ┤" if row in labels else f"{'':>{MARGIN - 1}}│", look.soft)
        yield [label, *(grid.get((column, row), (" ", "")) for column in range(len(columns)))]


def _marks(times: Sequence[float], columns: Sequence[float]) -> str:
    half = (columns[1] - columns[0]) / 2
    return "".join("▲" if any(abs(at - time) <= half for time in times) else "·" for at in columns)


def _hours(case: Whole, columns: Sequence[float]) -> str:
    """Times of day, each with its first sign in the column of that time."""
    row = [" "] * (len(columns) + MARGIN)
    start, span = columns[0], columns[-1] - columns[0]
    step = next((step for step in BETWEEN if span <= step * HOURS), BETWEEN[-1])
    began = case.opened.logged_at
    since_midnight = (began - began.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds()
    at = math.ceil((start + since_midnight) / step) * step - since_midnight
    while at <= columns[-1]:
        column = MARGIN + round((at - start) / span * (len(columns) - 1))
        clock = f"{began + timedelta(seconds=at):%H:%M}"
        if column + len(clock) <= len(row):
            row[column : column + len(clock)] = clock
        at += step
    return "".join(row)


class ChartPage(ModalScreen[None]):
    """The chart over the whole screen, kept up with the case."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,v,q", "dismiss", "back")]

    def __init__(self, case: Callable[[], Whole]) -> None:
        """`case`: the case as the screen shows it, up to now."""
        super().__init__()
        self._case = case

    def compose(self) -> ComposeResult:
        """The chart."""
        yield Static("", id="chart", markup=False)

    def on_mount(self) -> None:
        """Drawn anew every ten seconds."""
        self._draw()
        self.set_interval(10, self._draw)

    def on_resize(self) -> None:
        """As large as there is room now."""
        self._draw()

    def _draw(self) -> None:
        width, height = self.app.size
        look = look_of(self.app.theme, self.app.no_color)
        self.query_one("#chart", Static).update(drawn(self._case(), width - 2, height, look))
