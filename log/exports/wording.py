"""How times, amounts and heard words are put on paper, the same in every format."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable
from datetime import datetime

from log.errors import InputError
from log.events import CaseOpened
from log.procedure import Procedure
from log.record import Record
from log.rules import as_entry_text
from log.spoken import Entry, Number

STANDARD_GRAVITY = 9.80665
"""Newtons per kilogram, exact by definition (NIST SP 811, appendix B: 1 kgf = 9.80665 N)."""

UCUM = {"mL": "mL", "mmHg": "mm[Hg]", "cm": "cm", "kg": "kg"}
"""The room's writing of a unit -> its UCUM code."""


def opening(record: Record) -> CaseOpened:
    """How the case was begun; raises InputError for facts that are no case."""
    if record.opened is None:
        raise InputError("the case has no opening", "take its backup")
    return record.opened


def visible(text: str) -> str:
    """The text in one line. What would steer a terminal, hide or turn the writing round is shown as a sign instead."""
    return "".join(_sign(character) for character in text)


def _sign(character: str) -> str:
    if character in "\t\n\r":
        return " "
    if character < " ":
        return chr(0x2400 + ord(character))  # the picture of this control character
    category = unicodedata.category(character)
    return "\N{REPLACEMENT CHARACTER}" if category in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else character


def figure(value: Number) -> str:
    """A number without the dust of binary fractions: 0.5, 250."""
    return f"{value:.10g}"


def shown(entry: Entry) -> str:
    """What was said in this place: number with unit, or the word."""
    words = (figure(entry.value) if isinstance(entry.value, int | float) else entry.value, entry.unit)
    return " ".join(word for word in words if word)


def sentence(procedure: Procedure, entry: Entry) -> str:
    """An entry in plain words; a place that is no balloon comes last: "tube depth 52 cm at the lips"."""
    if entry.site is None or entry.site in (*procedure.tube.balloons, "both"):
        return as_entry_text(procedure, entry)
    return f"{as_entry_text(procedure, entry.model_copy(update={'site': None}))} at the {entry.site}"


def ucum(unit: str | None) -> str:
    """The UCUM code of a unit; one that is not in the table becomes an annotation, which UCUM sets in braces."""
    return "" if not unit else UCUM.get(unit, "{" + unit + "}")


def newtons(kilograms: Number) -> str:
    """The pull of a hanging mass."""
    return f"{kilograms * STANDARD_GRAVITY:.1f} N"


def stamp(moment: datetime) -> str:
    """Date, time and offset as RFC 3339 writes them, with a space for the T, in the zone in which it was logged."""
    return moment.isoformat(sep=" ", timespec="seconds")


def stamp_beside(moment: datetime, beside: datetime) -> str:
    """The time alone if it is the same day and zone as the time it stands beside."""
    same = moment.utcoffset() == beside.utcoffset() and moment.date() == beside.date()
    return f"{moment:%H:%M:%S}" if same else stamp(moment)


def elapsed(since: datetime, moment: datetime) -> str:
    """Hours, minutes and seconds from one time to another: 0:04:10."""
    total = math.floor(abs((moment - since).total_seconds()))
    sign = "-" if moment < since and total else ""
    return f"{sign}{total // 3600}:{total // 60 % 60:02}:{total % 60:02}"


def listed(texts: Iterable[str], otherwise: str = "") -> str:
    """The texts in one cell."""
    return "; ".join(text for text in texts if text) or otherwise
