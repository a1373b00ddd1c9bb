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
from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

from textual.events import Key

from log.basics.entry import Entry
from log.facts.events import EntryLogged
from log.facts.origin import Origin
from log.facts.record import Record, evolve
from log.rules.course import Course, course_of
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


def _long(begun: Room, lines: int) -> tuple[Record, Course]:
    """The case with so many lines, worked out in memory: a pressure every ten seconds."""
    record = begun.session.record
    while len(record.lines) < lines:
        record = evolve(record, _pressure(record))
    return record, course_of(begun.session.procedure, record)


def _pressure(record: Record) -> EntryLogged:
    number, at = record.next_number, record.lines[-1].said_at + timedelta(seconds=10)
    entry = Entry(kind="pressure", site="oesophageal", value=28 + number % 12, unit="mmHg")
    origin = Origin(by="typed", author="scribe", heard="pressure")
    return EntryLogged(number=number, entry=entry, said_at=at, logged_at=at, origin=origin)


async def _measured(begun: Room, lines: int, times: int) -> None:
    app = begun.app()
    record, course = _long(begun, lines)
    app.showing = Showing(record, course)
    begun.time = record.lines[-1].said_at
    async with app.run_test(size=WIDE) as pilot:
        await pilot.pause()
        print(f"{lines} lines, {WIDE[0]} x {WIDE[1]}, load {os.getloadavg()[0]:.1f}; ms   p50   p95   longest")
        for what, act in (("a key (up, down)", _key(app)), ("an entry", _entry(app, times)), ("the clock", _tick(app))):
            found = [await _timed(app, act) for _ in range(times)]
            p95 = statistics.quantiles(found, n=20)[-1]
            print(f"{what:<18}{statistics.median(found):6.1f}{p95:6.1f}{max(found):6.1f}")
        app.exit()


async def _timed(app: RoomApp, act: Act) -> float:
    painted = asyncio.Event()
    began = time.perf_counter()
    await act()
    app.call_after_refresh(painted.set)
    await painted.wait()
    return (time.perf_counter() - began) * 1000


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
