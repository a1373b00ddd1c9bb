"""The chart on paper, from the same parts as on a screen."""

from __future__ import annotations

from reportlab.graphics.shapes import Drawing, Polygon, PolyLine, String
from reportlab.lib.colors import HexColor, white

from log.exports.drawing import Chart, Line, Part, Shape, Text
from log.exports.lettering import BOLD, PLAIN, legible
from log.exports.svg import COLOURS


def as_drawing(picture: Chart) -> Drawing:
    """The chart as something that can be set on a page; there y runs upwards."""
    drawing = Drawing(picture.width, picture.height, initialFontName=PLAIN)
    for part in picture.parts:
        drawing.add(_shape(part, picture.height))
    return drawing


def _shape(part: Part, height: float) -> PolyLine | Polygon | String:
    colour = HexColor(COLOURS[part.tone])
    match part:
        case Line():
            return PolyLine(
                _turned(part.points, height),
                strokeColor=colour,
                strokeWidth=part.width,
                strokeDashArray=list(part.dash) or None,
            )
        case Shape():
            inside = colour if part.filled else white
            return Polygon(_turned(part.points, height), strokeColor=colour, fillColor=inside, strokeWidth=1)
        case Text():
            return String(
                part.x,
                height - part.y,
                legible(part.text),
                fontName=BOLD if part.bold else PLAIN,
                fontSize=part.size,
                fillColor=colour,
                textAnchor=part.anchor,
            )


def _turned(points: tuple[tuple[float, float], ...], height: float) -> list[float]:
    return [coordinate for x, y in points for coordinate in (x, height - y)]
