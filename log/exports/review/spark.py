"""Apache Spark, for a network that outgrows one machine. `url` is its master, "local[*]" without one: this machine.

It reads hand-overs where they lie. On a cluster every worker has to see them, and the folder for temporary files as
well (TMPDIR), where cases that were not handed over are put. Needs Java 17.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from pyspark.errors import PySparkException
from pyspark.sql import SparkSession

from log.basics.errors import TamponadeError
from log.exports.review.dialects import statements, translated
from log.exports.review.engine import RESULTS, EngineMissing, Facts, Rows, Tables, plain
from log.exports.review.schema import ALL_FACTS, COLUMNS

READ_OFTEN = frozenset({"lines", "standing", "firsts", "balloon_volumes", "oesophageal", "raised", "review"})
"""Tables that others are made of: kept, and not worked out anew for each. That also keeps each plan short."""


def tables(facts: Facts, url: str = "") -> Tables:
    """The review by Spark. Raises EngineMissing without Java, TamponadeError if Spark cannot do it."""
    with _session(facts, url or "local[*]") as spark:
        _read(spark, facts)
        for one in statements("spark"):
            made = spark.sql(one.query)
            (made.localCheckpoint() if one.table in READ_OFTEN else made).createOrReplaceTempView(one.table)
        return {name: _rows(spark, name) for name in RESULTS}


def _read(spark: SparkSession, facts: Facts) -> None:
    """Makes the view `facts`, all of one case in one place: no later step has to move them."""
    staged = spark.read.parquet(str(facts.staged))
    staged.createOrReplaceTempView("staged")
    handed = spark.read.parquet(*map(str, facts.handed_over)) if facts.handed_over else staged.limit(0)
    handed.select(*COLUMNS).createOrReplaceTempView("handed_over")
    together = spark.sql(translated(ALL_FACTS, "spark")).repartition("file")
    together.localCheckpoint().createOrReplaceTempView("facts")


def _rows(spark: SparkSession, table: str) -> Rows:
    found = spark.table(table)
    return Rows(tuple(found.columns), tuple(tuple(map(plain, row)) for row in found.collect()))


@contextmanager
def _session(facts: Facts, master: str) -> Iterator[SparkSession]:
    """A session that offers no page and listens on this machine alone, where it runs on it."""
    if not (shutil.which("java") or os.environ.get("JAVA_HOME")):
        raise EngineMissing("Spark needs Java", "install it: apt install openjdk-17-jre-headless")
    settings = {
        "spark.ui.enabled": "false",
        "spark.log.level": "OFF",
        "spark.ui.showConsoleProgress": "false",
        "spark.sql.warehouse.dir": str(facts.folder / "warehouse"),
        "spark.local.dir": str(facts.folder),
        "spark.sql.session.timeZone": "UTC",
    }
    if master.startswith("local"):
        settings |= {"spark.driver.host": "localhost", "spark.driver.bindAddress": "127.0.0.1"}
    session = None
    try:
        builder = SparkSession.builder.appName("tamponade review").master(master)
        for name, value in settings.items():
            builder = builder.config(name, value)
        session = builder.getOrCreate()
        session.conf.set("spark.sql.shuffle.partitions", 2 * session.sparkContext.defaultParallelism)
        yield session
    except PySparkException as error:
        said = str(error).splitlines()[0]
        raise TamponadeError(f"Spark failed: {said}", "check --url, Java (17), and the room to write") from None
    finally:
        if session is not None:
            session.stop()
