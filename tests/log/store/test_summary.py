"""The summary of a case, which a list of cases shows without reading the facts."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from log.basics.errors import InputError, TamponadeError
from log.facts.record import fold
from log.store import case as store
from tests.case_file import body, make, opened


@pytest.mark.parametrize("label", ["", "bay 4", "Ä\u202e\0", "longer than a page " * 300])
def test_it_shows_any_label(label: str, tmp_path: Path) -> None:
    with store.create(tmp_path, opened().model_copy(update={"label": label})) as case:
        pass
    assert store.summary(case.path).label == label


def test_it_is_that_of_the_last_fact_even_while_the_case_is_written(tmp_path: Path) -> None:
    with store.create(tmp_path, opened()) as case:
        facts = body()
        case.append(facts, fold([opened(), *facts]).summary)
        assert store.summary(case.path) == fold(case.facts()).summary
    assert store.summary(case.path) == fold([opened(), *facts]).summary


@pytest.mark.parametrize("length", [0, 1, 50, 4096, 9000, 12_288, -4096])
def test_a_file_that_is_cut_off_is_an_input_error(length: int, tmp_path: Path) -> None:
    path = make(tmp_path)
    path.write_bytes(path.read_bytes()[:length])
    with pytest.raises(InputError):
        store.summary(path)


def test_a_damaged_file_gives_a_summary_or_an_error_of_ours(tmp_path: Path) -> None:
    path = make(tmp_path)
    whole, rng = path.read_bytes(), random.Random(1)
    for _ in range(300):
        at = rng.choice([rng.randrange(4096), rng.randrange(8192, 12_288)])
        path.write_bytes(whole[:at] + bytes([rng.randrange(256)]) + whole[at + 1 :])
        try:
            store.summary(path)
        except TamponadeError:
            continue


def test_a_file_that_is_not_there_is_an_error_of_ours(tmp_path: Path) -> None:
    with pytest.raises(TamponadeError):
        store.summary(tmp_path / "none.case")
