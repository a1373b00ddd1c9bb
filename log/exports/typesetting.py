"""The note's Markdown as paragraphs and tables for paper: wide tables that stay readable, room to write by hand where
the note has blanks, and for every character that the fonts do not have its code point.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator, Sequence
from functools import cache
from html import escape
from importlib.resources import files
from io import BytesIO

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily, stringWidth
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, Spacer, Table

from log.exports.chart import WIDTH
from log.exports.markdown import BLANK

PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
INK, SOFT, SHADE = HexColor("#1a1a1a"), HexColor("#9a9a9a"), HexColor("#ececec")
SMALL, PADDING = 6.8, 3.0
"""Points: the writing in tables, and the room left and right of it."""
ONE_BLANK, MANY_BLANKS = 18.0, 36.0
"""Least height in points of a row with one thing to be written by hand, and of one to be signed."""
TO_WRITE = 90.0
"""Width in points that somebody needs to write something by hand."""
MOST_KEPT = 270.0
"""Points: a section that is no higher is kept on one page."""
LEAST_BELOW_HEADING = 150.0
"""Points that have to be left on the page for a heading to begin there."""
LONG_CELL, LEAST_OF_A_ROW = 300.0, 60.0
"""Points: a cell that may be higher than that can be broken between lines, if so much of it fits on the page. No other
is: a row stays whole, and nothing but a row higher than a page needs it."""

_BODY = {"fontName": PLAIN, "textColor": INK, "bulletFontName": PLAIN}
TEXT = ParagraphStyle("text", fontSize=8.5, leading=11.5, spaceAfter=5, **_BODY)
CELL = ParagraphStyle("cell", fontSize=SMALL, leading=8.8, **_BODY)
QUOTE = ParagraphStyle("quote", TEXT, backColor=SHADE, borderPadding=(5, 6, 5, 6), spaceBefore=8, spaceAfter=12)
HEADINGS = {
    "h1": ParagraphStyle("h1", fontSize=15, leading=19, spaceAfter=8, **{**_BODY, "fontName": BOLD}),
    "h2": ParagraphStyle("h2", fontSize=11, leading=14, spaceBefore=9, spaceAfter=5, **{**_BODY, "fontName": BOLD}),
}


@cache
def _glyphs() -> frozenset[int]:
    """The code points that both faces can show. The faces are registered on the way."""
    known = []
    for name in (PLAIN, BOLD):
        content = (files("log.exports") / "fonts" / f"{name}-subset.ttf").read_bytes()
        font = TTFont(name, BytesIO(content))
        registerFont(font)
        known.append(frozenset(font.face.charToGlyph))
    registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    return known[0] & known[1]


def legible(text: str) -> str:
    """The text with the code point in place of what the fonts cannot show: "[U+4E2D]"."""
    glyphs = _glyphs()
    composed = unicodedata.normalize("NFC", text)
    return "".join(sign if ord(sign) in glyphs else f"[U+{ord(sign):04X}]" for sign in composed)


def sections(markdown: str) -> Iterator[tuple[str, list[Flowable]]]:
    """The note heading by heading: what stands in the heading, and all that is to be set under it, heading included."""
    title = ""
    blocks: list[SyntaxTreeNode] = []
    for node in _parsed(markdown):
        if node.type == "heading":
            yield title, _kept(blocks)
            title, blocks = _plain(node), []
        blocks.append(node)
    yield title, _kept(blocks)


def flowables(markdown: str) -> list[Flowable]:
    """All of it one after the other, nothing kept together: for what has to fit one page."""
    return [flowable for node in _parsed(markdown) for flowable in _block(node)]


def _parsed(markdown: str) -> list[SyntaxTreeNode]:
    """The blocks of the Markdown. The faces are registered on the way."""
    _glyphs()
    return SyntaxTreeNode(MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(markdown)).children


def _kept(blocks: Sequence[SyntaxTreeNode]) -> list[Flowable]:
    """The blocks of a section. A short one stays on one page; a long one does not begin at the foot of one."""
    if not blocks:
        return []
    found = [flowable for block in blocks for flowable in _block(block)]
    height = sum(flowable.wrap(WIDTH, math.inf)[1] for flowable in found)
    return [KeepTogether(found)] if height <= MOST_KEPT else [CondPageBreak(LEAST_BELOW_HEADING), *found]


def _block(node: SyntaxTreeNode) -> Iterator[Flowable]:
    match node.type:
        case "heading":
            yield Paragraph(_markup(node), HEADINGS.get(node.tag, HEADINGS["h2"]))
        case "blockquote":
            yield Paragraph("<br/>".join(_markup(child) for child in node.children), QUOTE)
        case "table":
            yield _table(node)
            yield Spacer(0, 7)
        case _:
            yield Paragraph(_markup(node), TEXT)


def _markup(node: SyntaxTreeNode) -> str:
    """What stands in a node, in the paragraph's own little markup."""
    match node.type:
        case "softbreak" | "hardbreak":
            return "<br/>"
        case "strong":
            return f"<b>{_inside(node)}</b>"
        case "s":
            return f"<strike>{_inside(node)}</strike>"
        case _:
            return _inside(node) if node.children else escape(legible(_content(node)), quote=False)


def _inside(node: SyntaxTreeNode) -> str:
    return "".join(map(_markup, node.children))


def _plain(node: SyntaxTreeNode) -> str:
    return "".join(map(_plain, node.children)) if node.children else legible(_content(node))


def _content(node: SyntaxTreeNode) -> str:
    return "" if node.is_root or node.is_nested else node.content


# ---- tables ---------------------------------------------------------------------------------------------------------


def _table(node: SyntaxTreeNode) -> Table:
    rows = [row.children for part in node.children for row in part.children]
    texts = [[_plain(cell) for cell in row] for row in rows]
    blanks = [row.count(BLANK) for row in texts]
    widths = column_widths(texts, WIDTH)
    heights = (_width(text) / width * CELL.leading for row in texts for text, width in zip(row, widths, strict=True))
    table = Table(
        [
            [_cell(cell, text, head=number == 0) for cell, text in zip(row, told, strict=True)]
            for number, (row, told) in enumerate(zip(rows, texts, strict=True))
        ],
        colWidths=widths,
        minRowHeights=[MANY_BLANKS if count > 1 else ONE_BLANK if count else 0 for count in blanks],
        repeatRows=1,
        splitInRow=LEAST_OF_A_ROW if max(heights) > LONG_CELL else 0,
    )
    to_be_written = [
        ("BOX", (c, r), (c, r), 0.5, SOFT) for r, row in enumerate(texts) for c, text in enumerate(row) if text == BLANK
    ]
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
            *(("VALIGN", (0, r), (-1, r), "MIDDLE") for r, count in enumerate(blanks) if count),
            *to_be_written,
        ]
    )
    return table


def _cell(node: SyntaxTreeNode, text: str, head: bool) -> list[Flowable]:
    markup = "" if text == BLANK else _markup(node)
    return [Paragraph(f"<b>{markup}</b>" if head else markup, CELL)] if markup else []


def column_widths(texts: Sequence[Sequence[str]], total: float) -> list[float]:
    """Widths in points that add up to `total`. Each column gets what its longest word needs, if that can be had; what
    is left goes to those that have more to say, by the root of how much more, so that none is starved."""
    columns = list(zip(*texts, strict=True))
    whole = [max(_width(text) for text in column) for column in columns]
    words = [max(_width(word) for text in column for word in (text.split() or [""])) for column in columns]
    longest = total / len(columns) * 1.3
    least = [min(word, longest) for word in words]
    if sum(least) >= total:
        return [width * total / sum(least) for width in least]
    more = [math.sqrt(max(wanted - needed, 1.0)) for wanted, needed in zip(whole, least, strict=True)]
    left = total - sum(least)
    return [needed + left * share / sum(more) for needed, share in zip(least, more, strict=True)]


def _width(text: str) -> float:
    if text == BLANK:
        return TO_WRITE
    return float(stringWidth(text, BOLD, SMALL)) + 2 * PADDING + 0.5
