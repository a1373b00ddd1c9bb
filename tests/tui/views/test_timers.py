"""A timer that was set by voice shows how long it still runs, and rings once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from log.basics.entry import Entry
from log.facts.events import EntryLogged, EntryStruck
from log.facts.origin import Origin
from log.facts.record import Record, fold
from tui.views.timers import rung, timers

BEGAN = datetime(2026, 10, 4, 14, 0, tzinfo=UTC)
SET = EntryLogged(
    logged_at=BEGAN, number=1, entry=Entry(kind="timer", value=10, unit="min"), said_at=BEGAN, origin=Origin()
)


def at(minutes: float) -> datetime:
    return BEGAN + timedelta(minutes=minutes)


def told(record: Record, minutes: float) -> list[str]:
    return [f"{timer.title}: {timer.told(at(minutes))}" for timer in timers(record, at(minutes))]


def test_a_timer_counts_down_is_over_and_leaves_the_screen() -> None:
    record = fold([SET])
    assert told(record, 0) == ["timer 10 min: 10:00 left"]
    assert told(record, 9.5) == ["timer 10 min: 0:30 left"]
    assert told(record, 10) == ["timer 10 min: OVER for 0:00"]
    assert told(record, 15) == []


def test_it_rings_once_at_the_moment_at_which_it_runs_out() -> None:
    record = fold([SET])
    assert not rung(record, at(0), at(9.99))
    assert rung(record, at(9.99), at(10))
    assert not rung(record, at(10), at(10.1))


def test_a_struck_timer_neither_shows_nor_rings() -> None:
    record = fold([SET, EntryStruck(logged_at=at(1), number=1, said_at=at(1), reason="", origin=Origin())])
    assert told(record, 2) == []
    assert not rung(record, at(9), at(11))


def test_a_timer_without_a_time_is_a_stopwatch() -> None:
    set_without = SET.model_copy(update={"entry": Entry(kind="timer")})
    assert told(fold([set_without]), 70) == ["stopwatch: "]
