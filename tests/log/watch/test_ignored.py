"""What is urgent and nobody has dealt with comes back in the watch."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from log.facts.events import FindingAcknowledged
from log.facts.record import Record
from log.watch.due import watch
from tests.cases import BEGAN, PLACED, case_of

HIGH = (*PLACED, (500.0, "oesophageal pressure four six"))


def ignored(minutes: float, *said: tuple[float, str], record: Record | None = None) -> list[str]:
    """The urgent findings that are due so many minutes after the reading above the ceiling."""
    case = case_of(*HIGH, *said)
    found = watch(case.course, BEGAN + timedelta(seconds=500, minutes=minutes), record or case.record)
    return [item.id for item in found.items if item.id == "oesophageal_ceiling-ignored"]


def test_it_comes_back_after_ten_minutes_until_it_is_over() -> None:
    assert ignored(9.9) == []
    assert ignored(10) == ["oesophageal_ceiling-ignored"]
    assert ignored(10, (900.0, "oesophageal pressure three five")) == []
    assert ignored(6, (900.0, "oesophageal pressure three five")) == [], "not before its time either"


def test_it_does_not_come_back_once_somebody_has_said_why_it_stands() -> None:
    record = case_of(*HIGH).record
    [found] = [one for one in record.open_findings if one.rule == "oesophageal_ceiling"]
    seen = FindingAcknowledged(
        logged_at=BEGAN + timedelta(seconds=600),
        rule=found.rule,
        number=found.number,
        message=found.message,
        reason="being let down",
        author="scribe",
    )
    key = (found.rule, found.number, found.message)
    assert ignored(10, record=replace(record, acknowledgements={key: seen})) == []


def test_a_clock_that_has_run_out_comes_back_ten_minutes_after_it_was_told() -> None:
    """And not ten minutes after the tube went in, a day ago."""
    case = case_of(*PLACED, (24 * 3600 + 70.0, "bleeding stopped"))
    now = BEGAN + timedelta(seconds=24 * 3600 + 70, minutes=12)
    [item] = [one for one in watch(case.course, now, case.record).items if one.id == "since-insertion-24h-ignored"]
    assert (item.when, now - item.due_at) == ("due", timedelta(minutes=2))
