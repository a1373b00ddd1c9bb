"""One SQL file, three engines: the tables of the same cases are equal."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Sequence
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import pytest

from log.basics.errors import TamponadeError
from log.exports.review import Review, review
from log.exports.review import duckdb as on_duckdb
from log.exports.review.engine import ENGINES, EngineMissing, engine
from log.exports.review.schema import COLUMNS, NAMED
from tests.generated import hand_over
from tests.postgres_server import APT, programs, server

CASES = 300
FEW = 40
"""For Spark, whose start alone is many seconds."""
SOONER = "spark.sql.codegen.wholeStage false\nspark.sql.codegen.factoryMode NO_CODEGEN\n"
"""Settings that spare Spark compiling, which with so few cases takes longer than the sums."""


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Sequence[Path]:
    return hand_over(tmp_path_factory.mktemp("many"), CASES)


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Sequence[Path]:
    return hand_over(tmp_path_factory.mktemp("few"), FEW, seed=2)


def counted(result: Review) -> Review:
    assert not result.unusable
    return replace(result, left_out=())


@pytest.mark.slow
def test_postgresql_says_the_same(generated: Sequence[Path]) -> None:
    pytest.importorskip("psycopg", reason="needs the extra: pip install 'tamponade-log[postgres]'")
    pytest.importorskip("sqlglot", reason="needs the extra: pip install 'tamponade-log[postgres]'")
    found = programs()
    if found is None:
        pytest.skip(APT)
    with server(found) as url:
        same = counted(review(generated, True, "postgresql", url))
        assert same == counted(review(generated, True))
        assert len(same.rows) == CASES and same.of_all["high_open"] > 0 and same.of_all["rebled"] > 0
        with pytest.raises(TamponadeError, match="PostgreSQL failed") as failed:
            review(generated, True, "postgresql", f"{url} user=somebody password=secret")
        assert "secret" not in str(failed.value)


@pytest.mark.slow
def test_spark_says_the_same(few: Sequence[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if find_spec("pyspark") is None:
        pytest.skip("needs the extra: pip install 'tamponade-log[spark]'")
    if shutil.which("java") is None:
        pytest.skip("needs Java: apt install openjdk-17-jre-headless")
    monkeypatch.setenv("JDK_JAVA_OPTIONS", "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC")
    monkeypatch.setenv("SPARK_CONF_DIR", str(tmp_path))
    (tmp_path / "spark-defaults.conf").write_text(SOONER)
    assert counted(review(few, True, "spark", "local[2]")) == counted(review(few, True))


def test_a_hand_over_has_the_columns_that_exports_are_made_into(few: Sequence[Path], tmp_path: Path) -> None:
    (tmp_path / "none.jsonl").touch()
    with on_duckdb._facts(tmp_path) as connection:
        made = {name: kind for name, kind, *_ in connection.execute("DESCRIBE facts").fetchall()}
    assert made == {name: column.kind for name, column in (*COLUMNS.items(), *NAMED.items())}


def test_what_was_handed_over_twice_counts_once(few: Sequence[Path], tmp_path: Path) -> None:
    again = Path(shutil.copy(few[0], tmp_path / "again.parquet"))
    once, twice = review(few), review([*few, again])
    assert once.rows == twice.rows and len(once.rows) == FEW
    assert {(case["site"], case["month"], case["began"]) for case in once.cases} == {
        (path.parts[-3].removeprefix("site="), *2 * (path.parts[-2].removeprefix("month="),)) for path in few
    }


@pytest.mark.parametrize("name", sorted(ENGINES))
def test_an_engine_that_is_not_installed_names_its_extra(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, ENGINES[name].module, None)
    with pytest.raises(EngineMissing, match=rf"tamponade-log\[{ENGINES[name].extra}\]"):
        engine(name)
