"""What a long case costs: one more fact at any length, corrections, opening, checking.

    python tests/bench/scale.py [--lines 10000]

A long watch is made up: mostly pressures, then aspirates, depths, volumes, corrections of the last entry, questions
with their answers, and words that make no entry. Each utterance goes through the very functions of a session, with
the clock stopped between the stages; between the lengths that are measured, facts go to disk in bulk. The reference,
in the same run, works the whole case out anew for one more fact.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from log.definition.load import InForce, in_force
from log.facts.events import CaseOpened
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.rules.course import Course, course_of
from log.rules.definitions import read_procedure
from log.scribe import correct
from log.scribe.correct import Correction
from log.scribe.decide import Heard, decide
from log.scribe.decided import rechecked, with_findings
from log.scribe.opening import resume
from log.scribe.session import TYPED
from log.store import case as store
from log.store.chain import Link, linked
from log.store.keys import Signer, signer
from log.store.verify import verify
from log.store.writing import Case

T = TypeVar("T")
BEGAN = datetime(2026, 1, 1, tzinfo=UTC)
LENGTHS = (10, 1_000, 5_000, 10_000)
"""Lines. No real watch reaches more than 5,000."""
STAGES = ("decide", "summary", "canonical JSON, SHA-256", "sign", "commit to disk")
WINDOW = 300
"""Utterances that are measured at each length; at the shortest, several fresh cases."""


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lines", type=int, default=10_000)
    options = parser.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the start\n")
    with tempfile.TemporaryDirectory() as name:
        os.environ["TAMPONADE_KEY"] = str(Path(name) / "key")
        lengths = [length for length in LENGTHS if length <= options.lines]
        growing(Path(name), lengths)
        opening(Path(name))
    print(f"load {os.getloadavg()[0]:.1f} at the end")


def watch(rng: random.Random) -> Iterator[Meaning]:
    """What is said in a long watch, after the tube was placed."""
    yield from (
        Understood(items=(entry,))
        for entry in (
            Entry(kind="tube", value="in"),
            Entry(kind="depth", site="lips", value=52, unit="cm"),
            Entry(kind="volume_in", site="gastric", value=50, unit="mL"),
            Entry(kind="xray", value="confirmed"),
            Entry(kind="volume_in", site="gastric", value=200, unit="mL"),
            Entry(kind="traction", value=0.5, unit="kg", detail="weight"),
        )
    )
    while True:
        chance = rng.random()
        pressure = Entry(kind="pressure", site="oesophageal", value=rng.randint(20, 48), unit="mmHg")
        if chance < 0.68:
            yield Understood(items=(pressure,))
        elif chance < 0.76:
            yield Understood(items=(Entry(kind="aspirate", site="gastric", value=rng.randint(1, 60), unit="mL"),))
        elif chance < 0.80:
            yield Understood(items=(Entry(kind="depth", site="lips", value=rng.randint(50, 54), unit="cm"),))
        elif chance < 0.84:
            kind = rng.choice(["volume_in", "volume_out"])
            yield Understood(items=(Entry(kind=kind, site="gastric", value=5, unit="mL"),))
        elif chance < 0.90:
            yield Understood(items=(pressure,))
            yield Understood(items=(Entry(kind="correct", value=rng.randint(20, 44)),))
        elif chance < 0.94:
            other = pressure.model_copy(update={"value": 13})
            yield Understood(items=(Question(candidates=(pressure, other), why="sound alike", text="sound alike"),))
            yield Understood(items=(Entry(kind="confirm"),))
        elif chance < 0.97:
            yield Understood(items=(pressure,))
            yield Understood(items=(Entry(kind="undo"),))
        else:
            yield NotUnderstood(heard="mind the cable")


@dataclass
class Room:
    """A case that grows, with what each stage of one utterance took, in seconds."""

    case: Case
    chosen: InForce
    record: Record
    course: Course
    vouching: Signer
    links: list[Link]
    said: Iterator[Meaning] = field(default_factory=lambda: watch(random.Random(1)))
    now: datetime = BEGAN
    took: list[list[float]] = field(default_factory=list)
    waiting: list[Link] = field(default_factory=list)

    @property
    def facts(self) -> int:
        """How long the case is."""
        return len(self.links)

    def utterance(self, meaning: Meaning, to_disk: bool) -> None:
        """One utterance through everything that a session does with it."""
        self.now += timedelta(seconds=20)
        marks = [time.thread_time()]

        def done(result: T) -> T:
            marks.append(time.thread_time())
            return result

        heard = Heard(meaning, self.now, self.now, Origin(author="operator", heard="as it was said in the room"))
        new = done(decide(self.course, self.record, heard))
        summary = done(new.record.summary)
        links = done(linked(new.facts, self.facts, self.links[-1].sha256))
        self.record, self.course = new.record, new.course
        self.links += links
        self.waiting += links
        if to_disk or len(self.waiting) > 5_000:
            head = done(self.vouching.head("long", self.facts, self.links[-1].sha256))
            committed = timed(lambda: self.case.take_over(self.waiting, head, summary))
            self.waiting.clear()
            if to_disk:
                self.took.append([*(later - before for before, later in pairwise(marks)), committed])


def room(folder: Path) -> Room:
    """A new case."""
    chosen = in_force(read_procedure("three-lumen"), None)
    opened = CaseOpened(
        logged_at=BEGAN,
        case="long",
        definition=chosen.text,
        definition_sha256=chosen.sha256,
        software="bench",
        source=TYPED,
    )
    case = store.create(folder, opened)
    facts = case.facts()
    record = fold(facts)
    return Room(case, chosen, record, course_of(chosen.procedure, record), signer(), linked(facts))


def growing(folder: Path, lengths: list[int]) -> None:
    """One more utterance at each length, stage by stage; from scratch; corrections of older and older lines."""
    rows, scratch, corrections = [], [], []
    fresh = []
    for number in range(WINDOW // 10):
        young = room(folder / f"young-{number}")
        while len(young.record.lines) < 15:
            young.utterance(next(young.said), to_disk=True)
        fresh += young.took[4:]
        young.case.close()
        if number == 0:
            scratch.append(from_scratch(young))
    rows.append((10, fresh))
    long = room(folder)
    for length in lengths[1:]:
        while len(long.record.lines) < length - WINDOW // 2:
            long.utterance(next(long.said), to_disk=False)
        long.took = []
        window = min(WINDOW, length)
        while len(long.took) < window:
            long.utterance(next(long.said), to_disk=True)
        rows.append((length, long.took))
        scratch.append(from_scratch(long))
        corrections.append(corrected(long))
    long.case.close()
    table("one more utterance, ms: p50 / p99", ["lines", *STAGES, "all"], [stages(*row) for row in rows])
    table("all of it from scratch, ms", ["lines", "facts", "record", "rules"], scratch)
    table(
        "a correction by hand, ms",
        ["lines", "newest line", "100 lines back", "1,000 back", "the first line", "time of the newest"],
        corrections,
    )
    print(f"an entry and its scratching after 10,000 of the kind: {1000 * scratched(folder / 'struck'):.1f} ms\n")


def stages(length: int, took: list[list[float]]) -> list[str]:
    """A row of the table."""
    columns = [*zip(*took, strict=True), [sum(stage) for stage in took]]
    return [f"{length:,}", *(f"{1000 * statistics.median(c):.2f} / {1000 * percentile(c):.2f}" for c in columns)]


def percentile(values: Sequence[float]) -> float:
    """The 99th."""
    return sorted(values)[int(0.99 * (len(values) - 1))]


def from_scratch(long: Room) -> list[str]:
    """A row: milliseconds to fold all facts, and to run all rules over all lines; the best of three."""
    facts, record = [link.fact for link in long.links], long.record
    folded = min(worked(lambda: fold(facts)) for _ in range(3))
    ruled = min(
        worked(lambda: rechecked(course_of(long.chosen.procedure, record), record, (), long.now)) for _ in range(3)
    )
    return [f"{len(record.lines):,}", f"{len(facts):,}", f"{1000 * folded:.0f}", f"{1000 * ruled:.0f}"]


def corrected(long: Room) -> list[str]:
    """Milliseconds for the facts and the record after one correction; the case is left as it was."""
    by = Correction("scribe", "misread", long.now)
    standing = [line.number for line in long.record.lines if line.status == "stands" and line.entry.kind == "pressure"]
    value = Entry(kind="pressure", site="oesophageal", value=19, unit="mmHg")
    moved = long.now - timedelta(seconds=70)

    def once(number: int, at: datetime | None = None) -> None:
        with_findings(long.course, long.record, (correct.amend(long.record, number, value, at, by),), long.now)

    chosen: list[tuple[int, datetime | None]] = [
        *((standing[-min(back, len(standing))], None) for back in (1, 100, 1000)),
        (standing[0], None),
        (standing[-1], moved),
    ]
    times = [min(worked(lambda n=number, at=at: once(n, at)) for _ in range(3)) for number, at in chosen]  # type: ignore[misc]
    return [f"{len(long.record.lines):,}", *(f"{1000 * seconds:.1f}" for seconds in times)]


def scratched(folder: Path) -> float:
    """Seconds for an entry and its "scratch that" when ten thousand struck lines lie before them."""
    struck = room(folder)
    pressure = Understood(items=(Entry(kind="pressure", site="oesophageal", value=30, unit="mmHg"),))
    undo = Understood(items=(Entry(kind="undo"),))

    def once() -> None:
        struck.utterance(pressure, to_disk=False)
        struck.utterance(undo, to_disk=False)

    for _ in range(10_000):
        once()
    took = min(timed(once) for _ in range(5))
    struck.case.close()
    return took


def opening(folder: Path) -> None:
    """The long case, opened again."""
    rows = [
        ["read (tamponade show, export)", f"{timed(lambda: store.read(folder, 'long')):.1f}"],
        ["verify", f"{timed(lambda: verify(folder / 'long.case')):.1f}"],
    ]
    began = time.perf_counter()
    session = resume(folder, "long", TYPED, "scribe", BEGAN + timedelta(days=300))
    rows.append(["open for writing", f"{time.perf_counter() - began:.1f}"])
    session.close(0.0, "end of typing")
    size = (folder / "long.case").stat().st_size / 1e6
    table(f"opening the longest case ({size:.0f} MB), s", ["", "seconds"], rows)


def worked(work: Callable[[], object]) -> float:
    """Seconds of the processor."""
    began = time.thread_time()
    work()
    return time.thread_time() - began


def timed(work: Callable[[], object]) -> float:
    """Seconds."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def table(title: str, headings: list[str], rows: list[list[str]]) -> None:
    """As Markdown."""
    print(f"{title}\n\n| {' | '.join(headings)} |\n|{'---|' * len(headings)}")
    print("\n".join(f"| {' | '.join(row)} |" for row in rows) + "\n", flush=True)


if __name__ == "__main__":
    main()
