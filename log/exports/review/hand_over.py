"""The hand-over of a site to a network: the facts of its cases without identity, as Parquet, a folder for each month.

    DIR/site=NAME/month=2026/cases.parquet

It is `deidentify` that decides what is in it: elapsed times for dates, and of the date the year (45 CFR 164.514(b)(2)).
A chart by month needs the month. That is no longer safe harbor but a limited data set (45 CFR 164.514(e)), which an
agreement has to cover: it is kept on demand alone (folders `month=2026-10`). The columns are in schema.py.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from log.basics.errors import InputError, TamponadeError
from log.exports.review.engine import missing
from log.exports.review.gather import EXPORT, HANDED_OVER, Gathered

SITE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}", re.ASCII)


@dataclass(frozen=True, slots=True)
class HandOver:
    """The cases of a site, ready to be written."""

    files: Mapping[str, bytes]
    """Path below the folder -> Parquet."""
    cases: int
    own_definitions: int
    """Cases whose definition is not a shipped one: its words may name a place."""
    unusable: tuple[TamponadeError, ...]
    left_out: tuple[str, ...]


def hand_over(paths: Sequence[Path], site: str, months: bool = False) -> HandOver:
    """Cases and exports as a hand-over. A file that cannot be used does not keep the others out.

    Raises InputError for a site that cannot name a folder, EngineMissing without DuckDB.
    """
    if not SITE.fullmatch(site):
        raise InputError(f'"{site}" cannot name a site', "take at most 40 letters, digits, - and _")
    try:
        from log.exports.review import duckdb
    except ImportError:
        raise missing("review") from None
    with tempfile.TemporaryDirectory(prefix="tamponade-review-") as name:
        gathered = Gathered(Path(name), "month" if months else "year")
        for path in paths:
            gathered.add(path)
        cases = {_renamed(Path(boiled), site) for boiled in gathered.names}
        contents = duckdb.partitions(gathered.folder, site) if cases else {}
    return HandOver(
        {f"site={site}/month={month}/cases{HANDED_OVER}": content for month, content in contents.items()},
        len(cases),
        gathered.own_definitions,
        tuple(gathered.unusable),
        (*gathered.left_out, *(f"{path}: a hand-over already" for path in gathered.handed_over)),
    )


def _renamed(boiled: Path, site: str) -> Path:
    """The boiled-down case under a name made of the site and of what it holds, its month apart: the same case has the
    same name in the next hand-over, and a name leads back to nothing that is not in it."""
    _, _, facts = boiled.read_text(encoding="ascii").partition("\n")
    return boiled.rename(boiled.with_name(sha256(f"{site}\n{facts}".encode()).hexdigest()[:16] + EXPORT))
