"""The parts a picture is made of, in points, and the little geometry that keeps its writing apart.

Paper and screen draw the same parts, so that nobody signs another picture than the one that was looked at.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from log.basics.visible import visible

Point = tuple[float, float]
Tone = Literal["ink", "soft", "faint", "limit", "first", "second", "third"]
"""The purpose of a part; the back-end gives it a colour."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points."""

    points: tuple[Point, ...]
    tone: Tone = "ink"
    width: float = 0.5
    dash: tuple[float, ...] = ()
    """Lengths on and off; () is unbroken."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A closed outline, filled with its own tone or with the paper's."""

    points: tuple[Point, ...]
    tone: Tone
    filled: bool


@dataclass(frozen=True, slots=True)
class Text:
    """One line of writing; y is that of its baseline."""

    x: float
    y: float
    text: str
    size: float = 6.5
    tone: Tone = "ink"
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False


Part = Line | Shape | Text


@dataclass(frozen=True, slots=True)
class Chart:
    """The picture; x runs to the right and y downwards, in points, from the upper left corner."""

    width: float
    height: float
    title: str
    description: str
    """The picture in words, for those who cannot see it."""
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Scale:
    """Where a value lies on paper."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """The place in points; what lies outside is drawn at the edge."""
        inside = min(max(value, self.low), self.high)
        return self.start + (inside - self.low) / (self.high - self.low) * (self.end - self.start)


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Points that a text takes at most, in the fonts the chart may be drawn with."""
    return size * sum(map(_advance, text)) * (1.13 if bold else 1.0)


def _advance(character: str) -> float:
    if character in " .,:;'!|()[]ijlftI-":
        return 0.42
    wide = character in "mwMW%@≤≥+…" or character > "\u024f"
    return 1.0 if wide else 0.8 if character.isupper() else 0.645


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> tuple[float, ...]:
    """Places as near as may be to the wanted ones, none closer than `gap`, all within bounds, in the same order as
    given. If there are too many they share the room evenly."""
    if not wanted:
        return ()
    gap = min(gap, (high - low) / max(len(wanted) - 1, 1))
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    places: list[float] = []
    for rank, index in enumerate(order):  # as high as wanted, pushed down by those above, held off the lower end
        room = high - gap * (len(order) - 1 - rank)
        after = places[-1] + gap if places else low
        places.append(min(max(wanted[index], after), room))
    found = dict(zip(order, places, strict=True))
    return tuple(found[index] for index in range(len(wanted)))


def ticks(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Round numbers (1, 2 or 5 times a power of ten apart) from the last not above `low` to the first not below
    `high`. `low` has to be less than `high`."""
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * 0.999)
    return tuple(step * number for number in range(math.floor(low / step), math.ceil(high / step) + 1))


def fitted(text: str, width: float, size: float = 6.5, bold: bool = False) -> str:
    """The text in one line, cut short with a sign that it was, if it is too wide."""
    text = visible(text)
    if text_width(text, size, bold) <= width:
        return text
    length = bisect_right(range(1, len(text)), width, key=lambda part: text_width(f"{text[:part]}…", size, bold))
    return f"{text[:length]}…"
