"""The invented case of a whole day, as the team takes it away: what is heard and done in `whole-day.txt`, exported.

Its golden files lie in tests/log/golden. After a wanted change of the shipped definitions or of the exports:

    TAMPONADE_GOLDEN=write pytest tests/scenarios/test_whole_day.py

and read the difference.
"""

from __future__ import annotations

import os
from datetime import timedelta

import pytest

from log.exports import FORMATS
from log.exports.csv_table import harmless
from log.exports.markdown import escaped
from log.facts.events import CaseClosed, Fact, FindingRaised
from log.facts.record import fold
from log.rules.course import course_of
from log.summaries.whole import Whole
from log.watch.due import watch
from tests.cases import opened, whole_of
from tests.scenarios.reading import BEGAN, HERE, in_force_in, play, read_scenario

GOLDEN = HERE.parent / "log" / "golden"
NAME = "whole-day"
TABLES = ("note", "csv", "audit", "jsonl")
SCENARIO = read_scenario(HERE / f"{NAME}.txt")


@pytest.fixture(scope="module")
def facts() -> list[Fact]:
    """All that was written down on that day."""
    first = opened(in_force_in(SCENARIO), logged_at=BEGAN, case=NAME, software="tamponade-log")
    played = list(play(SCENARIO, fold([first])))
    closed = CaseClosed(logged_at=played[-1][-1] + timedelta(minutes=1), reason="ended by the scribe")
    return [first, *(fact for _, facts, _, _ in played for fact in facts), closed]


@pytest.fixture(scope="module")
def day(facts: list[Fact]) -> Whole:
    """The case of that day."""
    return whole_of(facts)


@pytest.mark.parametrize("name", TABLES)
def test_the_whole_day_is_written_as_its_golden_file_shows(name: str, day: Whole) -> None:
    path = GOLDEN / f"{NAME}{FORMATS[name].suffix}"
    text = FORMATS[name].write(day)
    assert isinstance(text, str)
    if os.environ.get("TAMPONADE_GOLDEN") == "write":
        path.write_bytes(text.encode())
    assert text == path.read_bytes().decode()


def test_every_finding_of_the_day_is_in_the_note_and_in_the_trail(day: Whole, facts: list[Fact]) -> None:
    raised = [fact for fact in facts if isinstance(fact, FindingRaised)]
    expected = [one.split()[2] for line in SCENARIO.lines for one in line.expected if one.startswith("! ")]
    assert sorted(fact.rule for fact in raised) == sorted(expected)
    note, trail = FORMATS["note"].write(day), FORMATS["audit"].write(day)
    assert isinstance(note, str) and isinstance(trail, str)
    for fact in raised:
        assert escaped(fact.message) in note, fact.rule
        assert harmless(fact.message) in trail.replace('""', '"'), fact.rule
    for reason in ("it lay in the other drawer", "read from the paper sheet", "not said in the room"):
        assert reason in note and reason in trail


@pytest.mark.parametrize(
    ("hours", "overdue"),
    [
        (2.6, set()),
        (6, {"traction", "mark", "bleeding"}),  # every pressure was read, and the skin looked at
        (12.5, {"traction", "mark", "skin", "since-oesophageal-pressure-check-1h", "since-gastric-inflation-12h"}),
        (23.5, set()),  # the tube is out
    ],
)
def test_what_is_overdue_in_the_hours_after(hours: float, overdue: set[str], facts: list[Fact]) -> None:
    course = course_of(in_force_in(SCENARIO).procedure, fold(facts))
    found = watch(course, BEGAN + timedelta(hours=hours))
    assert {item.id for item in found.items if item.when == "overdue"} == overdue
