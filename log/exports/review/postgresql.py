"""PostgreSQL, for a network that has a database. `url` is a connection string; what it leaves out, and all of it
without one, comes from the environment (PGHOST, PGUSER, PGPASSFILE ...).

All tables are temporary: nothing stays in the database, and the user needs no right but TEMPORARY. A password belongs
into a password file, not on a command line: no message repeats the connection string.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import psycopg
from psycopg import sql

from log.basics.errors import TamponadeError
from log.exports.review.dialects import statements
from log.exports.review.duckdb import as_csv
from log.exports.review.engine import RESULTS, Facts, Rows, Tables, plain
from log.exports.review.schema import COLUMNS, NAMED

KINDS = {"VARCHAR": 'text COLLATE "C"', "BIGINT": "bigint", "BOOLEAN": "boolean", "DECIMAL(18,6)": "numeric(18, 6)"}
"""Columns as PostgreSQL has them; texts in the order of their bytes, as elsewhere."""
CHUNK = 1 << 20
"""Bytes that are sent at once."""
MEMORY = "256MB"
"""For each sort and join, before it goes to disk."""


def tables(facts: Facts, url: str = "") -> Tables:
    """The review by PostgreSQL. Raises TamponadeError."""
    given = as_csv(facts)
    try:
        with psycopg.connect(url) as connection:
            connection.execute(f"SET work_mem = '{MEMORY}'")
            connection.execute("SET jit = off")
            _load(connection, given)
            for one in statements("postgres"):
                name = sql.Identifier(one.table)
                connection.execute(sql.SQL("CREATE TEMPORARY TABLE {} AS ").format(name) + sql.SQL(one.query))
                connection.execute(sql.SQL("ANALYZE {}").format(name))
            found = {name: _rows(connection, name) for name in RESULTS}
            connection.rollback()
            return found
    except psycopg.Error as error:
        said = " ".join(str(error.diag.message_primary or type(error).__name__).split())
        remedy = "check --url, and that the user may make temporary tables"
        raise TamponadeError(f"PostgreSQL failed: {said}", remedy) from None


def _load(connection: psycopg.Connection[Any], given: Path) -> None:
    """Makes the table `facts` of a CSV file."""
    columns = ", ".join(f'"{name}" {KINDS[column.kind]}' for name, column in (*COLUMNS.items(), *NAMED.items()))
    connection.execute(sql.SQL(f"CREATE TEMPORARY TABLE facts ({columns})"))
    take = "COPY facts FROM STDIN (FORMAT csv, HEADER)"
    with connection.cursor() as cursor, given.open("rb") as file, cursor.copy(take) as copy:
        while chunk := file.read(CHUNK):
            copy.write(chunk)
    connection.execute("ANALYZE facts")


def _rows(connection: psycopg.Connection[Any], table: str) -> Rows:
    found = connection.execute(sql.SQL("SELECT * FROM {}").format(sql.Identifier(table)))
    columns = tuple(column.name for column in found.description or ())
    return Rows(columns, tuple(tuple(map(plain, row)) for row in found.fetchall()))
