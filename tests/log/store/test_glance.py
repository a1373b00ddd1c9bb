"""A summary seen at a glance is the one that SQLite would have read, or it is left to SQLite."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from log.basics.errors import InputError, TamponadeError
from log.facts.record import fold
from log.store import case as store
from log.store.glance import glance
from log.store.sqlite import FORMAT
from tests.case_file import body, opened


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A closed case of six facts."""
    with store.create(tmp_path, opened()) as case:
        facts = body()
        case.append(facts, fold([opened(), *facts]).summary)
    return case.path


def by_sqlite(path: Path) -> str:
    with closing(sqlite3.connect(f"{path.as_uri()}?immutable=1", uri=True)) as connection:
        return str(connection.execute("SELECT summary FROM head").fetchone()[0])


@pytest.mark.parametrize("label", ["", "bay 4", "Ä\u202e\0", "long " * 600, "longer than a page " * 300])
def test_it_is_what_sqlite_reads_or_left_to_it(label: str, tmp_path: Path) -> None:
    with store.create(tmp_path, opened().model_copy(update={"label": label})) as case:
        pass
    seen = glance(str(case.path), FORMAT)
    assert seen == (by_sqlite(case.path) if len(label) < 4000 else None)
    assert store.summary(case.path).label == label


def test_it_is_that_of_the_last_fact_even_while_the_case_is_written(path: Path) -> None:
    with store.resume(path.parent, "case") as case:
        facts = case.facts()
        assert glance(str(path), FORMAT) is None
        assert store.summary(path) == fold(facts).summary
    assert glance(str(path), FORMAT) == by_sqlite(path) == fold(facts).summary.model_dump_json()


def test_after_a_clean_up_it_is_found_again(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("VACUUM")
    assert glance(str(path), FORMAT) == by_sqlite(path)


@pytest.mark.parametrize(
    ("at", "instead"),
    [(0, b"x"), (20, b"\x08"), (63, b"\x07"), (100, b"\x05"), (17, b"\x01"), (31, b"\xff")],
    ids=["encrypted", "reserved bytes", "another version", "schema on several pages", "page size", "number of pages"],
)
def test_what_is_not_as_expected_is_left_to_sqlite(path: Path, at: int, instead: bytes) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[:at] + instead + whole[at + 1 :])
    assert glance(str(path), FORMAT) is None


@pytest.mark.parametrize("length", [0, 1, 50, 4096, 9000, 12_288, -4096])
def test_what_is_cut_off_is_told(path: Path, length: int) -> None:
    path.write_bytes(path.read_bytes()[:length])
    assert glance(str(path), FORMAT) is None
    with pytest.raises(InputError):
        store.summary(path)


def test_no_damage_makes_it_tell_something_else_than_sqlite(path: Path) -> None:
    whole, rng = path.read_bytes(), random.Random(1)
    for _ in range(1500):
        at = rng.choice([rng.randrange(4096), rng.randrange(8192, 12_288)])
        path.write_bytes(whole[:at] + bytes([rng.randrange(256)]) + whole[at + 1 :])
        seen = glance(str(path), FORMAT)
        if seen is not None:
            try:
                assert seen == by_sqlite(path)
            except (sqlite3.Error, UnicodeDecodeError):  # damaged elsewhere: this row is whole
                assert seen == fold([opened(), *body()]).summary.model_dump_json()
        try:
            store.summary(path)
        except TamponadeError:
            continue


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert glance(str(tmp_path / "none.case"), FORMAT) is None
    with pytest.raises(TamponadeError):
        store.summary(tmp_path / "none.case")
