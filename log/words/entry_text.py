"""An entry in plain words, as findings, exports and screens print it."""

from __future__ import annotations

from log.basics.entry import Entry
from log.definition.procedure import Procedure

UNITS_IN_WORDS = {"°": "degrees"}
"""Units that are words in a sentence."""


def as_entry_text(procedure: Procedure, entry: Entry) -> str:
    """An entry in one line of plain words: "gastric volume in 50 mL", "2 units of red cells", "both balloons down"."""
    amount = _amount(entry)
    if entry.detail and entry.number is not None and procedure.traits(entry.kind).group == "given":
        by_name = procedure.traits(entry.kind).total == "by-name"
        return _words(amount, "of", entry.detail) if by_name else _words(entry.detail, amount)
    title = procedure.title_of(entry.kind).lower()
    named = f"{title}s" if (entry.site, entry.kind) == ("both", "balloon") else title
    return _words(entry.site, named, amount, f"({entry.detail})" if entry.detail else None)


def unit_of(entry: Entry) -> str | None:
    """The unit as it is written after this number: "units" of more than one."""
    return "units" if entry.unit == "unit" and entry.value != 1 else entry.unit


def _amount(entry: Entry) -> str:
    """The value with its unit: "90/60 mmHg", "12 mmHg at 100 mL"."""
    value = f"{entry.value:g}" if isinstance(entry.value, int | float) else entry.value
    unit = UNITS_IN_WORDS.get(entry.unit or "", unit_of(entry))
    if entry.second is None:
        return _words(value, unit)
    if entry.unit == entry.second_unit:
        return _words(f"{value}/{entry.second:g}", unit)
    return _words(value, unit, "at", f"{entry.second:g}", entry.second_unit)


def _words(*parts: str | None) -> str:
    return " ".join(part.replace("_", " ") for part in parts if part)
