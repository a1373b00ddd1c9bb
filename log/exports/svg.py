"""The chart for a screen: SVG to be set into a page. It refers to nothing outside itself.

Colours stand in the drawing for viewers that know no style sheet; a page may give each class another, for the dark.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from log.exports.drawing import Chart, Line, Part, Point, Shape, Text, Tone

COLOURS: dict[Tone | str, str] = {
    "ink": "#1a1a1a",
    "soft": "#5c5c5c",
    "faint": "#dddddd",
    "limit": "#a02020",
    "first": "#00528a",
    "second": "#8a4b00",
    "third": "#3f6212",
    "paper": "#ffffff",
}
"""Dark enough on white to be read when printed without colour."""


def as_svg(chart: Chart, name: str = "chart") -> str:
    """The chart as one svg element with its title and description; the same text for the same chart. `name`: what its
    ids begin with, one of its own for each chart of a page."""
    width, height = _n(chart.width), _n(chart.height)
    return "\n".join(
        (
            f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
            f'aria-labelledby="{name}-title {name}-about" font-family="DejaVu Sans, Verdana, sans-serif">',
            f'<title id="{name}-title">{escape(chart.title)}</title>',
            f'<desc id="{name}-about">{escape(chart.description)}</desc>',
            *map(_element, chart.parts),
            "</svg>",
        )
    )


def _element(part: Part) -> str:
    match part:
        case Line():
            dash = f' stroke-dasharray="{" ".join(map(_n, part.dash))}"' if part.dash else ""
            return (
                f'<polyline class="line {part.tone}" points="{_points(part.points)}" fill="none" '
                f'stroke="{COLOURS[part.tone]}" stroke-width="{_n(part.width)}"{dash}/>'
            )
        case Shape():
            inside = part.tone if part.filled else "paper"
            return (
                f'<polygon class="shape {part.tone} {inside}-inside" points="{_points(part.points)}" '
                f'fill="{COLOURS[inside]}" stroke="{COLOURS[part.tone]}" stroke-width="1"/>'
            )
        case Text():
            weight = ' font-weight="bold"' if part.bold else ""
            return (
                f'<text class="{part.tone}" x="{_n(part.x)}" y="{_n(part.y)}" font-size="{_n(part.size)}" '
                f'text-anchor="{part.anchor}" fill="{COLOURS[part.tone]}"{weight}>{escape(part.text)}</text>'
            )


def _points(points: Iterable[Point]) -> str:
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in points)


def _n(number: float) -> str:
    """A number of points, to the hundredth."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
