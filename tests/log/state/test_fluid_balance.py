"""What came out, what was given and the vital signs, added up: only what stands, by port, by name, and over time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given as given_that
from hypothesis import strategies as st

from log.basics.entry import Entry
from log.facts.events import Fact
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.rules.course import Course, course_of
from log.scribe.decide import Heard, decide
from log.state import fluid_balance as balance
from log.state.fluid_balance import THIN, PortBalance, balances, doses, infusions, rate, vitals
from log.words.totals import led_to, rate_in_words
from tests.cases import phrases
from voice.meaning.matcher import Listening, understand

BEGAN = datetime(2026, 10, 4, 14, 0, tzinfo=UTC)


def case(*said: tuple[float, str]) -> tuple[Course, Record]:
    """What follows when these words are said, each so many minutes after the beginning."""
    procedure, facts = phrases().procedure, list[Fact]()
    for minute, words in said:
        at, record = BEGAN + timedelta(minutes=minute), fold(facts)
        meaning = understand(phrases(), words, Listening(question_open=record.open_question is not None))
        facts += decide(course_of(procedure, record), record, Heard(meaning, at, at, Origin(heard=words))).facts
    record = fold(facts)
    return course_of(procedure, record), record


def port_of(course: Course, port: str, minute: float) -> PortBalance:
    known = balances(course.procedure, course.steps, BEGAN + timedelta(minutes=minute))
    (found,) = (one for one in known if one.port == port)
    return found


# ---- by port ---------------------------------------------------------------------------------------------------------


def test_each_port_has_a_balance_of_its_own() -> None:
    course, _ = case(
        (0, "gastric aspirate four zero zero of blood"),
        (1, "companion aspirate four five"),
        (2, "aspirate three zero"),
        (3, "gastric lavage two five zero in"),
        (4, "gastric lavage two zero zero out"),
        (5, "gastric aspirate two five zero"),
        (6, "lavage one zero zero in"),
    )
    net = {b.port: (*b.sums.values(), b.net) for b in balances(course.procedure, course.steps, BEGAN)}
    assert net == {
        "gastric": (650, 250, 200, 600),
        "companion": (45, 0, 0, 45),
        "": (30, 100, 0, -70),
    }
    assert [led_to(course.procedure, step) for step in course.steps] == [
        "gastric port 400 mL in all",
        "companion port 45 mL in all",
        "port not said 30 mL in all",
        "gastric port: lavage balance +250 mL",
        "gastric port: lavage balance +50 mL",
        "gastric port 650 mL in all",
        "lavage balance +150 mL",
    ]


def test_what_is_struck_asked_or_corrected_counts_as_it_stands_now() -> None:
    course, record = case(
        (0, "gastric aspirate four zero zero"),
        (1, "scratch that"),
        (2, "gastric aspirate fifty"),
        (3, "gastric aspirate one zero zero"),
        (4, "correct that to one two zero"),
    )
    assert [line.status for line in record.lines] == ["struck", "asked", "stands"]
    assert port_of(course, "gastric", 5).net == 120


def test_how_the_aspirate_looks_stands_beside_its_port() -> None:
    course, _ = case(
        (0, "gastric aspirate five zero"), (1, "gastric aspirate fresh blood"), (2, "gastric aspirate clearing")
    )
    looked = port_of(course, "gastric", 3).appearance
    assert looked is not None and looked.entry.value == "clearing"


# ---- over time -------------------------------------------------------------------------------------------------------


WORKED = ((0, "gastric aspirate one two zero"), (30, "gastric aspirate six zero"), (90, "gastric aspirate nine zero"))


def test_the_rate_is_weighted_by_time_as_worked_out_by_hand() -> None:
    """At 1:45: since the first, 60 + 90 mL in 90 min are 100 mL/h. Of the last hour, 0:45 to 1:30 are covered; the
    90 mL came in 60 min, so 67.5 of them in those 45 min, which are 90 mL/h."""
    course, _ = case(*WORKED)
    found = port_of(course, "gastric", 105)
    assert (found.since_first.per_hour, found.since_first.over) == (100, timedelta(minutes=90))
    assert (found.last_hour.per_hour, found.last_hour.over) == (90, timedelta(minutes=45))
    assert rate_in_words(found.last_hour) == "90 mL/h (over 45 min)"


def test_lavage_that_went_in_is_no_bleeding() -> None:
    """Of 250 + 90 mL that came out in the half hour, 250 had been put in: 90 mL in 30 min are 180 mL/h."""
    course, _ = case(
        (0, "gastric aspirate one two zero"),
        (10, "gastric lavage two five zero in"),
        (20, "gastric lavage two five zero out"),
        (30, "gastric aspirate nine zero"),
    )
    assert port_of(course, "gastric", 30).since_first.per_hour == 180


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (((0, "gastric aspirate one two zero"),), "too thin for a rate: entries cover 0 min"),
        (
            ((0, "gastric aspirate one two zero"), (14.9, "gastric aspirate six zero")),
            "too thin for a rate: entries cover 14 min",
        ),
        (((0, "gastric aspirate one two zero"), (15, "gastric aspirate six zero")), "240 mL/h (over 15 min)"),
    ],
)
def test_too_little_makes_no_rate(said: tuple[tuple[float, str], ...], why: str) -> None:
    assert rate_in_words(port_of(case(*said)[0], "gastric", 20).since_first) == why


def test_an_hour_in_which_nothing_was_said_has_no_rate() -> None:
    assert port_of(case(*WORKED)[0], "gastric", 200).last_hour.per_hour is None


amounts = st.lists(st.tuples(st.integers(0, 30), st.integers(1, 999)), min_size=2, max_size=12)


@given_that(amounts)
def test_over_all_the_time_the_rate_is_what_came_out_after_the_first_moment_by_that_time(
    said: list[tuple[int, int]],
) -> None:
    minute, lines = 0, list[Line]()
    for later, amount in said:
        minute += later
        lines.append(_aspirate(minute, amount))
    found = rate(lines, frozenset(), None, lines[-1].said_at)
    hours = (lines[-1].said_at - lines[0].said_at) / timedelta(hours=1)
    after = sum(line.entry.number or 0 for line in lines if line.said_at > lines[0].said_at)
    assert (found.per_hour is None) == (found.over < THIN)
    if found.per_hour is not None:
        assert found.per_hour == pytest.approx(after / hours, abs=0.51)  # it is shown to a whole mL/h


def _aspirate(minute: float, amount: int) -> Line:
    at = BEGAN + timedelta(minutes=minute)
    return Line(1, "stands", Entry(kind="aspirate", site="gastric", value=amount, unit="mL"), at, at, Origin())


# ---- what was given --------------------------------------------------------------------------------------------------


def test_products_and_fluids_are_added_up_by_name() -> None:
    course, _ = case(
        (0, "red cells two units in"),
        (1, "plasma four units given"),
        (2, "two units of red cells in"),
        (3, "saline five zero zero mils in"),
        (4, "crystalloid two five zero mils given"),
        (5, "saline two five zero mils in"),
    )
    steps, end = course.steps, course.end.situation
    found = balance.given(course.procedure, steps, end)
    assert [(one.kind, one.name, one.amount, one.unit, one.times) for one in found] == [
        ("blood_product", "red cells", 4, "unit", 2),
        ("blood_product", "plasma", 4, "unit", 1),
        ("fluid", "saline", 750, "mL", 2),
        ("fluid", "balanced crystalloid", 250, "mL", 1),
    ]
    assert led_to(course.procedure, steps[2]) == "red cells 4 units in all"
    assert led_to(course.procedure, steps[5]) == "saline 750 mL in all"


def test_a_correction_changes_every_total_after_it() -> None:
    course, _ = case((0, "red cells two units in"), (1, "scratch that"), (2, "red cells one unit in"))
    assert led_to(course.procedure, course.steps[-1]) == "red cells 1 unit in all"


def test_drugs_are_a_list_and_never_a_sum() -> None:
    course, _ = case(
        (0, "terlipressin two milligrams"),
        (1, "fentanyl five zero micrograms"),
        (2, "fentanyl five zero micrograms"),
        (3, "noradrenaline infusion started"),
        (4, "calcium given"),
        (9, "noradrenaline infusion stopped"),
        (10, "propofol infusion running"),
        (11, "propofol infusion running"),
        (12, "octreotide infusion stopped"),
    )
    assert [(d.entry.detail, d.entry.value, d.entry.unit) for d in doses(course.steps)] == [
        ("terlipressin", 2, "mg"),
        ("fentanyl", 50, "microgram"),
        ("fentanyl", 50, "microgram"),
        ("calcium", "given", None),
    ]
    assert all(not led_to(course.procedure, step) for step in course.steps)
    ran = [(i.name, i.started and i.started.number, i.stopped and i.stopped.number) for i in infusions(course.steps)]
    assert ran == [("noradrenaline", 4, 6), ("propofol", 7, None), ("octreotide", None, 9)]


def test_vital_signs_have_a_last_a_first_and_a_worst() -> None:
    course, _ = case(
        (0, "blood pressure nine eight over five eight"),
        (1, "heart rate one one eight"),
        (5, "blood pressure seven eight over four four"),
        (6, "heart rate one three two"),
        (9, "blood pressure one zero five over six two"),
        (9, "heart rate nine eight"),
    )
    pressure, pulse = vitals(course.procedure, course.steps)
    assert (pressure.first.entry.value, pressure.last.entry.value, pressure.last.entry.second) == (98, 105, 62)
    assert [line.entry.value for line in pressure.worst] == [78]
    assert [line.entry.value for line in pulse.worst] == [98, 132]
