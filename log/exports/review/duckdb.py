"""DuckDB: makes the table `facts` of exports, and runs the review where no other engine is asked for.

It gets no further than one private folder and the hand-overs that were given: it may neither read nor write elsewhere,
and loads nothing from the network.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import duckdb

from log.basics.errors import InputError, TamponadeError
from log.exports.review.engine import RESULTS, Facts, Rows, Tables, sql
from log.exports.review.gather import EXPORT
from log.exports.review.schema import ALL_FACTS, COLUMNS, NAMED, SCHEMA, SCHEMA_KEY, check_columns, check_keys

WITHOUT_NETWORK: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
}


def tables(facts: Facts, url: str = "") -> Tables:
    """The review by DuckDB in this process; `url` means nothing to it. Raises TamponadeError."""
    with _confined(facts.folder, facts.handed_over) as connection:
        connection.execute(f"CREATE TABLE facts AS {_all_facts(facts)}")
        connection.execute(sql("review")).fetchall()
        found = {name: connection.sql(f"SELECT * FROM {name}") for name in RESULTS}
        return {name: Rows(tuple(table.columns), tuple(table.fetchall())) for name, table in found.items()}


def staged(folder: Path, handed_over: Sequence[Path] = ()) -> Facts:
    """The boiled-down cases of a folder (gather.py) as Parquet in it. Raises TamponadeError."""
    target = folder / "facts.parquet"
    with _facts(folder) as connection:
        connection.execute(f"COPY facts TO {_quoted(target)} (FORMAT parquet)")
    return Facts(folder, target, tuple(handed_over))


def partitions(folder: Path, site: str) -> Mapping[str, bytes]:
    """The boiled-down cases of a folder as a hand-over: a Parquet file for each month, in the order of the cases' own
    fingerprints, which tells nothing of that in which they came. Raises TamponadeError."""
    columns = ", ".join(f'"{name}"' for name in COLUMNS)
    target = folder / "partition.parquet"
    with _facts(folder) as connection:
        connection.execute("UPDATE facts SET site = ?, file = parse_filename(file, true)", [site])
        found = connection.execute("SELECT DISTINCT month FROM facts ORDER BY month").fetchall()
        contents = {}
        for (month,) in found:
            connection.execute("SET VARIABLE month = ?", [month])
            connection.execute(
                f"COPY (SELECT {columns} FROM facts WHERE month = getvariable('month') ORDER BY file, seq) "
                f"TO {_quoted(target)} (FORMAT parquet, KV_METADATA {{{SCHEMA_KEY}: '{SCHEMA}'}})"
            )
            contents[month] = target.read_bytes()
        return contents


def as_csv(facts: Facts) -> Path:
    """All facts as a CSV file with a heading, for an engine that takes no Parquet. No text holds a NUL: PostgreSQL
    knows none. Raises TamponadeError."""
    target = facts.folder / "facts.csv"
    texts = [name for name, column in (*COLUMNS.items(), *NAMED.items()) if column.kind == "VARCHAR"]
    without = ", ".join(f'replace("{name}", chr(0), \'\') AS "{name}"' for name in texts)
    with _confined(facts.folder, facts.handed_over) as connection:
        connection.execute(
            f"COPY (SELECT * REPLACE ({without}) FROM ({_all_facts(facts)})) TO {_quoted(target)} (FORMAT csv, HEADER)"
        )
    return target


def usable(folder: Path, paths: Sequence[Path]) -> tuple[list[Path], list[InputError]]:
    """The hand-overs that this program can read, and why it cannot read the others. `folder`: a private one."""
    good, bad = [], []
    with _confined(folder, paths) as connection:
        for path in paths:
            try:
                _check(connection, path)
                good.append(path)
            except InputError as error:
                bad.append(error)
    return good, bad


def _check(connection: duckdb.DuckDBPyConnection, path: Path) -> None:
    try:
        keys = connection.execute("SELECT key, value FROM parquet_kv_metadata(?)", [str(path)]).fetchall()
        described = connection.execute(
            "DESCRIBE SELECT * FROM read_parquet(?, hive_partitioning = false)", [str(path)]
        ).fetchall()
    except duckdb.Error:
        raise InputError(f"{path}: not a Parquet file that can be read", "have it handed over again") from None
    check_keys(path, {_text(key): _text(value) for key, value in keys})
    check_columns(path, {name: kind for name, kind, *_ in described})


def as_parquet(folder: Path, rows: Rows) -> bytes:
    """Rows of the table `review`, or of some of its columns, as a Parquet file. Raises TamponadeError."""
    lines, target = folder / "rows.json", folder / "rows.parquet"
    lines.write_text("".join(json.dumps(dict(zip(rows.columns, row, strict=True))) + "\n" for row in rows.rows))
    with _confined(folder) as connection:
        facts = ", ".join(f'"{name}" {column.kind}' for name, column in (*COLUMNS.items(), *NAMED.items()))
        connection.execute(f"CREATE TABLE facts ({facts})")
        connection.execute(sql("review")).fetchall()
        kinds = {name: kind for name, kind, *_ in connection.execute("DESCRIBE review").fetchall()}
        columns = ", ".join(f"'{name}': '{kinds[name]}'" for name in rows.columns)
        connection.execute(
            f"COPY (SELECT * FROM read_json({_quoted(lines)}, format = 'newline_delimited', columns = {{{columns}}})) "
            f"TO {_quoted(target)} (FORMAT parquet)"
        )
    return target.read_bytes()


def _text(value: bytes | str) -> str:
    return value.decode(errors="replace") if isinstance(value, bytes) else value


def _all_facts(facts: Facts) -> str:
    """The query that reads the files; a list without a file is none, so that nothing of `staged` stands for it."""
    quoted = ", ".join(_quoted(path) for path in facts.handed_over)
    handed = f"read_parquet([{quoted}], hive_partitioning = false)" if quoted else "staged WHERE false"
    return (
        f"WITH staged AS (SELECT * FROM read_parquet({_quoted(facts.staged)})), "
        f"handed_over AS (SELECT {', '.join(COLUMNS)} FROM {handed}) {ALL_FACTS}"
    )


def _quoted(path: Path) -> str:
    return "'" + str(path).replace("'", "''") + "'"


@contextmanager
def _facts(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection with the table `facts` of the boiled-down cases of a folder."""
    if not any(folder.glob(f"*{EXPORT}")):  # DuckDB takes a pattern that fits no file for a mistake
        (folder / f"none{EXPORT}").touch()
    with _confined(folder) as connection:
        connection.execute("SET VARIABLE facts = ?", [[f"{folder}/*{EXPORT}"]])
        connection.execute(sql("facts")).fetchall()
        yield connection


@contextmanager
def _confined(folder: Path, files: Sequence[Path] = ()) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that reaches one folder and some files. What DuckDB cannot do becomes a TamponadeError."""
    try:
        with duckdb.connect(config=WITHOUT_NETWORK) as connection:
            for setting, value in (
                ("allowed_directories", [str(folder)]),
                ("allowed_paths", [str(path) for path in files]),
                ("temp_directory", str(folder)),
                ("enable_progress_bar", False),
                ("enable_external_access", False),
                ("lock_configuration", True),
            ):
                connection.execute(f"SET {setting} = ?", [value])
            yield connection
    except duckdb.Error as error:
        said = str(error).splitlines()[0]
        raise TamponadeError(f"DuckDB failed: {said}", "check that the folder for temporary files has space") from None
