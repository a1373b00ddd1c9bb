"""What is played when, the invented patient behind it, and the clock that may run faster: nothing waits here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.facts.events import Fact, SimulationPlayed
from log.facts.record import Record, fold
from log.rehearsal.load import read_scenario
from log.rehearsal.patient import condition
from log.rehearsal.scenario import Scenario
from log.rehearsal.timeline import next_due, over
from log.rules.course import Course, course_of
from log.scribe.pace import STEADY, Pace
from tests.cases import BEGAN, Spoken, definition, facts_of

SLOW_LEAK, MISPLACED = read_scenario("slow-leak"), read_scenario("misplaced")


def at(seconds: float) -> datetime:
    return BEGAN + timedelta(seconds=seconds)


def case(spoken: Sequence[Spoken], *played: SimulationPlayed) -> tuple[Course, Record]:
    """What was said, then these events."""
    facts: list[Fact] = [*facts_of(spoken, simulation="x"), *played]
    record = fold(facts)
    return course_of(definition()[0].procedure, record), record


def event(name: str, second: float) -> SimulationPlayed:
    """One that was played."""
    return SimulationPlayed(logged_at=at(second), event=name, said_at=at(second), told="x")


def played_by(scenario: Scenario, spoken: Sequence[Spoken], second: float) -> list[SimulationPlayed]:
    """All that is played up to this second, while this is said."""
    played: list[SimulationPlayed] = []
    for now in (*(words[0] for words in spoken if words[0] < second), second):
        course, record = case([words for words in spoken if words[0] < now], *played)
        while (fact := next_due(scenario, course, record, at(now))) is not None:
            played.append(fact)
            record = fold([fact], record)
    return played


def when(played: Sequence[SimulationPlayed]) -> list[tuple[str, float]]:
    """What, and at which second."""
    return [(fact.event, (fact.said_at - BEGAN).total_seconds()) for fact in played]


AIR = [(10, "tube passed"), (20, "oesophageal four zero in")]


def pressure(scenario: Scenario, spoken: Sequence[Spoken], second: float, *played: SimulationPlayed) -> int:
    course, record = case(spoken, *played)
    return condition(scenario, course, record.played, at(second)).pressure


def test_the_pressure_follows_the_air_that_is_in_by_the_log() -> None:
    assert pressure(SLOW_LEAK, [], 15) == 0
    assert pressure(SLOW_LEAK, AIR, 30) == 32  # 40 mL x 0.8 mmHg/mL
    assert pressure(SLOW_LEAK, AIR, 19) == 0  # not yet said
    assert pressure(SLOW_LEAK, [*AIR, (40, "oesophageal one zero out")], 50) == 24
    assert pressure(SLOW_LEAK, [*AIR, (40, "oesophageal balloon deflated")], 50) == 0
    assert pressure(SLOW_LEAK, [*AIR, (40, "scratch that")], 50) == 0


def test_it_falls_by_the_leak_while_the_balloon_is_up() -> None:
    leak = event("leak-begins", 100)
    assert pressure(SLOW_LEAK, AIR, 100 + 3600, leak) == 26  # 6 mmHg in an hour
    assert pressure(SLOW_LEAK, AIR, 100 + 1800, leak) == 29
    assert pressure(SLOW_LEAK, AIR, 100 + 36000, leak) == 0  # and never below
    more = [*AIR, (3700, "oesophageal one zero in")]
    assert pressure(SLOW_LEAK, more, 3700 + 3600, leak) == 28  # 32 - 6 + 8 - 6


def test_a_balloon_that_was_pumped_up_by_the_manometer_holds_what_the_team_says() -> None:
    assert pressure(SLOW_LEAK, [(10, "tube passed"), (20, "oesophageal pressure three five")], 30) == 35


def test_bleeding_is_held_by_pressure_or_traction_and_begins_again_without() -> None:
    def bleeding(scenario: Scenario, *spoken: Spoken, second: float = 100) -> bool:
        course, record = case(spoken)
        return condition(scenario, course, record.played, at(second)).bleeding

    assert bleeding(SLOW_LEAK)
    assert not bleeding(SLOW_LEAK, *AIR)
    assert bleeding(SLOW_LEAK, *AIR, (50, "oesophageal two zero out"))  # 16 mmHg, and 20 hold it
    assert bleeding(MISPLACED)
    assert not bleeding(MISPLACED, (10, "traction one kilo weight"))
    assert bleeding(MISPLACED, (10, "traction one kilo weight"), (20, "traction off"))


def test_the_mark_stays_until_it_is_moved() -> None:
    course, record = case([], event("mark-slips", 100))
    assert [condition(SLOW_LEAK, course, record.played, at(s)).mark for s in (99, 101)] == [52, 48]


def test_events_wait_for_what_they_wait_for() -> None:
    assert when(played_by(MISPLACED, [], 20)) == [("arrives", 0)]
    assert when(played_by(MISPLACED, [], 100)) == [("arrives", 0), ("passed", 45), ("listened", 70)]
    air: list[Spoken] = [(80, "gastric five zero in")]
    assert when(played_by(MISPLACED, air, 110))[3:] == [("resistance", 85), ("film-wrong", 105)]
    assert when(played_by(MISPLACED, air, 200))[-1] == ("asked", 195)
    down: list[Spoken] = [*air, (120, "gastric balloon deflated")]
    assert when(played_by(MISPLACED, down, 200))[-2:] == [("readvanced", 145), ("listened-again", 165)]


def test_air_after_the_wrong_film_is_an_emergency_and_nothing_good_follows_from_it() -> None:
    said: list[Spoken] = [(80, "gastric five zero in"), (120, "gastric two five in"), (130, "both balloons deflated")]
    assert when(played_by(MISPLACED, said, 1000))[-1] == ("emergency", 125)
    out: list[Spoken] = [*said, (140, "tube out")]
    assert when(played_by(MISPLACED, out, 1000))[-1] == ("emergency-over", 150)


def test_after_its_end_nothing_more_is_played() -> None:
    course, record = case([], event("time-is-up", 10))
    assert over(MISPLACED, record)
    assert next_due(MISPLACED, course, record, at(5000)) is None


def test_nothing_is_played_before_what_it_follows_from_was_known() -> None:
    """An entry that was written down late starts its event when it was."""
    course, record = case([(80, "gastric five zero in", 300)], event("passed", 45))
    while (fact := next_due(MISPLACED, course, record, at(500))) is not None:
        record = fold([fact], record)
    assert {f.said_at for f in record.played if f.event == "resistance"} == {at(380)}


def test_an_event_for_each_entry_names_the_line_it_came_after() -> None:
    said: list[Spoken] = [(10, "oesophageal four zero in"), (60, "oesophageal one zero in")]
    shown = [(f.because, f.shows[0].value) for f in played_by(SLOW_LEAK, said, 80) if f.event == "manometer"]
    assert shown == [(1, 32), (2, 40)]


# ---- the clock -------------------------------------------------------------------------------------------------------


def test_a_steady_clock_is_the_rooms() -> None:
    assert [STEADY.case(second) for second in (0.0, 1.5, 7200.0)] == [0.0, 1.5, 7200.0]


def test_from_a_moment_of_the_case_on_a_minute_is_an_hour() -> None:
    pace = STEADY.changed(120, 60)
    assert [pace.case(second) for second in (119, 120, 121, 180)] == [119, 120, 180, 3720]
    assert [pace.speed(second) for second in (119, 121)] == [1, 60]
    slower = pace.changed(3720, 1)
    assert [slower.case(second) for second in (180, 190)] == [3720, 3730]


@given(st.lists(st.tuples(st.floats(0, 5000), st.floats(1, 240)), max_size=5), st.floats(0, 20_000), st.floats(0, 500))
def test_the_clock_never_goes_back_however_its_speed_changes(
    changes: list[tuple[float, float]], second: float, more: float
) -> None:
    pace: Pace = STEADY
    moment = 0.0
    for later, speed in changes:
        moment += later
        pace = pace.changed(moment, speed)
    assert pace.case(second + more) >= pace.case(second) - 1e-6


@pytest.mark.parametrize("seconds", [1.0, 60.0])
def test_it_is_never_slower_than_the_room(seconds: float) -> None:
    assert STEADY.changed(10, 60).case(10 + seconds) == 10 + 60 * seconds
