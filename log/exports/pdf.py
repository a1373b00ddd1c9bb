"""Documents on paper: the procedure note with its chart, and whatever else has to be read and signed.

Every page says whose log it is, what the program is not, and which log it was made from. The same case gives the same
bytes again: no clock, no random numbers, no fonts of the machine.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from io import BytesIO
from typing import Any

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.utils import simpleSplit
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepInFrame, PageTemplate
from reportlab.platypus.flowables import CallerMacro

from log.basics.visible import visible
from log.exports.chart import NIGHT, WIDTH, chart
from log.exports.curves import seconds
from log.exports.document import Document, Figure
from log.exports.drawing import fitted
from log.exports.lettering import BOLD, PLAIN, legible
from log.exports.note import note
from log.exports.tables import made_from
from log.exports.typesetting import SOFT, flowables, story
from log.summaries.whole import Whole

TOP, SIZE, LEADING = 46.0, 6.5, 8.2
"""Points: the upper margin; writing at the head and foot of the page."""


def as_pdf(case: Whole) -> bytes:
    """The note as PDF, on the paper the case asks for; the same bytes for the same case."""
    return pages(case, note(case, *_charts(case)))


def _charts(case: Whole) -> Iterator[Figure]:
    """The whole case; of one that is longer than a night shift, its last hours as well."""
    yield Figure("Chart", chart(case))
    if case.happened and seconds(case, case.happened[-1].line.said_at) > NIGHT.total_seconds():
        yield Figure("Chart of the last 12 hours", chart(case, NIGHT))


def pages(case: Whole, document: Document) -> bytes:
    """A document on as many pages as it needs."""
    return _set(case, document.name, story(document.blocks))[0]


def one_page(case: Whole, fuller_first: Iterable[Document]) -> bytes:
    """The first of these documents that one page holds; the last is made smaller if none does."""
    last: Document | None = None
    for last in fuller_first:
        content, count = _set(case, last.name, flowables(last.blocks))
        if count == 1:
            return content
    assert last is not None
    shrunk = KeepInFrame(0, _frame(case)[3] - LEADING, flowables(last.blocks), mode="shrink")
    return _set(case, last.name, [shrunk])[0]


def _set(case: Whole, title: str, story: Sequence[Flowable]) -> tuple[bytes, int]:
    """The story on pages, and on how many. It was made with the fonts, so they are there."""
    out = BytesIO()
    page, side, bottom, height = _frame(case)
    foot = _foot_lines(case)

    def furniture(canvas: Any, _: object) -> None:
        canvas.setDateFormatter(lambda *_: "")  # when it was printed is not part of the log
        _head(canvas, case, side, page[1] - 28.0)
        _foot(canvas, foot, made_from(case), side, 24.0)

    document = BaseDocTemplate(
        out,
        pagesize=page,
        title=visible(f"{_mark(case)}{title}: {case.procedure.title}, case {case.opened.case}"),
        author=visible(case.opened.author or case.opened.software),
        subject=made_from(case),
        creator=visible(case.opened.software),
        lang="en-GB",
        displayDocTitle=True,
        initialFontName=PLAIN,
        invariant=1,
    )
    frame = Frame(side, bottom, WIDTH, height, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate(frames=[frame], onPage=furniture))
    document.build([*story, CallerMacro(drawCallable=_number_pages)])
    return out.getvalue(), document.page


def _frame(case: Whole) -> tuple[tuple[float, float], float, float, float]:
    """The page, and of what is written on it between head and foot: left and lower edge, height. Points."""
    page = A4 if case.paper == "a4" else LETTER
    bottom = 34.0 + LEADING * (len(_foot_lines(case)) + 1)
    return page, (page[0] - WIDTH) / 2, bottom, page[1] - TOP - bottom


def _foot_lines(case: Whole) -> list[str]:
    lines: list[str] = simpleSplit(legible(visible(case.procedure.cautions[0])), PLAIN, SIZE, WIDTH)
    return lines


def _mark(case: Whole) -> str:
    return f"{case.simulation}: " if case.simulation else ""


def _head(canvas: Any, case: Whole, left: float, y: float) -> None:
    if case.simulation:
        canvas.setFont(BOLD, 9)
        canvas.drawString(left, y + 12.0, fitted(legible(case.simulation), WIDTH, 9, bold=True))
    canvas.setFont(BOLD, 7.5)
    canvas.drawString(left, y, fitted(legible(visible(f"Case {case.opened.case}")), WIDTH / 2 - 8.0, 7.5, bold=True))
    canvas.setFont(PLAIN, 7.5)
    canvas.drawRightString(left + WIDTH, y, fitted(legible(visible(case.procedure.title)), WIDTH / 2 - 8.0, 7.5))
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.4)
    canvas.line(left, y - 5.0, left + WIDTH, y - 5.0)


def _foot(canvas: Any, caution: list[str], log: str, left: float, y: float) -> None:
    """The caution, the log's fingerprint, and the page, which is filled in when it is known how many there are."""
    canvas.setFont(PLAIN, SIZE)
    for number, line in enumerate(caution):
        canvas.drawString(left, y + LEADING * (len(caution) - number), line)
    canvas.drawString(left, y, log)
    canvas.saveState()
    canvas.translate(left + WIDTH, y)
    canvas.doForm(f"page{canvas.getPageNumber()}")
    canvas.restoreState()
    canvas.setStrokeColor(SOFT)
    canvas.setLineWidth(0.4)
    top = y + LEADING * (len(caution) + 1)
    canvas.line(left, top, left + WIDTH, top)


def _number_pages(last: Any) -> None:
    """Writes "page n of m" for every page, now that the last has come."""
    canvas = last.canv
    total = canvas.getPageNumber()
    for number in range(1, total + 1):
        canvas.beginForm(f"page{number}", -100, -3, 0, 12)
        canvas.setFont(PLAIN, SIZE)
        canvas.drawRightString(0, 0, f"page {number} of {total}")
        canvas.endForm()
