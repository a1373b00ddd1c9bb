"""Cases from files, each checked and boiled down to the fields that are counted.

No heard word, no reason and no author gets any further. Without identity the facts are those of `deidentify`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from log.basics.errors import InputError, TamponadeError
from log.exports.deidentify import FIELDS, deidentified
from log.exports.jsonl import FORMAT
from log.exports.jsonl_import import LONGEST_LINE, read_jsonl
from log.facts.events import CaseOpened, EntryAsked, EntryLogged, Fact, from_plain
from log.facts.simulation import MARK
from log.store import case as store
from log.store.chain import Link, parsed
from log.store.folder import SUFFIX
from log.store.sqlite import why
from log.summaries.whole import whole

WITHOUT_IDENTITY = f"{FORMAT}, without identity"
EXPORT = ".jsonl"
HANDED_OVER = ".parquet"

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
"""The fields of a fact that `facts.sql` reads."""

Plain = dict[str, Any]
Date = Literal["day", "month", "year"]


def found(places: Iterable[Path]) -> list[Path]:
    """The cases, exports and hand-overs that are meant; a folder stands for all that lie in it, and for the hand-overs
    below it. Raises InputError."""
    paths: list[Path] = []
    for place in places:
        inside = _inside(place) if place.is_dir() else [place]
        if not inside:
            raise InputError(f"{place}: no cases and no exports here", "give a folder with *.case or *.jsonl files")
        paths += sorted(inside)
    return paths


def _inside(folder: Path) -> list[Path]:
    lying = (path for path in folder.iterdir() if path.suffix in (SUFFIX, EXPORT))
    return [*lying, *folder.rglob(f"site=*/month=*/*{HANDED_OVER}"), *folder.glob(f"month=*/*{HANDED_OVER}")]


@dataclass(frozen=True, slots=True)
class _Read:
    """A case as it was read."""

    opening: str
    """The fingerprint of its opening; "" if it was taken out."""
    plains: list[Plain]
    period: Plain
    """{"year": 2026}, with "month": "2026-10" where it is known, if that is all there is of its date; else {}."""


@dataclass
class Gathered:
    """Checked cases, each boiled down into a file of its own, under a number: what they are called is nobody's
    business who counts."""

    folder: Path
    """Private."""
    date: Date = "day"
    """How much of it is kept; with less than the day, identity is removed from the case."""
    names: dict[str, str] = field(default_factory=dict)
    """Boiled-down file -> the file it is from."""
    known: dict[str, tuple[int, str]] = field(default_factory=dict)
    """Fingerprint of an opening -> number of facts, and the boiled-down file."""
    handed_over: list[Path] = field(default_factory=list)
    unusable: list[TamponadeError] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    own_definitions: int = 0
    """Cases whose definition is not a shipped one, of those that identity was removed from."""

    def add(self, path: Path) -> None:
        """Reads one file. Of two of the same case, the longer one counts."""
        if path.suffix == HANDED_OVER:
            self.handed_over.append(path)
            return
        try:
            case = self._read(path)
        except TamponadeError as error:
            self.unusable.append(error)
            return
        if case.plains[0].get("simulation"):
            self.left_out.append(f"{path}: a rehearsal: {MARK}")
            return
        self._keep(path, case)

    def _keep(self, path: Path, case: _Read) -> None:
        count, target = self.known.get(case.opening, (0, str(self.folder / f"{len(self.names) + 1:08}{EXPORT}")))
        longer = len(case.plains) > count
        if count:
            more, less = (path, self.names[target]) if longer else (self.names[target], path)
            self.left_out.append(f"{less}: the same case as {more}, which has as much of it or more")
        if longer:
            Path(target).write_text(boiled(case.plains, case.period), encoding="ascii")
            self.names[target] = str(path)
            if case.opening:
                self.known[case.opening] = len(case.plains), target

    def _read(self, path: Path) -> _Read:
        if path.suffix != SUFFIX:
            year = _without_identity(path)
            if year is not None:
                return _Read("", list(_facts_without_identity(path)), {"year": year})
        kept = store.read(Path(), str(path)) if path.suffix == SUFFIX else _as_kept(path)
        _check(path, kept.facts)
        opening = kept.links[0].sha256
        return _Read(opening, _plains(kept.links), {}) if self.date == "day" else self._removed(kept, opening)

    def _removed(self, kept: store.Kept, opening: str) -> _Read:
        case = whole(kept)
        known, withheld = deidentified(case)
        self.own_definitions += withheld.own_definition
        began = case.opened.logged_at
        month = {"month": f"{began:%Y-%m}"} if self.date == "month" else {}
        return _Read(opening, _plains(known.links), {"year": began.year, **month})


def boiled(plains: Iterable[Plain], period: Plain) -> str:
    """The facts of a case that are counted, as JSON Lines; the first says when it was, if the facts do not."""
    lines = [period, *({key: plain[key] for key in (*READ & plain.keys(), "seq")} for plain in plains)]
    return "".join(f"{json.dumps(line, sort_keys=True)}\n" for line in lines)


def _plains(links: Sequence[Link]) -> list[Plain]:
    return [{**json.loads(link.text), "seq": seq} for seq, link in enumerate(links, start=1)]


def _as_kept(path: Path) -> store.Kept:
    links, head = read_jsonl(path)
    return store.Kept(path, links, head, None)


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
