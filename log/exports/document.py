"""A page as a value: headings, paragraphs, lists, tables, boxes to fill in and figures.

Procedure note, hand-over, debriefing, timeline and the narrative in FHIR are built of these blocks, and `markdown`,
`typesetting` and `html` write them. Here all text is plain: whoever writes it escapes it, so that nothing that was said
in the room can become markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from log.exports.drawing import Chart


@dataclass(frozen=True, slots=True)
class Strong:
    """Words that stand out."""

    text: str


@dataclass(frozen=True, slots=True)
class Struck:
    """Words crossed out that can still be read."""

    text: str


@dataclass(frozen=True, slots=True)
class Break:
    """A new line where there is room for one, else a space."""

    text: str = " "


Run = str | Strong | Struck | Break
Words = Run | tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Box:
    """A place to write in by hand."""


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a list."""

    words: Words
    look: str = ""
    """The class it has on a page: the priority of a finding, "note"."""


@dataclass(frozen=True, slots=True)
class Points:
    """A list, with the words that it stands under. In a cell of one line they follow each other."""

    items: tuple[Item, ...]
    lead: Words = ""


Cell = Words | Box | Points
Cells = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Heading:
    """The title of the page (level 1) or of a section (level 2)."""

    text: str
    level: Literal[1, 2] = 2


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph."""

    words: Words


@dataclass(frozen=True, slots=True)
class Notice:
    """Paragraphs in a frame: the cautions, the mark of a rehearsal."""

    paragraphs: tuple[Words, ...]
    look: Literal["caution", "simulation"] = "caution"


@dataclass(frozen=True, slots=True)
class Table:
    """A table. Its first column says what each row is about."""

    head: tuple[str, ...]
    rows: tuple[Cells, ...]
    otherwise: str = ""
    """The sentence that stands in its place if it has no rows."""
    looks: tuple[str, ...] = ()
    """The class of each row on a page, if it has any."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture under its own heading. Plain text leaves out both."""

    title: str
    picture: Chart


Block = Heading | Paragraph | Notice | Points | Table | Figure


@dataclass(frozen=True, slots=True)
class Document:
    """A whole page, or as many as it takes."""

    name: str
    """The kind of page, for the title that a reader of PDF shows: "Procedure note"."""
    blocks: tuple[Block, ...]


BOX = Box()
BREAK = Break()


def table(head: tuple[str, ...], rows: Iterable[Cells], otherwise: str = "") -> Table:
    """A table of these rows."""
    return Table(head, tuple(rows), otherwise)


def section(title: str, *blocks: Block) -> tuple[Block, ...]:
    """A heading and what stands under it."""
    return Heading(title), *blocks


def unless_empty(title: str, found: Table) -> tuple[Block, ...]:
    """The section of a table that has rows."""
    return section(title, found) if found.rows else ()


def runs(words: Words) -> tuple[Run, ...]:
    """The words one run after the other."""
    return words if isinstance(words, tuple) else (words,)


def joined(parts: Iterable[Words], by: str = "; ") -> Words:
    """The parts that are not empty, with this between them."""
    found: list[Run] = []
    for part in parts:
        if part:
            found += [*((by,) if found else ()), *runs(part)]
    return tuple(found)


def in_one_line(cell: Cell) -> Words:
    """A cell as words, for what has no lists in cells; a box has none."""
    match cell:
        case Box():
            return ""
        case Points():
            return joined((cell.lead, *(item.words for item in cell.items)))
        case _:
            return cell


def plain(cell: Cell) -> str:
    """Only the text."""
    return "".join(run if isinstance(run, str) else run.text for run in runs(in_one_line(cell)))


def sections(blocks: Iterable[Block]) -> Iterator[tuple[Block, ...]]:
    """The blocks heading by heading, each heading with what stands under it."""
    found: list[Block] = []
    for block in blocks:
        if isinstance(block, Heading | Figure) and found:
            yield tuple(found)
            found = []
        found.append(block)
    if found:
        yield tuple(found)
