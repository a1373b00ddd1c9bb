"""`review.sql` in the SQL of another engine. The only module that knows sqlglot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import sqlglot
from sqlglot import exp

from log.exports.review.engine import sql

Dialect = Literal["spark", "postgres"]


@dataclass(frozen=True, slots=True)
class Statement:
    """A table of `review.sql`: its name and the query that fills it."""

    table: str
    query: str


def statements(dialect: Dialect) -> tuple[Statement, ...]:
    """The tables in the order in which they build on each other."""
    parsed = sqlglot.parse(sql("review"), read="duckdb")
    return tuple(
        Statement(one.this.name, one.expression.sql(dialect, pretty=True))
        for one in parsed
        if isinstance(one, exp.Create)
    )


def translated(query: str, dialect: Dialect) -> str:
    """One query."""
    return str(sqlglot.transpile(query, read="duckdb", write=dialect)[0])
