"""An engine runs `review.sql` over the facts of many cases. DuckDB does where nothing else is asked for; a network that
outgrows one machine gives the same question to the engine that it has.

Each engine's library is an extra, and one module imports it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from importlib import import_module
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol, cast

from log.basics.errors import TamponadeError

RESULTS = ("review", "review_all", "review_rules")
"""The tables that `review.sql` leaves."""


@dataclass(frozen=True, slots=True)
class Facts:
    """The table `facts`, as Parquet files."""

    folder: Path
    """Private, and gone afterwards; an engine may write into it."""
    staged: Path
    """Facts of the cases and exports that were read here."""
    handed_over: tuple[Path, ...] = ()
    """Hand-overs, each checked (hand_over.py)."""


@dataclass(frozen=True, slots=True)
class Rows:
    """A table as an engine gives it back, in no order; numbers are int and float, what was not said is None."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


Tables = Mapping[str, Rows]


def plain(value: Any) -> Any:
    """A value as Rows has it: sums of whole numbers come as decimals of some engines."""
    return int(value) if isinstance(value, Decimal) else value


class Engine(Protocol):
    """A module that runs the review."""

    def tables(self, facts: Facts, url: str) -> Tables:
        """The tables of RESULTS. `url`: where the engine is, "" for its default. Raises TamponadeError."""


class EngineMissing(TamponadeError):
    """The optional package that does the sums is not installed."""


@dataclass(frozen=True, slots=True)
class _Where:
    module: str
    extra: str


ENGINES: Mapping[str, _Where] = MappingProxyType(
    {
        "duckdb": _Where("log.exports.review.duckdb", "review"),
        "spark": _Where("log.exports.review.spark", "spark"),
        "postgresql": _Where("log.exports.review.postgresql", "postgres"),
    }
)


def engine(name: str) -> Engine:
    """The engine of that name. Raises EngineMissing with the extra that brings it."""
    where = ENGINES[name]
    try:
        return cast(Engine, import_module(where.module))
    except ImportError:
        raise missing(where.extra) from None


def missing(extra: str) -> EngineMissing:
    """The error that says which extra to install."""
    return EngineMissing(
        "comparing cases needs a package that is not installed",
        f"install it: pip install 'tamponade-log[{extra}]'",
    )


def sql(name: str) -> str:
    """One of the SQL files beside this module: "facts" or "review"."""
    return files("log.exports.review").joinpath(f"{name}.sql").read_text(encoding="utf-8")
