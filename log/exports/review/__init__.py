"""Many cases next to each other: each is checked and boiled down to what is counted, and an engine does the sums.

No name, no heard word and no reason gets as far as an engine.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from log.basics.errors import TamponadeError
from log.exports.review.engine import Rows, engine, missing
from log.exports.review.gather import Gathered, Plain, found

__all__ = ["Plain", "Review", "as_parquet", "found", "review"]


@dataclass(frozen=True, slots=True)
class Review:
    """The result of `review.sql` over the cases."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    of_all: Plain
    """Medians of times, sums of counts, and how many cases there are."""
    rules: tuple[Plain, ...]
    """Findings by rule: level, how often raised, still_open, in how many cases."""
    unusable: tuple[TamponadeError, ...]
    """Why some files are not in it."""
    left_out: tuple[str, ...]
    """Files that hold the same case as another."""

    @property
    def cases(self) -> list[Plain]:
        """The rows by the names of their columns."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]


def review(paths: Sequence[Path], with_label: bool = False, by: str = "duckdb", url: str = "") -> Review:
    """Reads the cases, one after the other, and adds them up. A file that cannot be used does not keep the others out.

    `by`: one of ENGINES; `url`: where it is. Raises EngineMissing, and TamponadeError if the engine cannot do it.
    """
    runs = engine(by)
    with tempfile.TemporaryDirectory(prefix="tamponade-review-") as name:
        gathered = Gathered(Path(name))
        for path in paths:
            gathered.add(path)
        handed_over, unusable = _duckdb().usable(gathered.folder, gathered.handed_over)
        facts = _duckdb().staged(gathered.folder, handed_over)
        tables = runs.tables(facts, url)
    rows = _shown(tables["review"], gathered.names, with_label)
    return Review(
        rows.columns,
        rows.rows,
        _plains(tables["review_all"])[0],
        tuple(sorted(_plains(tables["review_rules"]), key=lambda one: (-one["raised"], one["rule"], one["level"]))),
        (*gathered.unusable, *unusable),
        tuple(gathered.left_out),
    )


def as_parquet(result: Review) -> bytes:
    """The rows as a Parquet file. Raises TamponadeError."""
    with tempfile.TemporaryDirectory(prefix="tamponade-review-") as name:
        content: bytes = _duckdb().as_parquet(Path(name), Rows(result.columns, result.rows))
        return content


def _shown(rows: Rows, names: Mapping[str, str], with_label: bool) -> Rows:
    """The rows in the order of their beginning, with the files that they are from, and the label on demand alone."""
    columns = tuple(name for name in rows.columns if with_label or name != "label")
    cases = [{**case, "file": names.get(case["file"], case["file"])} for case in _plains(rows)]
    cases.sort(key=lambda case: (case["began"], case["case"] is None, case["case"] or "", case["file"]))
    return Rows(columns, tuple(tuple(case[name] for name in columns) for case in cases))


def _plains(rows: Rows) -> list[Plain]:
    return [dict(zip(rows.columns, row, strict=True)) for row in rows.rows]


def _duckdb() -> ModuleType:
    """Every engine is given its facts by DuckDB."""
    try:
        from log.exports.review import duckdb
    except ImportError:
        raise missing("review") from None
    return duckdb
