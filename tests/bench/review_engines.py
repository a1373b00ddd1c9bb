"""The review of many cases on each engine: time, memory, and how both grow. Equal tables, or it stops.

python -m tests.bench.review_engines [--cases 1000 10000 100000] [--engines duckdb postgresql spark]

Invented hand-overs (tests/generated.py). Each engine runs in a process of its own, its start and the reading of the
files included; CPU seconds are those of all its processes (JVM, server): a busy machine changes them less.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import tempfile
import threading
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

from log.exports.review import review
from tests.generated import hand_over
from tests.postgres_server import programs, server

TICK = os.sysconf("SC_CLK_TCK")
PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True, slots=True)
class Cost:
    """Of one review."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def main() -> None:
    """Prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, nargs="+", default=[1_000, 10_000, 100_000])
    parser.add_argument("--engines", nargs="+", default=["duckdb", "postgresql", "spark"])
    given = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start\n", flush=True)
    print("| cases | engine | wall s | CPU s | of DuckDB's | peak MB |\n|---|---|---|---|---|---|", flush=True)
    with ExitStack() as stack:
        urls = {"duckdb": "", "spark": "local[*]", "postgresql": ""}
        if "postgresql" in given.engines and (found := programs()) is not None:
            urls["postgresql"] = stack.enter_context(server(found))
        for cases in given.cases:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
            compare(hand_over(folder / "cases", cases), cases, {name: urls[name] for name in given.engines})
    print(f"\nload {os.getloadavg()[0]:.1f} at the end")


def compare(paths: Sequence[Path], cases: int, urls: dict[str, str]) -> None:
    """A row for each engine. Raises SystemExit if two differ."""
    first: tuple[Any, Cost] | None = None
    for name, url in urls.items():
        result, cost = measured(paths, name, url)
        first = first or (result, cost)
        if result != first[0]:
            raise SystemExit(f"{name} differs from {next(iter(urls))} at {cases} cases")
        row = f"| {cases:,} | {name} | {cost.wall_s:.1f} | {cost.cpu_s:.1f} | {cost.cpu_s / first[1].cpu_s:.1f} |"
        print(f"{row} {cost.peak_mb:,.0f} |", flush=True)


def measured(paths: Sequence[Path], name: str, url: str) -> tuple[Any, Cost]:
    """The tables of one engine, and what they cost."""
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "result.json"
        process = multiprocessing.get_context("spawn").Process(target=one, args=(paths, name, url, target))
        began = perf_counter()
        process.start()
        watch = _Watch(lambda pid: pid == process.pid or (name == "postgresql" and _is_postmaster(pid)))
        process.join()
        wall = perf_counter() - began
        watch.stop()
        return json.loads(target.read_text()), Cost(wall, sum(watch.cpu.values()), watch.peak / 1e6)


def one(paths: Sequence[Path], name: str, url: str, target: Path) -> None:
    """The review on one engine, in the process that is measured."""
    result = review(paths, by=name, url=url)
    assert not result.unusable
    target.write_text(json.dumps([result.columns, result.rows, result.of_all, result.rules]))


def _is_postmaster(pid: int) -> bool:
    try:
        return b"tamponade-pg-" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return False


class _Watch:
    """CPU seconds by process, and the most memory that all had at once, of some processes and what they started."""

    def __init__(self, is_root: Any) -> None:
        self.cpu: dict[int, float] = {}
        self.peak = 0
        self._is_root = is_root
        self._before: dict[int, float] = {pid: cpu for pid, cpu, _ in self._all()}
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()

    def stop(self) -> None:
        """Ends it."""
        self._ended.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._ended.wait(0.2):
            now = self._all()
            self.cpu |= {pid: cpu - self._before.get(pid, 0) for pid, cpu, _ in now}
            self.peak = max(self.peak, sum(memory for *_, memory in now))

    def _all(self) -> list[tuple[int, float, int]]:
        """Process, CPU seconds, bytes in memory."""
        found = {int(path.name): stat for path in Path("/proc").glob("[0-9]*") if (stat := _stat(path))}
        parents = {pid: int(stat[1]) for pid, stat in found.items()}
        wanted = {pid for pid in found if self._is_root(pid)}
        while more := {pid for pid, parent in parents.items() if parent in wanted} - wanted:
            wanted |= more
        return [(pid, (int(found[pid][11]) + int(found[pid][12])) / TICK, int(found[pid][21]) * PAGE) for pid in wanted]


def _stat(path: Path) -> list[str]:
    """The fields after the program's name."""
    try:
        return path.joinpath("stat").read_text().rpartition(")")[2].split()
    except OSError:
        return []


if __name__ == "__main__":
    main()
