"""A document as paragraphs and tables for paper: wide tables that stay readable, boxes with room to write by hand."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from html import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak, Paragraph, Spacer, Table

from log.basics.visible import visible
from log.exports import document
from log.exports.chart import WIDTH
from log.exports.document import (
    BOX,
    Block,
    Break,
    Cell,
    Cells,
    Figure,
    Heading,
    Notice,
    Points,
    Run,
    Strong,
    Struck,
    Words,
    in_one_line,
    plain,
    runs,
    sections,
)
from log.exports.lettering import BOLD, PLAIN, legible
from log.exports.paper_chart import as_drawing

INK, SOFT, SHADE = HexColor("#1a1a1a"), HexColor("#9a9a9a"), HexColor("#ececec")
SMALL, PADDING = 6.8, 3.0
"""Points: the writing in tables, and the room left and right of it."""
BOX_HEIGHTS = (0.0, 18.0, 36.0)
"""Least height in points of a row without a box, with one or two to write in, and with more: a row to be signed."""
TO_WRITE = 90.0
"""Width in points that somebody needs to write something by hand."""
WELL_WRITTEN = 2 * TO_WRITE
"""Points that it gets where there is room."""
MOST_KEPT = 270.0
"""Points: a section that is no higher is kept on one page."""
LEAST_BELOW_HEADING = 150.0
"""Points that have to be left on the page for a heading to begin there."""
LONG_CELL, LEAST_OF_A_ROW = 300.0, 1.0
"""Points: a cell that may be higher than that can be broken between lines, if so much of it comes on either page: with
more than a line a row that is hardly higher than a page could not be set. No other is: a row stays whole."""

_BODY = {"fontName": PLAIN, "textColor": INK, "bulletFontName": PLAIN}
TEXT = ParagraphStyle("text", fontSize=8.5, leading=11.5, spaceAfter=5, **_BODY)
CELL = ParagraphStyle("cell", fontSize=SMALL, leading=8.8, **_BODY)
POINT = ParagraphStyle("point", TEXT, leftIndent=12)
QUOTE = ParagraphStyle("quote", TEXT, backColor=SHADE, borderPadding=(5, 6, 5, 6), spaceBefore=8, spaceAfter=12)
HEADINGS = {
    1: ParagraphStyle("h1", fontSize=15, leading=19, spaceAfter=8, **{**_BODY, "fontName": BOLD}),
    2: ParagraphStyle("h2", fontSize=11, leading=14, spaceBefore=9, spaceAfter=5, **{**_BODY, "fontName": BOLD}),
}


def story(blocks: Iterable[Block]) -> list[Flowable]:
    """The blocks as they are set on pages. A short section stays on one page; a long one does not begin at the foot of
    one; a second title begins a page."""
    found: list[Flowable] = []
    for one in sections(blocks):
        found += [PageBreak()] if found and isinstance(one[0], Heading) and one[0].level == 1 else []
        found += _kept(one)
    return found


def flowables(blocks: Iterable[Block], width: float = WIDTH) -> list[Flowable]:
    """All of it one after the other, in a column so many points wide, nothing kept together: for what has to fit one
    page."""
    return [flowable for block in blocks for flowable in _block(block, width)]


def _kept(section: Sequence[Block]) -> list[Flowable]:
    """A figure does not part from its heading, however high it is."""
    found = flowables(section)
    if isinstance(section[0], Figure) or sum(one.wrap(WIDTH, math.inf)[1] for one in found) <= MOST_KEPT:
        return [KeepTogether(found)]
    return [CondPageBreak(LEAST_BELOW_HEADING), *found]


def _block(block: Block, width: float) -> Iterator[Flowable]:
    match block:
        case Heading():
            yield Paragraph(_run(block.text), HEADINGS[block.level])
        case document.Paragraph():
            yield Paragraph(_markup(block.words), TEXT)
        case Notice():
            yield Paragraph("<br/>".join(map(_markup, block.paragraphs)), QUOTE)
        case Points():
            yield from (Paragraph(_markup(item.words), POINT, bulletText="\N{BULLET}") for item in block.items)
        case document.Table() if block.rows:
            yield _table(block, width)
            yield Spacer(0, 7)
        case document.Table():
            yield Paragraph(_run(block.otherwise), TEXT)
        case Figure():
            yield Paragraph(_run(block.title), HEADINGS[2])
            yield as_drawing(block.picture)
            yield Spacer(0, 6)


def _markup(words: Words) -> str:
    """Words in the paragraph's own little markup."""
    return "".join(map(_run, runs(words))).strip()


def _run(run: Run) -> str:
    match run:
        case str():
            return escape(legible(visible(run)), quote=False)
        case Strong():
            return f"<b>{_run(run.text)}</b>"
        case Struck():
            return f"<strike>{_run(run.text)}</strike>"
        case Break():
            return "<br/>"


# ---- tables ---------------------------------------------------------------------------------------------------------


def _table(of: document.Table, total: float) -> Table:
    rows: list[Cells] = [of.head, *of.rows]
    texts = [[_text(cell) for cell in row] for row in rows]
    boxes = [(column, row) for row, cells in enumerate(rows) for column, cell in enumerate(cells) if cell == BOX]
    in_row = Counter(row for _, row in boxes)
    widths = column_widths(texts, total)
    heights = (_width(text) / width * CELL.leading for row in texts for text, width in zip(row, widths, strict=True))
    table = Table(
        [[_cell(cell, head=number == 0) for cell in row] for number, row in enumerate(rows)],
        colWidths=widths,
        minRowHeights=[BOX_HEIGHTS[min((in_row[number] + 1) // 2, 2)] for number in range(len(rows))],
        repeatRows=1,
        splitInRow=LEAST_OF_A_ROW if max(heights) > LONG_CELL else 0,
    )
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("FONT", (0, 0), (-1, -1), PLAIN, SMALL),
            ("BACKGROUND", (0, 0), (-1, 0), SHADE),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, SOFT),
            ("LEFTPADDING", (0, 0), (-1, -1), PADDING),
            ("RIGHTPADDING", (0, 0), (-1, -1), PADDING),
            ("TOPPADDING", (0, 0), (-1, -1), 2.2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.8),
            *(("VALIGN", (0, row), (-1, row), "MIDDLE") for row in in_row),
            *(("BOX", place, place, 0.5, SOFT) for place in boxes),
        ]
    )
    return table


def _text(cell: Cell) -> str | None:
    """The text that sets the width of a cell; None for a box."""
    return None if cell == BOX else legible(visible(plain(cell)))


def _cell(cell: Cell, head: bool) -> list[Flowable]:
    markup = _markup(in_one_line(cell))
    return [Paragraph(f"<b>{markup}</b>" if head else markup, CELL)] if markup else []


def column_widths(texts: Sequence[Sequence[str | None]], total: float) -> list[float]:
    """Widths in points that add up to `total`; None among the texts is a box. Each column gets what its longest word
    needs, if that can be had; what is left goes to those that have more to say, by the root of how much more, so that
    none is starved.
    """
    columns = list(zip(*texts, strict=True))
    whole = [max(_width(text) if text is not None else WELL_WRITTEN for text in column) for column in columns]
    words = [max(_width(word) for text in column for word in _words(text)) for column in columns]
    longest = total / len(columns) * 1.3
    least = [min(word, longest) for word in words]
    if sum(least) >= total:
        return [width * total / sum(least) for width in least]
    more = [math.sqrt(max(wanted - needed, 1.0)) for wanted, needed in zip(whole, least, strict=True)]
    left = total - sum(least)
    return [needed + left * share / sum(more) for needed, share in zip(least, more, strict=True)]


def _words(text: str | None) -> Sequence[str | None]:
    return (text.split() or [""]) if text is not None else [None]


def _width(text: str | None) -> float:
    if text is None:
        return TO_WRITE
    return float(stringWidth(text, BOLD, SMALL)) + 2 * PADDING + 0.5
