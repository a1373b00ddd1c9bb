"""A document as Markdown: tables, struck text, and no word of the room that could become markup."""

from __future__ import annotations

import re
from collections.abc import Iterable

from log.basics.visible import visible
from log.exports.document import (
    Block,
    Box,
    Break,
    Cell,
    Document,
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
    in_one_line,
    runs,
)

BLANK = "________"
"""A box to fill in by hand."""

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!$^=@]|(?<=:)/|(?<=www)\.)", re.IGNORECASE)
"""Characters that could begin markup, HTML, an entity, a table cell or a link in the middle of a line."""

_BEGINS = re.compile(r"^(\d*)([-+.)])")
"""Characters that could begin a list or a rule at the start of a paragraph."""


def as_markdown(document: Document) -> str:
    """The whole document. Figures are left out."""
    return "\n".join(line for block in document.blocks for line in _block(block)).rstrip("\n") + "\n"


def escaped(text: str) -> str:
    """Text that prints as it stands and does nothing else."""
    return _SPECIAL.sub(r"\\\1", visible(text)).strip()


def _block(block: Block) -> list[str]:
    """The lines of a block, with the blank line after it."""
    match block:
        case Heading():
            return [f"{'#' * block.level} {escaped(block.text)}", ""]
        case Paragraph():
            return [_BEGINS.sub(r"\1\\\2", _words(block.words)), ""]
        case Notice():
            return ["\n>\n".join(f"> {_words(words)}" for words in block.paragraphs), ""]
        case Points():
            return [*(f"- {_words(item.words)}" for item in block.items), ""]
        case Table():
            return _table(block)
        case Figure():
            return []


def _table(table: Table) -> list[str]:
    if not table.rows:
        return [escaped(table.otherwise), ""]
    rows = (map(_cell, cells) for cells in table.rows)
    return [_row(map(escaped, table.head)), _row("---" for _ in table.head), *map(_row, rows), ""]


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _cell(cell: Cell) -> str:
    return BLANK if isinstance(cell, Box) else _words(in_one_line(cell))


def _words(words: Words) -> str:
    return "".join(map(_run, runs(words))).strip()


def _run(run: Run) -> str:
    match run:
        case str():
            return _SPECIAL.sub(r"\\\1", visible(run))
        case Strong():
            return f"**{escaped(run.text)}**" if run.text.strip() else ""
        case Struck():
            return f"~~{escaped(run.text)}~~" if run.text.strip() else ""
        case Break():
            return " "
