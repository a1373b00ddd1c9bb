"""Pages on paper beside the bed, one each: the A5 card that shows how to speak to the log, with the cautions of the
definition, and any other that is made of a definition.

The writing is set as on an A4 page and enlarged, so that it can be read at
arm's length.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A5
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepInFrame, PageTemplate

from log.basics.visible import visible
from log.definition.procedure import Procedure
from log.exports.document import Document, Heading, Item, Notice, Paragraph, Points, Strong, table
from log.exports.lettering import PLAIN
from log.exports.typesetting import flowables

MARGIN = 24.0
"""Points around what is written."""
ENLARGEMENTS = (1.4, 1.35, 1.3, 1.25, 1.2, 1.15, 1.1, 1.05, 1.0)
"""Sizes of the writing against an A4 page, the largest first."""


def card(procedure: Procedure, advice: Iterable[str], examples: Iterable[tuple[str, tuple[str, ...]]]) -> Document:
    """The card of a definition: advice, then what the examples are about and how they may be said, then cautions."""
    rows = ((Strong(about), _said(said)) for about, said in examples)
    blocks = (
        Heading("How to speak to the log", level=1),
        Paragraph(f"{procedure.title}, definition {procedure.version}"),
        Points(tuple(Item(text) for text in advice)),
        table(("To log", "Say, for example"), rows),
        Notice(tuple(procedure.cautions)),
    )
    return Document("Card", blocks)


def as_pdf(document: Document, title: str, size: tuple[float, float] = A5) -> bytes:
    """The document as one page of this size in points; the same bytes for the same document."""
    out = BytesIO()
    enlarged, content = _as_large_as_fits(document, size)
    width, height = _inside(size, enlarged)

    def enlarge(canvas: Any, _: object) -> None:
        canvas.setDateFormatter(lambda *_: "")
        canvas.scale(enlarged, enlarged)

    page = BaseDocTemplate(
        out,
        pagesize=size,
        title=visible(title),
        lang="en-GB",
        displayDocTitle=True,
        initialFontName=PLAIN,
        invariant=1,
    )
    frame = Frame(MARGIN / enlarged, MARGIN / enlarged, width, height, 0, 0, 0, 0)
    page.addPageTemplates(PageTemplate(frames=[frame], onPage=enlarge))
    page.build([KeepInFrame(width, height, content, mode="shrink")])
    return out.getvalue()


def _inside(size: tuple[float, float], enlarged: float) -> tuple[float, float]:
    """Width and height between the margins, in points of the writing before it is enlarged."""
    width, height = size
    return (width - 2 * MARGIN) / enlarged, (height - 2 * MARGIN) / enlarged


def _as_large_as_fits(document: Document, size: tuple[float, float]) -> tuple[float, list[Flowable]]:
    """The largest size of the writing that fits, and the document set in it; what fits at no size is shrunk later."""
    for enlarged in ENLARGEMENTS:
        width, height = _inside(size, enlarged)
        content = flowables(document.blocks, width)
        if _height(content, width) <= height:
            break
    return enlarged, content


def _height(content: list[Flowable], width: float) -> float:
    """Points that the content takes one after the other, gaps counted in full."""
    return math.fsum(one.wrap(width, math.inf)[1] + one.getSpaceBefore() + one.getSpaceAfter() for one in content)


def _said(examples: tuple[str, ...]) -> str:
    return ", ".join(f'"{example}"' for example in examples)
