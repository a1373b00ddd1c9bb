"""A case that was begun on a wrong clock is moved as a whole, and moved back, by facts that stay with it."""

from __future__ import annotations

import csv
import re
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from log.basics.entry import Entry, Understood
from log.basics.errors import InputError
from log.exports import FORMATS
from log.exports.csv_table import as_csv
from log.exports.deidentify import deidentified
from log.exports.handover_json import plain as handover_json
from log.exports.show_json import plain as show_json
from log.facts.clock import on_the_right_clock
from log.facts.events import CaseClosed, ClockCorrected, Fact, FindingRaised
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case, resume, shift_clock
from log.scribe.session import TYPED
from log.store import case as store
from log.store.verify import verify
from log.summaries.handover import handover
from log.summaries.whole import Whole, whole
from tests.cases import BEGAN, GOOD, entry, facts_of, opened, whole_of

HOUR = timedelta(hours=1)
NOW = BEGAN - HOUR / 6
"""The clock was an hour ahead: what reads 14:00 to 14:40 was from 13:00 to 13:40, and it is 13:50."""


def facts_at(began: datetime) -> list[Fact]:
    closed = CaseClosed(logged_at=began + timedelta(minutes=40), reason="ended by the scribe")
    return [*facts_of(GOOD, logged_at=began), closed]


@cache
def right() -> Whole:
    """The same case on the right clock."""
    return whole_of(facts_at(BEGAN - HOUR))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The good case on disk, an hour ahead."""
    facts = facts_at(BEGAN)
    with store.create(tmp_path, opened(case="night")) as case:
        case.append(facts[1:], fold(facts).summary)
    return tmp_path


def shifted(folder: Path, by: timedelta, now: datetime, reason: str = "laptop fast") -> Whole:
    session = shift_clock(folder, "night", int(by.total_seconds()), reason, "scribe", now)
    session.close(0.0, "end of the correction")
    assert not verify(session.case.path).problems
    return read(folder)


def read(folder: Path) -> Whole:
    return whole(store.read(folder, "night"))


def lines(case: Whole) -> list[dict[str, str]]:
    return list(csv.DictReader(as_csv(case).splitlines()))


def test_everything_is_as_if_the_clock_had_been_right(folder: Path) -> None:
    case = shifted(folder, -HOUR, NOW)
    assert as_csv(case) == as_csv(right())
    assert case.record.findings == right().record.findings and case.record.missed == right().record.missed
    assert case.record.summary.began == (BEGAN - HOUR).isoformat()
    assert case.course.end == right().course.end
    links = store.read(folder, "night").links
    assert [link.fact for link in links[: len(facts_at(BEGAN))]][1:] == facts_at(BEGAN)[1:], "no fact is changed"


def test_a_shift_back_undoes_a_shift_and_what_was_logged_since_stays(folder: Path) -> None:
    shifted(folder, -HOUR, NOW)
    session = resume(folder, "night", TYPED, "scribe", NOW + HOUR / 60)
    session.enter(entry("bleeding", "stopped"), NOW + HOUR / 60, "scribe")
    session.close(0.0, "end of typing")
    moved = shifted(folder, -HOUR / 2, NOW + HOUR / 30, "nor was it a whole hour")
    assert moved.record.lines[0].said_at == BEGAN - 1.5 * HOUR + timedelta(seconds=5)
    assert moved.record.lines[-1].said_at == NOW + HOUR / 60 - HOUR / 2, "all that was logged before it moves"
    back = shifted(folder, HOUR / 2, NOW + HOUR / 20, "it was")
    assert back.record.lines[-1].said_at == NOW + HOUR / 60
    assert as_csv(back).splitlines()[:-1] == as_csv(right()).splitlines()


def test_a_first_shift_that_was_wrong_can_be_put_right_at_once(folder: Path) -> None:
    shifted(folder, -2 * HOUR, NOW)
    assert as_csv(shifted(folder, HOUR, NOW + HOUR / 60)) == as_csv(right())


def test_a_case_is_moved_neither_into_the_future_nor_out_of_our_age(folder: Path) -> None:
    with pytest.raises(InputError, match="has not come yet"):
        shifted(folder, HOUR, NOW)
    ten_years = timedelta(days=3650)
    for _ in range(3):
        shifted(folder, -ten_years, NOW)
    with pytest.raises(InputError, match="that long ago"):
        shifted(folder, -ten_years, NOW)
    assert read(folder).record.summary.began == (BEGAN - 3 * ten_years).isoformat()


def test_a_shift_wants_a_reason(folder: Path) -> None:
    with pytest.raises(InputError, match="needs a reason"):
        shifted(folder, -HOUR, NOW, " ")


def test_what_is_logged_next_comes_after_what_was_moved(folder: Path) -> None:
    shifted(folder, -HOUR, NOW)
    session = resume(folder, "night", TYPED, "scribe", NOW + HOUR / 60)
    try:
        assert session.began == NOW + HOUR / 60, "not at the time that the wrong clock had reached"
        assert session.record.resumed[-1].clock_set_back_s == 0
    finally:
        session.close(0.0, "end of typing")
    assert not verify(session.case.path).problems


@pytest.mark.parametrize("name", ["note", "handover-text", "fhir", "audit"])
def test_every_page_says_that_the_clock_was_corrected(folder: Path, name: str) -> None:
    written = FORMATS[name].write(shifted(folder, -HOUR, NOW))
    assert isinstance(written, str)
    assert "-1:00" in written and "laptop fast" in written
    as_it_was = re.search(r"[ T]14:[0-4]\d:\d\d", written)
    assert bool(as_it_was) == (name == "audit"), "the times as they were written stand in the audit alone"


def test_programs_read_it_too(folder: Path) -> None:
    case = shifted(folder, -HOUR, NOW)
    for plain in (show_json(case), handover_json(case, handover(case.course, case.record, case.until))):
        corrected = plain["clock_corrected"]
        assert isinstance(corrected, list)
        assert [(one["by_s"], one["reason"]) for one in corrected] == [(-3600, "laptop fast")]
    assert "clock_corrected" not in show_json(right())


def test_without_identity_times_count_from_the_opening_as_it_was(folder: Path) -> None:
    without, _ = deidentified(shifted(folder, -HOUR, NOW))
    same, _ = deidentified(right())
    assert [row["elapsed_s"] for row in lines(without)] == [row["elapsed_s"] for row in lines(same)]
    assert [line.said_at for line in without.record.lines] == [line.said_at for line in same.record.lines]
    assert without.record.clocks[0].by_s == 0


def test_a_correction_moves_nothing_that_comes_after_it() -> None:
    facts = facts_at(BEGAN)
    wrong = ClockCorrected(logged_at=facts[-1].logged_at, by_s=60, moves=10**6, reason="x", author="")
    later = CaseClosed(logged_at=facts[-1].logged_at, reason="end")
    assert on_the_right_clock((*facts, wrong, later))[-2:] == (wrong, later)


def test_a_clock_that_ran_out_while_nobody_listened_is_told_at_the_resumption(tmp_path: Path) -> None:
    begun = open_case(tmp_path, "night", load("three-lumen"), TYPED, Keeping(), BEGAN)
    assert begun.raised_at_resumption == ()
    begun.take(Understood(items=(Entry(kind="tube", value="in"),)), 1, 1, Origin(by="typed", heard="tube in"))
    begun.close(2, "end of typing")
    again = resume(tmp_path, "night", TYPED, "operator", BEGAN + timedelta(hours=24, minutes=1))
    assert [one.rule for one in again.raised_at_resumption if isinstance(one, FindingRaised)] == ["since-insertion-24h"]
    again.close(1, "end of typing")
