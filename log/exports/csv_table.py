"""The log as a table for a spreadsheet or a study: one row per line, with struck and unconfirmed lines kept.

Comma-separated values as RFC 4180 has them, CRLF line ends included. `value`, and `second` for a number that was said
beside it (the lower blood pressure, the volume of a leak test), are filled only where a line stands, so that adding up
a column never counts what was struck or what nobody confirmed; `original_value` keeps what was logged first,
`changes` what was done to a line and what a spoken note says, and `question` what a line was asked about (kind and site
are then the likeliest candidate's). Times are RFC 3339 with the offset of the room.

CSV knows no comment lines, and a leading record would be taken for data or for the header. So the caution is the last
column: its name says it even when there are no rows, and each row has it in full, because rows get sorted, filtered
and copied elsewhere.
"""

from __future__ import annotations

import csv
import io
from datetime import datetime

from log.basics.entry import Entry
from log.basics.units import ucum
from log.basics.visible import visible
from log.definition.procedure import Procedure
from log.facts.line import Change, Line
from log.facts.simulation import MARK
from log.facts.spoken_notes import spoken_notes
from log.summaries.whole import Whole
from log.words.wording import candidates, figure, rfc3339, sentence, shown

LINE_END = "\r\n"
"""RFC 4180, section 2."""

COLUMNS = (
    "line",
    "status",
    "kind",
    "site",
    "value",
    "unit_ucum",
    "second",
    "second_unit_ucum",
    "detail",
    "said_at",
    "elapsed_s",
    "logged_at",
    "author",
    "by",
    "engine",
    "confidence",
    "original_value",
    "changes",
    "heard",
    "question",
    "caution_not_a_medical_device",
)

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""Characters that make a spreadsheet take a cell for a formula (reference: OWASP, CSV Injection)."""


def as_csv(case: Whole) -> str:
    """The lines of the log as comma-separated values."""
    began = case.opened.logged_at
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=LINE_END)
    writer.writerow((*COLUMNS, *simulation_column(case)))
    noted = {note.line.number: note.in_words for note in spoken_notes(case.record)}
    rows = (_row(case.procedure, began, line, noted.get(line.number)) for line in case.record.lines)
    writer.writerows((*row, *simulation_cell(case)) for row in rows)
    return out.getvalue()


def simulation_column(case: Whole) -> tuple[str, ...]:
    """The name of one more column in a rehearsed case: the name itself says what it is, even without rows."""
    return (MARK,) if case.simulation else ()


def simulation_cell(case: Whole) -> tuple[str, ...]:
    """The table; everything stands in full in each row: rows get sorted, filtered and copied elsewhere."""
    return (harmless(case.simulation),) if case.simulation else ()


def _row(procedure: Procedure, began: datetime, line: Line, noted: str | None) -> tuple[str, ...]:
    entry, origin = line.entry, line.origin
    return (
        str(line.number),
        line.status,
        harmless(entry.kind),
        harmless(entry.site or ""),
        _value(entry) if line.status == "stands" else "",
        harmless(ucum(entry.unit)),
        figure(entry.second) if entry.second is not None and line.status == "stands" else "",
        harmless(ucum(entry.second_unit)),
        harmless(entry.detail or ""),
        rfc3339(line.said_at),
        f"{(line.said_at - began).total_seconds():.3f}",
        rfc3339(line.logged_at),
        harmless(origin.author),
        origin.by,
        harmless(origin.engine),
        f"{origin.confidence:.2f}",
        "" if line.candidates else _value(line.original),
        harmless("; ".join((*(_change(procedure, change) for change in line.changes), *([noted] if noted else [])))),
        harmless(origin.heard),
        harmless(_question(procedure, line)),
        harmless(" ".join(procedure.cautions)),
    )


def harmless(text: str) -> str:
    """Text that a spreadsheet will not calculate and a terminal will not obey."""
    clean = visible(text)
    starts = text.startswith(_FORMULA) or clean.lstrip().startswith(_FORMULA)
    return f"'{clean}" if starts else clean


def _value(entry: Entry) -> str:
    return figure(entry.number) if entry.number is not None else harmless(str(entry.value or ""))


def _change(procedure: Procedure, change: Change) -> str:
    who = f"{change.origin.author}, {change.origin.by}" if change.origin.author else change.origin.by
    what = f"{change.what} {rfc3339(change.at)} by {who}"
    match change.what:
        case "struck" | "restored":
            text = what
        case "answered":
            text = f"{what}: {sentence(procedure, change.after)}"
        case "amended" | "undone":
            same = change.before.model_copy(update={"value": change.after.value}) == change.after
            before, after = (shown(e) if same else sentence(procedure, e) for e in (change.before, change.after))
            text = f"{what}: {before} -> {after}"
            if change.moved_from is not None:
                text += f", time was {rfc3339(change.moved_from)}"
    return f"{text} ({change.reason})" if change.reason else text


def _question(procedure: Procedure, line: Line) -> str:
    if not line.candidates:
        return ""
    return f"{candidates(procedure, line)} ({line.reason})"
