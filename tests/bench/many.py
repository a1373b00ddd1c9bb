"""What many cases cost: `tamponade cases` over ten thousand files of ten facts each, the program's start included.

python tests/bench/many.py [--cases 10000]
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from log.basics.entry import Entry, Understood
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.scribe.session import TYPED

BEGAN = datetime(2026, 1, 1, tzinfo=UTC)
DISTINCT = 100
"""Cases that are kept in earnest; the other files are copies, for what is listed lies in each file."""


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=10_000)
    number = parser.parse_args().cases
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start\n")
    with tempfile.TemporaryDirectory() as name:
        os.environ["TAMPONADE_KEY"] = str(Path(name) / "key")
        folder = Path(name) / "cases"
        print(f"made {number:,} files in {timed(lambda: make(folder, number)):.0f} s\n")
        warm = [timed(lambda: listed(folder)) for _ in range(7)]
        cold = [timed(lambda: listed(folder), before=lambda: forget(folder)) for _ in range(5)]
        start = [timed(lambda: listed(folder / "none")) for _ in range(7)]
    print(f"| {number:,} cases | seconds, median (least) |\n|---|---|")
    for what, took in (
        ("`tamponade cases`, files in memory", warm),
        ("the same, files dropped from memory before", cold),
        ("of that the program's start (a folder without cases)", start),
    ):
        print(f"| {what} | {statistics.median(took):.2f} ({min(took):.2f}) |")
    print(f"\nload {os.getloadavg()[0]:.1f} at the end")


def make(folder: Path, number: int) -> None:
    """Ten facts a case."""
    definition = load("three-lumen")
    for n in range(min(number, DISTINCT)):
        session = open_case(
            folder, f"case-{n:05}", definition, TYPED, Keeping(label=f"bay {n}"), BEGAN + timedelta(days=n)
        )
        for minute, pressure in enumerate(range(30, 38), start=1):
            entry = Entry(kind="pressure", site="gastric", value=pressure, unit="mmHg")
            session.take(Understood(items=(entry,)), 60.0 * minute, 60.0 * minute, Origin(heard="gastric pressure"))
        session.close(600, "end of typing")
    for n in range(DISTINCT, number):
        shutil.copyfile(folder / f"case-{n % DISTINCT:05}.case", folder / f"case-{n:05}.case")


def listed(folder: Path) -> None:
    """The command in a process of its own."""
    program = "from tui.cli import main; main()"
    command = [sys.executable, "-c", program, "cases", "--cases", str(folder)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def forget(folder: Path) -> None:
    """Asks the system to drop these files from memory."""
    os.sync()
    for path in folder.glob("*.case"):
        with path.open("rb") as file:
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def timed(work: Callable[[], object], before: Callable[[], object] | None = None) -> float:
    """Seconds of the work alone."""
    if before is not None:
        before()
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
