"""Many cases next to each other: each is checked and boiled down to what `review.sql` reads, and DuckDB does the sums.

No name, no heard word and no reason gets as far as DuckDB, and DuckDB gets no further than one private folder: it may
neither read nor write elsewhere, and loads nothing from the network.
"""

from __future__ import annotations

import importlib
import json
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from types import ModuleType
from typing import Any

from log.basics.errors import InputError, TamponadeError
from log.exports.deidentify import FIELDS
from log.exports.jsonl import FORMAT
from log.exports.jsonl_import import LONGEST_LINE, read_jsonl
from log.facts.events import CaseOpened, EntryAsked, EntryLogged, Fact, from_plain
from log.facts.simulation import MARK
from log.store import case as store
from log.store.chain import parsed
from log.store.folder import SUFFIX
from log.store.sqlite import why

WITHOUT_IDENTITY = f"{FORMAT}, without identity"
EXPORT = ".jsonl"

READ = frozenset(
    {
        "fact",
        "case",
        "label",
        "logged_at",
        "said_at",
        "happened_at",
        "number",
        "entry",
        "candidates",
        "rule",
        "level",
        "message",
        "seconds",
        "simulation",
        "late_reason",
        "by_s",
        "moves",
    }
)
"""The fields of a fact that `review.sql` reads."""

WITHOUT_NETWORK = {"autoinstall_known_extensions": False, "autoload_known_extensions": False}

Plain = dict[str, Any]


class DuckDBMissing(TamponadeError):
    """The optional package that does the sums is not installed."""


@dataclass(frozen=True, slots=True)
class Review:
    """The result of `review.sql` over the cases."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    of_all: Plain
    """Medians of times, sums of counts, and how many cases there are."""
    parquet: bytes
    """The rows as a Parquet file."""
    unusable: tuple[TamponadeError, ...]
    """Why some files are not in it."""
    left_out: tuple[str, ...]
    """Files that hold the same case as another."""

    @property
    def cases(self) -> list[Plain]:
        """The rows by the names of their columns."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]


def found(places: Iterable[Path]) -> list[Path]:
    """The cases and exports that are meant; a folder stands for all that lie in it. Raises InputError."""
    paths: list[Path] = []
    for place in places:
        inside = [path for path in place.iterdir() if path.suffix in (SUFFIX, EXPORT)] if place.is_dir() else [place]
        if not inside:
            raise InputError(f"{place}: no cases and no exports here", "give a folder with *.case or *.jsonl files")
        paths += sorted(inside)
    return paths


def sql() -> str:
    """The statement that DuckDB runs."""
    return files("log.exports").joinpath("review.sql").read_text(encoding="utf-8")


def review(paths: Sequence[Path], with_label: bool = False) -> Review:
    """Reads the cases, one after the other, and adds them up. A file that cannot be used does not keep the others out.

    Raises DuckDBMissing, and TamponadeError if DuckDB cannot do it.
    """
    duckdb = _duckdb()
    with tempfile.TemporaryDirectory(prefix="tamponade-review-") as name:
        gathered = _Gathered(Path(name))
        for path in paths:
            gathered.add(path)
        if not gathered.names:  # DuckDB takes a pattern that fits no file for a mistake
            (gathered.folder / f"none{EXPORT}").touch()
        try:
            return _summed(duckdb, gathered, with_label)
        except duckdb.Error as error:
            said = str(error).splitlines()[0]
            raise TamponadeError(
                f"DuckDB failed: {said}", "check that the folder for temporary files has space"
            ) from None


@dataclass
class _Gathered:
    """Checked cases, each boiled down into a file of its own, under a number: what they are called is not DuckDB's."""

    folder: Path
    names: dict[str, str] = field(default_factory=dict)
    """Boiled-down file -> the file it is from."""
    known: dict[str, tuple[int, str]] = field(default_factory=dict)
    """Fingerprint of an opening -> number of facts, and the boiled-down file."""
    unusable: list[TamponadeError] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def add(self, path: Path) -> None:
        """Reads one file. Of two of the same case, the longer one counts."""
        try:
            opening, plains, year = _read(path)
        except TamponadeError as error:
            self.unusable.append(error)
            return
        if plains[0].get("simulation"):
            self.left_out.append(f"{path}: a rehearsal: {MARK}")
            return
        count, target = self.known.get(opening, (0, str(self.folder / f"{len(self.names) + 1:08}{EXPORT}")))
        if count:
            longer, shorter = (path, self.names[target]) if len(plains) > count else (self.names[target], path)
            self.left_out.append(f"{shorter}: the same case as {longer}, which has as much of it or more")
        if len(plains) > count:
            lines = [{"year": year}, *({key: plain[key] for key in (*READ & plain.keys(), "seq")} for plain in plains)]
            Path(target).write_text("".join(f"{json.dumps(line)}\n" for line in lines), encoding="ascii")
            self.names[target] = str(path)
            if opening:
                self.known[opening] = len(plains), target


def _read(path: Path) -> tuple[str, list[Plain], int | None]:
    """The fingerprint of a case's opening, "" if it was taken out, its facts, and the year if that is all there is."""
    if path.suffix != SUFFIX:
        year = _without_identity(path)
        if year is not None:
            return "", list(_facts_without_identity(path)), year
    links = store.read(Path(), str(path)).links if path.suffix == SUFFIX else read_jsonl(path)[0]
    _check(path, [link.fact for link in links])
    plains = [{**json.loads(link.text), "seq": seq} for seq, link in enumerate(links, start=1)]
    return links[0].sha256, plains, None


def _check(path: Path, facts: Sequence[Fact]) -> None:
    """Raises InputError for facts that are no case."""
    if not facts or not isinstance(facts[0], CaseOpened):
        raise InputError(f"{path}: the case has no opening", "restore a backup")
    lines = 0
    for seq, fact in enumerate(facts, start=1):
        is_new = isinstance(fact, EntryLogged | EntryAsked)
        lines += is_new
        number = getattr(fact, "number", None)
        if number is not None and not (number == lines if is_new else 1 <= number <= lines):
            raise InputError(f"{path}: fact {seq} is about a line that is not there", "restore a backup")


def _lines(path: Path) -> Iterator[str]:
    try:
        with path.open(encoding="utf-8", newline="\n") as file:
            while line := file.readline(LONGEST_LINE):
                yield line
    except UnicodeDecodeError:
        raise InputError(f"{path}: not a text in UTF-8", "this is not an export of a case") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})", "check the path") from None


def _without_identity(path: Path) -> int | None:
    """The year of an export without identity, None for any other file."""
    try:
        opening = parsed(next(_lines(path), ""))
    except ValueError:
        return None
    year = opening.get("year")
    return year if opening.get("format") == WITHOUT_IDENTITY and year in range(1990, 2201) else None


def _facts_without_identity(path: Path) -> Iterator[Plain]:
    """Its facts. Raises InputError with the line of the first that is none; nobody has signed them."""
    facts: list[Fact] = []
    for number, line in enumerate(_lines(path), start=1):
        if number == 1:
            continue
        try:
            plain = parsed(line)
            if plain.get("seq") != number - 1:
                raise ValueError(f"fact {number - 1} should stand here")
            facts.append(from_plain({name: _dated(name, value) for name, value in plain.items() if name != "seq"}))
        except ValueError as error:
            raise InputError(f"{path}: line {number}: {why(error)}", "export the case again") from None
        yield plain
    _check(path, facts)


def _dated(name: str, value: Any) -> Any:
    """A time from which the date was taken, as one on a made-up day, so that it can be read as a fact."""
    if FIELDS.get(name) != "time" or value is None:
        return value
    said = re.fullmatch(r"(-?)PT(\d{1,9}\.\d{1,6})S", str(value), re.ASCII)
    if said is None:
        raise ValueError(f"{name}: not a time since the opening")
    return (datetime(2100, 1, 1, tzinfo=UTC) + timedelta(seconds=float(said[1] + said[2]))).isoformat()


def _duckdb() -> ModuleType:
    try:
        return importlib.import_module("duckdb")
    except ImportError:
        raise DuckDBMissing(
            "comparing cases needs a package that is not installed", "install it: pip install 'tamponade-log[review]'"
        ) from None


def _summed(duckdb: ModuleType, gathered: _Gathered, with_label: bool) -> Review:
    """Runs `review.sql` over the boiled-down files."""
    folder = gathered.folder
    shown = "*" if with_label else "* EXCLUDE (label)"
    written = folder / "review.parquet"
    with duckdb.connect(config=WITHOUT_NETWORK) as connection:
        for setting, value in (
            ("allowed_directories", [str(folder)]),
            ("temp_directory", str(folder)),
            ("enable_external_access", False),
            ("lock_configuration", True),
            ("VARIABLE facts", [f"{folder}/*{EXPORT}"]),
        ):
            connection.execute(f"SET {setting} = ?", [value])
        connection.execute(sql()).fetchall()
        connection.execute(
            "UPDATE review SET file = name FROM (SELECT unnest(?) AS boiled, unnest(?) AS name) WHERE file = boiled",
            [list(gathered.names), list(gathered.names.values())],
        )
        rows = connection.sql(f'SELECT {shown} FROM review ORDER BY began, "case", file')
        rows.write_parquet(str(written))
        of_all = connection.sql("SELECT * FROM review_all")
        return Review(
            tuple(rows.columns),
            tuple(rows.fetchall()),
            dict(zip(of_all.columns, of_all.fetchall()[0], strict=True)),
            written.read_bytes(),
            tuple(gathered.unusable),
            tuple(gathered.left_out),
        )
