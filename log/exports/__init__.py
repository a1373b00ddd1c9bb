"""What the team takes away: one module per format, each a pure function from a case to text or bytes.

A further format is one more module and one more line in FORMATS. Every format carries the definition's cautions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from log.exports.lines import as_jsonl
from log.exports.note import as_note
from log.exports.table import as_csv
from log.exports.whole import Whole


@dataclass(frozen=True, slots=True)
class Export:
    """One format."""

    suffix: str
    about: str
    """For the help text."""
    write: Callable[[Whole], str | bytes]
    """All of it. Text is to be written as UTF-8 with its line ends as they are."""


FORMATS: Mapping[str, Export] = MappingProxyType(
    {
        "note": Export(".md", "procedure note to complete and sign (Markdown)", as_note),
        "csv": Export(".csv", "one row per line of the log, for a spreadsheet", as_csv),
        "jsonl": Export(".jsonl", "every fact in order, to be checked and imported (JSON Lines)", as_jsonl),
    }
)
