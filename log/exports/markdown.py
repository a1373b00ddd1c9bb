"""The little Markdown the note needs: tables, struck text, and heard words that cannot become markup."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from log.basics.visible import visible

BLANK = "________"
"""A line to complete by hand."""

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&!$^=@]|(?<=:)/|(?<=www)\.)", re.IGNORECASE)
"""What could begin markup, HTML, an entity, a table cell or a link in the middle of a line."""


def escaped(text: str) -> str:
    """Text that somebody said or typed, so that it prints as it stands and does nothing else."""
    return _SPECIAL.sub(r"\\\1", visible(text)).strip()


def struck(text: str) -> str:
    """Markup with a line through it; nothing stays nothing."""
    return f"~~{text}~~" if text else ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """A table with its blank line after it; cells are markup already."""
    return [_row(head), _row(["---"] * len(head)), *(_row(row) for row in rows), ""]


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def cautions(of: Sequence[str]) -> list[str]:
    """A definition's cautions as one block, with its blank line after it."""
    quoted = [f"> **Caution:** {escaped(caution)}" for caution in of]
    return [*"\n>\n".join(quoted).split("\n"), ""]
