"""Cases of a site handed to a network: without identity, a Parquet file for each month; and the review of them."""

from __future__ import annotations

import json
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import duckdb
import pytest

from log.exports.jsonl import as_jsonl
from log.exports.review.schema import COLUMNS, SCHEMA, SCHEMA_KEY
from tests.cases import BEGAN, GOOD, PLACED, Spoken, facts_of, whole_of
from tests.tui.conftest import Run


@cache
def told() -> dict[str, str]:
    """Two cases of October and one of November."""
    cases: dict[str, tuple[tuple[Spoken, ...], int]] = {"Jane-Doe": (GOOD, 0), "b": (PLACED, 1), "c": (GOOD[:9], 40)}
    began = {name: BEGAN + timedelta(days=days) for name, (_, days) in cases.items()}
    return {
        name: as_jsonl(whole_of(facts_of(spoken, case=name, label="Jane Doe, bay 4", logged_at=began[name])))
        for name, (spoken, _) in cases.items()
    }


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    """The cases as they are exported whole."""
    folder = tmp_path / "exports"
    folder.mkdir()
    for name, text in told().items():
        (folder / f"{name}.jsonl").write_text(text, encoding="utf-8")
    return folder


def written(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*.parquet"))


def rows(path: Path) -> list[dict[str, Any]]:
    with duckdb.connect() as connection:
        found = connection.execute("SELECT * FROM read_parquet(?, hive_partitioning = false)", [str(path)])
        names = [column[0] for column in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def test_a_hand_over_keeps_the_year_and_nothing_that_leads_back(run: Run, exports: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    ran = run("export", exports, "--to", "parquet", "--site", "north", "--out", out)
    assert ran.code == 0, ran
    assert written(out) == ["site=north/month=2026/cases.parquet"]
    assert "3 cases handed over" in ran.err and "the year is kept" in ran.err
    file = out / "site=north/month=2026/cases.parquet"
    assert file.stat().st_mode & 0o77 == 0
    found = rows(file)
    assert set(found[0]) == set(COLUMNS), "no column for a name or a day"
    assert len({row["file"] for row in found}) == 3
    texts = {str(value) for row in found for value in row.values()}
    assert not [text for text in texts if "Jane" in text or "bay" in text or "2026-1" in text]
    assert min(row["said_us"] for row in found if row["said_us"] is not None) == 0, "times count from the opening"
    assert run("export", exports, "--to", "parquet", "--site", "north", "--out", out).code == 0, "the same bytes again"


def test_the_review_of_a_hand_over_says_what_the_review_of_the_cases_says(
    run: Run, exports: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    assert run("export", exports, "--to", "parquet", "--site", "north", "--months", "--out", out).code == 0
    assert written(out) == ["site=north/month=2026-10/cases.parquet", "site=north/month=2026-11/cases.parquet"]
    here, there = (json.loads(run("review", place, "--json").out) for place in (exports, out))
    assert there["all"] == here["all"]
    lost = {"file", "case", "began", "site"}
    assert sorted(str({name: case[name] for name in case if name not in lost}) for case in there["cases"]) == sorted(
        str({name: case[name] for name in case if name not in lost}) for case in here["cases"]
    )
    assert [case["month"] for case in there["cases"]] == ["2026-10", "2026-10", "2026-11"]
    assert {case["site"] for case in there["cases"]} == {"north"}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--to", "parquet", "--out", "out"), "with --site NAME and --out DIR"),
        (("--to", "parquet", "--site", "north"), "with --site NAME and --out DIR"),
        (("--to", "parquet", "--to", "csv", "--site", "north", "--out", "out"), "by itself"),
        (("--to", "parquet", "--site", "../south", "--out", "out"), "cannot name a site"),
        (("another", "--to", "csv", "--out", "out"), "one case at a time"),
    ],
)
def test_what_a_hand_over_lacks_is_said(
    arguments: tuple[str, ...], said: str, run: Run, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(exports.parent)
    ran = run("export", exports, *arguments)
    assert ran.code in (2, 3) and said in ran.err
    assert not (exports.parent / "out").exists()


def test_one_that_was_edited_is_not_replaced(run: Run, exports: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = ("export", exports, "--to", "parquet", "--site", "north", "--out", out)
    run(*command)
    file = out / "site=north/month=2026/cases.parquet"
    file.write_bytes(b"")
    assert run(*command).code == 3 and file.read_bytes() == b""
    assert run(*command, "--force").code == 0 and rows(file)


@pytest.mark.parametrize(
    ("metadata", "columns", "said"),
    [
        ({SCHEMA_KEY: str(SCHEMA + 1)}, "1 AS x", "update tamponade-log here"),
        ({}, "1 AS x", "not a hand-over of cases"),
        ({SCHEMA_KEY: str(SCHEMA)}, "'north' AS site", "column month is missing"),
        (None, "", "not a Parquet file"),
    ],
    ids=["newer", "another's", "columns", "torn"],
)
def test_a_hand_over_that_cannot_be_read_is_named_and_does_not_keep_the_others_out(
    metadata: dict[str, str] | None, columns: str, said: str, run: Run, exports: Path, tmp_path: Path
) -> None:
    bad = exports / "site=south" / "month=2026" / "cases.parquet"
    bad.parent.mkdir(parents=True)
    if metadata is None:
        bad.write_bytes(b"PAR1")
    else:
        keys = ", ".join(f"{name}: '{value}'" for name, value in metadata.items())
        with duckdb.connect() as connection:
            connection.execute(f"COPY (SELECT {columns}) TO '{bad}' (FORMAT parquet, KV_METADATA {{{keys}}})")
    ran = run("review", exports, "--json")
    assert ran.code == 3 and str(bad) in ran.err and said in ran.err
    assert len(json.loads(ran.out)["cases"]) == 3
