"""A document as HTML: for the page of a case, and for the narrative in FHIR, which knows neither classes nor `del`."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from log.basics.visible import visible
from log.exports.document import (
    Block,
    Box,
    Break,
    Cell,
    Cells,
    Figure,
    Heading,
    Notice,
    Paragraph,
    Points,
    Run,
    Strong,
    Struck,
    Table,
    Words,
    runs,
)
from log.exports.svg import as_svg


def for_page(blocks: Iterable[Block]) -> str:
    """Markup that a style sheet can give its look, a block a line."""
    return "\n".join(map(_Writer(styled=True).block, blocks))


def for_narrative(blocks: Iterable[Block]) -> str:
    """XHTML of the few elements that FHIR allows in a narrative, without figures."""
    return "".join(map(_Writer(styled=False).block, blocks))


def text(words: str) -> str:
    """Text that prints as it stands between tags and does nothing else."""
    return escape(visible(words).strip(), quote=False)


@dataclass(frozen=True, slots=True)
class _Writer:
    styled: bool
    """True if a style sheet goes with it."""

    def block(self, block: Block) -> str:
        match block:
            case Heading():
                return f"<h{block.level}>{text(block.text)}</h{block.level}>"
            case Paragraph():
                return f"<p>{self._words(block.words)}</p>"
            case Notice():
                inside = "".join(f"<p>{self._words(words)}</p>" for words in block.paragraphs)
                return self._element("div", inside, block.look)
            case Points():
                return self._points(block)
            case Table():
                return self._table(block)
            case Figure():
                return self._figure(block)

    def _figure(self, figure: Figure) -> str:
        if not self.styled:
            return ""
        region = f'class="wide" role="region" aria-label="{escape(visible(figure.title))}" tabindex="0"'
        name = re.sub("[^a-z0-9]+", "-", figure.title.lower())
        return f"<h2>{text(figure.title)}</h2>\n<div {region}>{as_svg(figure.picture, name)}</div>"

    def _points(self, points: Points) -> str:
        items = "".join(self._element("li", self._words(item.words), item.look) for item in points.items)
        lead = f"<p>{self._words(points.lead)}</p>" if points.lead else ""
        return f"{lead}<ul>{items}</ul>" if items else lead

    def _table(self, table: Table) -> str:
        if not table.rows:
            return f"<p>{text(table.otherwise)}</p>"
        column = ' scope="col"' if self.styled else ""
        head = "".join(f"<th{column}>{text(title)}</th>" for title in table.head)
        looks = table.looks or ("",) * len(table.rows)
        rows = (self._row(cells, look) for cells, look in zip(table.rows, looks, strict=True))
        between = "\n" if self.styled else ""
        return between.join((f"<table><thead><tr>{head}</tr></thead>", "<tbody>", *rows, "</tbody></table>"))

    def _row(self, cells: Cells, look: str) -> str:
        first, *others = map(self._cell, cells)
        row = ' scope="row"' if self.styled else ""
        return self._element("tr", f"<th{row}>{first}</th>" + "".join(f"<td>{one}</td>" for one in others), look)

    def _cell(self, cell: Cell) -> str:
        match cell:
            case Box():
                return ""
            case Points():
                return self._points(cell)
            case _:
                return self._words(cell)

    def _element(self, name: str, inside: str, look: str) -> str:
        return f'<{name} class="{look}">{inside}</{name}>' if self.styled and look else f"<{name}>{inside}</{name}>"

    def _words(self, words: Words) -> str:
        return "".join(map(self._run, runs(words))).strip()

    def _run(self, run: Run) -> str:
        match run:
            case str():
                return escape(visible(run), quote=False)
            case Strong():
                return f"<strong>{text(run.text)}</strong>"
            case Struck():
                return self._struck(text(run.text))
            case Break():
                return "<br>" if self.styled else "<br/>"

    def _struck(self, markup: str) -> str:
        """Crossed out for the eye, and said to be so for those who listen."""
        if self.styled:
            return f'<span class="heard-only">struck: </span><del>{markup}</del>'
        return f'<span style="text-decoration: line-through">{markup}</span>'
