"""Invented hand-overs, as many cases as are wanted: facts in any order that a log can hold, the same for the same seed.

No scribe wrote them, so that ten thousand take seconds; what the counts of such facts mean is held to the record and
the course by tests/tui/commands/test_review.py.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import duckdb

from log.exports.review.schema import COLUMNS, SCHEMA, SCHEMA_KEY

Row = dict[str, Any]

SITES = ("north", "south", "east", "west")
MONTHS = tuple(f"{year}-{month:02}" for year in (2025, 2026) for month in range(1, 13))
SECOND = 1_000_000

WORDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("tube", ("in", "in", "in", "out", "secured")),
    ("xray", ("requested", "taken", "confirmed", "not_confirmed")),
    ("bleeding", ("continuing", "stopped", "restarted")),
    ("indication", ("oesophageal varices", "gastric varices", "not known")),
    ("decision", ("endoscopy", "shunt", "stent", "surgery", "transfer", "wait")),
    ("outcome", ("died", "transferred", "discharged")),
)
RULES = (
    ("oesophageal_ceiling", "high"),
    ("no_xray", "medium"),
    ("mark_moved", "low"),
    ("clamp_not_said", "information"),
)
TROUBLES = ("stridor", "capnography lost", "Änderung", "balloon burst", "aspiration")


def hand_over(folder: Path, cases: int, seed: int = 1) -> list[Path]:
    """Writes so many cases as a hand-over, and returns its files."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = folder / "facts.json"
    with lines.open("w", encoding="ascii") as file:
        for number in range(cases):
            random = Random(f"{seed} {number}")
            place = {"site": random.choice(SITES), "month": random.choice(MONTHS), "file": f"{number:016x}"}
            file.writelines(f"{json.dumps(place | row)}\n" for row in facts(random))
    paths = list(_partitions(folder, lines))
    lines.unlink()
    return paths


def _partitions(folder: Path, lines: Path) -> Iterator[Path]:
    columns = ", ".join(f"'{name}': '{column.kind}'" for name, column in COLUMNS.items())
    with duckdb.connect() as connection:
        connection.execute("SET enable_progress_bar = false")
        read = f"read_json('{lines}', format = 'newline_delimited', columns = {{{columns}}})"
        connection.execute(f"CREATE TABLE facts AS SELECT * FROM {read}")
        for site, month in connection.execute("SELECT DISTINCT site, month FROM facts ORDER BY ALL").fetchall():
            path = folder / f"site={site}" / f"month={month}" / "cases.parquet"
            path.parent.mkdir(parents=True)
            connection.execute(
                f"COPY (SELECT * FROM facts WHERE site = '{site}' AND month = '{month}' ORDER BY file, seq) "
                f"TO '{path}' (FORMAT parquet, KV_METADATA {{{SCHEMA_KEY}: '{SCHEMA}'}})"
            )
            yield path


def facts(random: Random) -> Iterator[Row]:
    """The facts of one case: lines, changes of lines as high as they are piled, findings, gaps."""
    yield {"seq": 1, "fact": "case_opened", "said_us": 0}
    piles: list[list[str]] = []
    said = 0
    for seq in range(2, random.randint(8, 80)):
        said += random.randint(1, 5_400 * SECOND)
        yield {"seq": seq} | _fact(random, said, piles)


def _fact(random: Random, said: int, piles: list[list[str]]) -> Row:
    kind = random.choices(("line", "change", "finding", "gap"), (60, 20, 17, 3))[0]
    if kind == "gap":
        return {"fact": "capture_gap", "seconds": round(random.uniform(0.1, 90), 3)}
    if kind == "finding" and piles:
        return _finding(random, len(piles))
    return _change(random, said, piles) if kind == "change" and piles else _line(random, said, piles)


def _line(random: Random, said: int, piles: list[list[str]]) -> Row:
    fact = random.choices(("entry_logged", "entry_asked"), (9, 1))[0]
    piles.append([fact])
    late = fact == "entry_logged" and random.random() < 0.05
    happened = {"happened_us": said - random.randint(0, 3_600 * SECOND), "late": True} if late else {}
    return {"fact": fact, "number": len(piles), "said_us": said} | entry(random) | happened


def _change(random: Random, said: int, piles: list[list[str]]) -> Row:
    number = random.randrange(len(piles))
    pile = piles[number]
    row: Row = {"number": number + 1, "said_us": said}
    if len(pile) > 1 and random.random() < 0.4:
        pile.pop()
        return row | {"fact": random.choice(("entry_restored", "change_undone"))}
    fact = "question_answered" if pile == ["entry_asked"] else random.choice(("entry_amended", "entry_struck"))
    pile.append(fact)
    if fact == "entry_struck":
        return row | {"fact": fact}
    happened = {"happened_us": said - random.randint(0, 600 * SECOND)} if random.random() < 0.3 else {}
    return row | {"fact": fact} | entry(random) | happened


def _finding(random: Random, lines: int) -> Row:
    rule, level = random.choice(RULES)
    row: Row = {"rule": rule, "message": f"{rule} found", "number": random.choice((None, random.randint(1, lines)))}
    if random.random() < 0.3:
        return row | {"fact": "finding_settled"}
    return row | {"fact": "finding_raised", "level": level}


def entry(random: Random) -> Row:
    """An entry that counts in the review."""
    balloon = random.choice(("gastric", "oesophageal", "oesophageal", "both"))
    match random.randrange(8):
        case 0 | 1:
            kind = random.choice(("volume_in", "volume_out", "volume_total"))
            return {"kind": kind, "balloon": balloon, "amount": random.choice((None, 0, 15, 50, 52.5, 200))}
        case 2:
            return {"kind": "pressure", "balloon": balloon, "amount": random.choice((0, 12, 35, 48.5))}
        case 3:
            return {"kind": "balloon", "balloon": balloon, "word": random.choice(("up", "down"))}
        case 4:
            return {"kind": "trouble", "detail": random.choice(TROUBLES)}
        case _:
            kind, words = random.choice(WORDS)
            return {"kind": kind, "word": random.choice(words)}
