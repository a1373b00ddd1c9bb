"""The exports: one module per format, each a pure function from a case to text or bytes.

A further format is one more module and one more line in FORMATS. Every format carries the definition's cautions. A
module is imported when it writes: most are never wanted while a tube is being placed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from log.summaries.whole import Whole


@dataclass(frozen=True, slots=True)
class Export:
    """One format."""

    suffix: str
    about: str
    """For the help text."""
    where: str
    """The module under log.exports and the function in it."""

    def write(self, case: Whole) -> str | bytes:
        """All of it. Text is to be written as UTF-8 with its line ends as they are."""
        module, function = self.where.split(":")
        written: str | bytes = getattr(import_module(f"log.exports.{module}"), function)(case)
        return written


FORMATS: Mapping[str, Export] = MappingProxyType(
    {
        "note": Export(".md", "procedure note to complete and sign (Markdown)", "note:as_note"),
        "pdf": Export(".pdf", "the same on paper, with a chart", "pdf:as_pdf"),
        "handover": Export(".handover.pdf", "one page for the next team, to sign", "handover:as_pdf"),
        "handover-text": Export(".handover.md", "the same as text (Markdown)", "handover:as_text"),
        "debrief": Export(".debrief.pdf", "what a team can learn from the case, in figures", "debrief:as_pdf"),
        "debrief-text": Export(".debrief.md", "the same as text (Markdown)", "debrief:as_text"),
        "csv": Export(".csv", "one row per line of the log, for a spreadsheet", "csv_table:as_csv"),
        "audit": Export(".audit.csv", "who changed what, when and why", "audit:as_audit"),
        "jsonl": Export(".jsonl", "every fact in order, to be checked and imported (JSON Lines)", "jsonl:as_jsonl"),
        "fhir": Export(".fhir.json", "for other systems (HL7 FHIR R4)", "fhir:as_fhir"),
        "timeline": Export(".html", "the course of the case on one page, for a browser", "timeline:as_html"),
    }
)
