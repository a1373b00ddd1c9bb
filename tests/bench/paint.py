"""How long the room's screen takes from a key to paint, and from an entry to paint, in a case of 5,000 lines.

    python -m tests.bench.paint [--lines 5000] [--times 60]

The screen runs without a terminal; a picture counts as painted when the library has laid out and drawn every widget
that changed. What the terminal itself takes is not in it.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import statistics
import tempfile
import time
from collections.abc import Awaitable, Callable, Sequence
from datetime import timedelta
from pathlib import Path

from textual.events import Key

from log.basics.entry import Entry
from log.facts.events import EntryLogged
from log.facts.origin import Origin
from log.facts.record import Record, evolve
from log.rules.course import course_of
from tests.tui.rooms import WIDE, Room, well_on
from tui.room.app import RoomApp
from tui.room.messages import Grown
from tui.room.showing import Showing

Act = Callable[[], Awaitable[None]]


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lines", type=int, default=5_000)
    parser.add_argument("--times", type=int, default=60)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        os.environ["TAMPONADE_KEY"] = str(Path(name) / "key")
        asyncio.run(_measured(well_on(Path(name)), options.lines, options.times))


def _long(begun: Room, lines: int) -> Record:
    """The case with so many lines, worked out in memory: a pressure every ten seconds."""
    record = begun.session.record
    while len(record.lines) < lines:
        record = evolve(record, _pressure(record))
    return record


def _pressure(record: Record) -> EntryLogged:
    number, at = record.next_number, record.lines[-1].said_at + timedelta(seconds=10)
    entry = Entry(kind="pressure", site="oesophageal", value=28 + number % 12, unit="mmHg")
    origin = Origin(by="typed", author="scribe", heard="pressure")
    return EntryLogged(number=number, entry=entry, said_at=at, logged_at=at, origin=origin)


async def _measured(begun: Room, lines: int, times: int) -> None:
    app = begun.app()
    record = _long(begun, lines)
    cpu = time.process_time()
    course = course_of(begun.session.procedure, record)
    worked_out = time.process_time() - cpu
    app.showing = Showing(record, course)
    begun.time = record.lines[-1].said_at
    async with app.run_test(size=WIDE) as pilot:
        await pilot.pause()
        print(
            f"processor, s: its course {worked_out:.1f}, its first screen {time.process_time() - cpu - worked_out:.1f}"
        )
        print(f"{lines} lines, {WIDE[0]} x {WIDE[1]}, load {os.getloadavg()[0]:.1f}, ms; in brackets of processor")
        print(f"{'':<18}   p50     p95     longest")
        for what, act in (("a key (up, down)", _key(app)), ("an entry", _entry(app, times)), ("the clock", _tick(app))):
            found = [await _timed(app, act) for _ in range(times)]
            told = (
                f"{real:6.1f} ({cpu:.1f})" for real, cpu in zip(*map(_in_short, zip(*found, strict=True)), strict=True)
            )
            print(f"{what:<18}{' '.join(told)}")
        app.exit()


async def _timed(app: RoomApp, act: Act) -> tuple[float, float]:
    """Milliseconds on the clock and of the processor: on a busy machine only the second says anything."""
    painted = asyncio.Event()
    began, cpu = time.perf_counter(), time.process_time()
    await act()
    app.call_after_refresh(painted.set)
    await painted.wait()
    return (time.perf_counter() - began) * 1000, (time.process_time() - cpu) * 1000


def _in_short(found: Sequence[float]) -> tuple[float, float, float]:
    return statistics.median(found), statistics.quantiles(found, n=20)[-1], max(found)


def _key(app: RoomApp) -> Act:
    keys = iter(["up", "down"] * 10_000)

    async def act() -> None:
        app.post_message(Key(next(keys), None))

    return act


def _entry(app: RoomApp, times: int) -> Act:
    """What the writing thread hands over: it has worked out the record and the course before."""
    grown: list[Grown] = []
    record, course = app.record, app.showing.course
    for _ in range(times):
        before, fact = record, _pressure(record)
        record = evolve(before, fact)
        course = course.follow(before, record, (fact,))
        grown.append(Grown((fact,), record, course))
    coming = iter(grown)

    async def act() -> None:
        app.post_message(next(coming))

    return act


def _tick(app: RoomApp) -> Act:
    async def act() -> None:
        app.picture.lay_out()

    return act


if __name__ == "__main__":
    main()
