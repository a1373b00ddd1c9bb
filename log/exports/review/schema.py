"""The table `facts`, a row for each fact of each case: what `review.sql` reads and what a hand-over holds as Parquet.

Each Parquet file says under `tamponade_log_schema` which schema it has. A reader takes that one and refuses a newer. A
change of a column's name, type or meaning is a new schema, and so is a new column.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from log.basics.errors import InputError

SCHEMA = 1
SCHEMA_KEY = "tamponade_log_schema"


class Column(NamedTuple):
    """A column of `facts`."""

    kind: str
    """As DuckDB says it."""
    about: str


COLUMNS: Mapping[str, Column] = MappingProxyType(
    {
        "site": Column("VARCHAR", "who handed it over, as given with --site"),
        "month": Column("VARCHAR", "of the opening: 2026-10, or 2026 where the month is withheld"),
        "file": Column("VARCHAR", "the case: 16 digits, made of site and content alone; leads back to nothing"),
        "seq": Column("BIGINT", "number of the fact in its case, from 1"),
        "fact": Column("VARCHAR", "kind of fact, as in log/facts/events.py"),
        "number": Column("BIGINT", "line of the log that it is about"),
        "said_us": Column("BIGINT", "microseconds from the opening to when it was said"),
        "happened_us": Column("BIGINT", "the same to when it happened, where that was given"),
        "kind": Column("VARCHAR", "kind of entry: volume_in, pressure, xray ..., as in the definition"),
        "balloon": Column("VARCHAR", "gastric, oesophageal, both; place of other entries"),
        "word": Column("VARCHAR", "the entry's value, where it is a word"),
        "amount": Column("DECIMAL(18,6)", "the entry's value, where it is a number: mL, mmHg ... as its kind has it"),
        "detail": Column("VARCHAR", "further word of the entry"),
        "late": Column("BOOLEAN", "true for a line entered late"),
        "rule": Column("VARCHAR", "of a finding"),
        "level": Column("VARCHAR", "of a finding: high, medium, low, information"),
        "message": Column("VARCHAR", "of a finding: the definition's words and numbers"),
        "seconds": Column("DECIMAL(18,6)", "length of a gap in hearing"),
    }
)
NAMED: Mapping[str, Column] = MappingProxyType(
    {
        "case": Column("VARCHAR", "its name; on the opening alone"),
        "label": Column("VARCHAR", "its label; on the opening alone"),
        "began": Column("VARCHAR", "time of the opening in its own zone, or as `month`; on the opening alone"),
    }
)
"""Columns of `facts` that a hand-over lacks: they name the case and its day. Times of a case that has them count from
the epoch."""

ALL_FACTS = (
    f'SELECT {", ".join(COLUMNS)}, "case", label, began FROM staged UNION ALL '
    f"SELECT DISTINCT {', '.join(COLUMNS)}, CAST(NULL AS VARCHAR), CAST(NULL AS VARCHAR), "
    "CASE WHEN fact = 'case_opened' THEN month END FROM handed_over"
)
"""The table `facts`; what was handed over twice counts once."""


def check_keys(path: Path, keys: Mapping[str, str]) -> None:
    """Raises InputError for a Parquet file whose key-value metadata names no schema, or one that is newer."""
    schema = keys.get(SCHEMA_KEY, "")
    if not schema.isdecimal():
        raise InputError(f"{path}: not a hand-over of cases", "write it with: tamponade export --to parquet")
    if int(schema) > SCHEMA:
        raise InputError(
            f"{path}: has schema {schema}, and this program reads up to {SCHEMA}", "update tamponade-log here"
        )


def check_columns(path: Path, kinds: Mapping[str, str]) -> None:
    """Raises InputError for a hand-over whose columns are not those of its schema."""
    for name, column in COLUMNS.items():
        if kinds.get(name) != column.kind:
            raise InputError(
                f"{path}: column {name} is {kinds.get(name, 'missing')}, not {column.kind}", "have it handed over again"
            )
