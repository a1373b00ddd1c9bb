"""Rows on one screen. Where it is small, lines are cut short and lists are counted: what comes first stays, and what is
missing is said.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from log.basics.visible import visible
from log.definition.record_only import mark_of
from log.summaries.whole import Whole
from log.words.rows import Row

LEAD = 16
"""Columns of the word that a line begins with."""
NARROWEST, WIDEST = 60, 120
FITTINGS: tuple[tuple[int | None, bool], ...] = (
    (None, False),
    *((most, True) for most in (None, 8, 6, 5, 4, 3, 2, 1)),
)
"""How the screen is made smaller step by step: at most so many lines of a list, and whether lines are cut short."""


def one_screen(case: Whole, title: str, rows: Sequence[Row], width: int, height: int | None) -> list[str]:
    """The screen line by line, in so many columns (60 to 120), and in so many lines where that can be done; None: as
    many as it needs."""
    columns = min(max(width, NARROWEST), WIDEST)
    lines: list[str] = []
    for most, cut in FITTINGS:
        lines = list(_laid_out(case, title, [row.at_most(most) for row in rows], columns, cut))
        if height is None or len(lines) <= height:
            break
    return lines


def _laid_out(case: Whole, title: str, rows: Sequence[Row], columns: int, cut: bool) -> Iterator[str]:
    yield from (mark for mark in (case.simulation, mark_of(case.procedure)) if mark)
    yield from textwrap.wrap(visible(title), columns)
    for row in rows:
        texts = row.texts[:1] if cut and not row.counted else row.texts
        for number, text in enumerate(texts):
            yield from _line(visible("" if number else row.lead), visible(text), columns, cut and bool(row.counted))
    cautions = case.procedure.cautions[:1] if cut else case.procedure.cautions
    yield from textwrap.wrap(f"! {visible(' '.join(cautions))}", columns, subsequent_indent="  ")


def _line(lead: str, text: str, columns: int, cut: bool) -> list[str]:
    if cut and len(text) > columns - LEAD:
        text = f"{text[: columns - LEAD - 3]}..."
    first = f"{lead:<{LEAD - 1}} "
    return textwrap.wrap(text, columns, initial_indent=first, subsequent_indent=" " * LEAD) or [first.rstrip()]


def in_short(cautions: Sequence[str]) -> str:
    """The cautions that always stand on a screen: their beginning, and who decides."""
    first = cautions[0].partition(". ")[0].rstrip(".") + "."
    return first if len(cautions) == 1 else f"{first} {cautions[1]}"
