"""The step-down of the oesophageal pressure against the check values of the reference sheet (1.15, P22)."""

from __future__ import annotations

import pytest

from log.watch.step_down import MOST, Progress, progress, schedule
from tests.cases import procedure
from tests.log.rules.test_rules import BEGAN, FOUR, THREE
from tests.log.watched import Said, at, watched

PLANS = {name: procedure(name).watch for name in (THREE, FOUR)}
PLAN = PLANS[THREE]
assert PLAN is not None
assert PLAN.step_down is not None
RULE = PLAN.step_down


@pytest.mark.parametrize("name", [THREE, FOUR])
def test_the_numbers_are_those_of_the_reference_sheet(name: str) -> None:
    # P22: reduce by 5 mmHg every 3 h to 25 mmHg
    plan = PLANS[name]
    assert plan is not None
    assert plan.step_down is not None
    assert (plan.step_down.step_mmhg, plan.step_down.every_h, plan.step_down.down_to_mmhg) == (5, 3, 25)
    assert (plan.step_down.tag, plan.step_down.source) == ("published", ("P22",))


@pytest.mark.parametrize(
    ("start", "levels"),
    [
        # reference 1.15: 45 is 4 steps, 40 is 3 (9 h), 35 is 2 (6 h), 30 is 1 (3 h), 25 and less none
        (45, [40, 35, 30, 25]),
        (40, [35, 30, 25]),
        (35, [30, 25]),
        (30, [25]),
        (25, []),
        (24, []),
        (0, []),
        # derived: the last step is smaller where 5 mmHg would lead below the floor
        (26, [25]),
        (31, [26, 25]),
        (42.5, [37.5, 32.5, 27.5, 25]),
    ],
)
def test_the_steps_from_a_pressure(start: float, levels: list[float]) -> None:
    found = schedule(RULE, start, BEGAN)
    assert [step.mmhg for step in found] == levels
    assert [step.due_at for step in found] == [at(3 * (i + 1)) for i in range(len(levels))]


def test_a_pressure_that_no_manometer_reads_ends_somewhere() -> None:
    assert len(schedule(RULE, 10**9, BEGAN)) == MOST


UP: tuple[Said, ...] = ((0.1, "volume_in oesophageal 60"), (0.2, "pressure oesophageal 40"))
STOPPED: Said = (1, "bleeding - stopped")


def after(*said: Said) -> Progress:
    return progress(RULE, "oesophageal", watched(*UP, *said).steps)


def test_it_begins_when_bleeding_is_controlled() -> None:
    assert after().state == "bleeding not controlled"
    found = after(STOPPED)
    assert (found.state, found.since, found.start_mmhg) == ("running", at(1), 40)
    assert [(step.mmhg, step.due_at) for step in found.coming] == [(35, at(4)), (30, at(7)), (25, at(10))]


def test_without_a_reading_it_waits_for_one() -> None:
    lines = watched((0.1, "volume_in oesophageal 60"), STOPPED)
    assert progress(RULE, "oesophageal", lines.steps).state == "no reading"
    lines = watched((0.1, "volume_in oesophageal 60"), STOPPED, (2, "pressure oesophageal 35"))
    found = progress(RULE, "oesophageal", lines.steps)
    assert (found.state, found.since) == ("running", at(2))


def test_before_the_balloon_is_up_there_is_nothing_to_step_down() -> None:
    assert progress(RULE, "oesophageal", watched().steps).state == "not up"
    assert after(STOPPED, (2, "balloon oesophageal down")).state == "not up"


@pytest.mark.parametrize(("reading", "done"), [(34, [35]), (35, [35]), (35.5, []), (36, [])])
def test_a_step_is_done_when_the_manometer_shows_it(reading: float, done: list[float]) -> None:
    found = after(STOPPED, (4, f"pressure oesophageal {reading:g}"))
    assert [step.mmhg for step in found.done] == done


def test_steps_on_time_follow_the_schedule_to_its_end() -> None:
    said = ((4, "pressure oesophageal 35"), (7, "pressure oesophageal 30"), (10, "pressure oesophageal 25"))
    assert [step.due_at for step in after(STOPPED, *said[:1]).coming] == [at(7), at(10)]
    found = after(STOPPED, *said)
    assert (found.state, found.coming) == ("finished", ())
    assert [(step.mmhg, step.at, step.early) for step in found.done] == [
        (35, at(4), False),
        (30, at(7), False),
        (25, at(10), False),
    ]


@pytest.mark.parametrize(("hour", "early"), [(3.9, True), (4, False), (4.1, False)])
def test_a_step_before_its_time_is_said_to_be_early(hour: float, early: bool) -> None:
    assert after(STOPPED, (hour, "pressure oesophageal 35")).done[0].early == early


def test_the_next_step_counts_from_the_one_before() -> None:
    found = after(STOPPED, (6, "pressure oesophageal 35"))
    assert [(step.mmhg, step.due_at) for step in found.coming] == [(30, at(9)), (25, at(12))]


def test_a_reading_can_show_several_steps() -> None:
    found = after(STOPPED, (4, "pressure oesophageal 30"))
    assert [step.mmhg for step in found.done] == [35, 30]
    assert [(step.mmhg, step.due_at) for step in found.coming] == [(25, at(7))]


@pytest.mark.parametrize(("reading", "anew"), [(39, False), (40, True), (41, True)])
def test_back_at_the_step_before_it_begins_anew(reading: int, anew: bool) -> None:
    found = after(STOPPED, (4, "pressure oesophageal 35"), (5, f"pressure oesophageal {reading}"))
    assert (found.since == at(5)) == anew
    assert bool(found.done) != anew


def test_bleeding_again_ends_it_and_control_begins_it_anew() -> None:
    bled = (STOPPED, (4, "pressure oesophageal 35"), (5, "bleeding - continuing"), (5.5, "pressure oesophageal 45"))
    assert after(*bled).state == "bleeding not controlled"
    found = after(*bled, (6, "bleeding - stopped"))
    assert (found.since, found.start_mmhg, len(found.coming)) == (at(6), 45, 4)


def test_air_put_in_waits_for_the_next_reading() -> None:
    filled = (STOPPED, (4, "pressure oesophageal 35"), (4.5, "volume_in oesophageal 5"))
    assert after(*filled).state == "no reading"
    assert after(*filled, (5, "pressure oesophageal 38")).since == at(5)


def test_at_the_floor_there_is_nothing_left_to_do() -> None:
    found = after((0.5, "pressure oesophageal 25"), STOPPED)
    assert (found.state, found.coming) == ("finished", ())
