"""An entry in plain words, as findings, exports and screens print it."""

from __future__ import annotations

from log.basics.entry import Entry
from log.definition.procedure import Procedure


def as_entry_text(procedure: Procedure, entry: Entry) -> str:
    """An entry in one line of plain words: "gastric volume in 50 mL"."""
    value = f"{entry.value:g}" if isinstance(entry.value, int | float) else entry.value
    at = None if entry.second is None else f"{entry.second:g}"
    pair = at is not None and entry.unit == entry.second_unit  # "90/60 mmHg", but "12 mmHg at 100 mL"
    words = (
        entry.site,
        procedure.title_of(entry.kind).lower(),
        f"{value}/{at}" if pair else value,
        entry.unit,
        *(("at", at, entry.second_unit) if at is not None and not pair else ()),
        f"({entry.detail})" if entry.detail else None,
    )
    return " ".join(str(word).replace("_", " ") for word in words if word is not None)
