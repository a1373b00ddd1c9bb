"""The course of a case is followed line by line, and never differs from one that is worked out from scratch."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.facts.events import CaseOpened, EntryAmended, EntryLogged, Fact, FindingRaised
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules import Finding
from log.rules.course import check, course_of
from log.scribe.decided import with_findings
from tests.any_case import CASES, ENTRIES, Action, played
from tests.cases import BEGAN, definition
from tests.cases import opened as opened_with

PRESSURE = Entry(kind="pressure", site="oesophageal", value=35, unit="mmHg")


@cache
def procedure(name: str) -> Procedure:
    return definition(name)[0].procedure


@cache
def opened(name: str) -> CaseOpened:
    return opened_with(definition(name)[0])


def told(findings: tuple[Finding, ...] | tuple[FindingRaised, ...]) -> set[tuple[str, int | None, str, str, str]]:
    return {(f.rule, f.number, f.level, f.message, f.source) for f in findings}


@pytest.mark.slow
@given(st.sampled_from(["three-lumen", "four-lumen"]), CASES)
@example("three-lumen", [("say", n, 0, 1) for n in range(len(ENTRIES))])
@example("three-lumen", [("say", n, 0, 0) for n in range(10)] + [("move", n, 60 + n, 0) for n in range(10)])
def test_what_is_followed_is_what_is_worked_out_from_scratch(name: str, actions: list[Action]) -> None:
    """After every fact: the same record and stages, and the very findings of a full check, no more, no less."""
    of, facts = procedure(name), list[Fact]()
    for case in played(of, actions, opened(name)):
        facts += case.new
        whole = course_of(of, case.record)
        assert case.course == whole
        assert case.record == fold(facts)
        assert case.course.findings(case.now) == whole.findings(case.now)
        if case.new and not isinstance(case.new[-1], CaseOpened):
            looked = with_findings(case.course, case.record, (), case.now)
            assert told(looked.record.open_findings) == told(check(of, case.record, case.now))


@given(CASES)
def test_the_open_findings_are_always_those_of_a_full_check(actions: list[Action]) -> None:
    """Nothing has to be looked for again: what was just said has left the record with what the rules say of it."""
    of = procedure("three-lumen")
    for case in played(of, [action for action in actions if action[0] != "gap"], opened("three-lumen")):
        assert told(case.record.open_findings) == told(check(of, case.record, case.now))
        assert with_findings(case.course, case.record, (), case.now).facts == ()


@given(CASES, st.data())
def test_it_does_not_matter_how_many_facts_are_followed_at_once(actions: list[Action], data: st.DataObject) -> None:
    of = procedure("three-lumen")
    facts = [fact for case in played(of, actions, opened("three-lumen")) for fact in case.new]
    cut = data.draw(st.integers(0, len(facts)))
    before, after = fold(facts[:cut]), fold(facts)
    assert course_of(of, before).follow(before, after, facts[cut:]) == course_of(of, after)


def test_what_was_not_touched_is_not_worked_out_again() -> None:
    """The same objects: a case costs no more late than early."""
    of = procedure("three-lumen")
    facts: list[Fact] = [
        EntryLogged(
            logged_at=BEGAN + timedelta(minutes=n),
            number=n,
            entry=PRESSURE,
            said_at=BEGAN + timedelta(minutes=n),
            origin=Origin(),
        )
        for n in range(1, 101)
    ]
    record = fold(facts)
    course = course_of(of, record)
    moved = EntryAmended(
        logged_at=BEGAN + timedelta(minutes=200),
        number=98,
        entry=PRESSURE,
        said_at=BEGAN + timedelta(minutes=200),
        reason="the clock was wrong",
        origin=Origin(),
        happened_at=BEGAN + timedelta(minutes=95, seconds=30),
    )
    after = course.follow(record, fold([moved], record), [moved])
    assert [a is b for a, b in zip(after.stages, course.stages, strict=True)] == [True] * 95 + [False] * 5
    assert after.changed_since(course) == 95
    assert after.changed_since(after) == 100


def test_a_line_that_is_not_there_has_no_stage() -> None:
    record = fold([EntryLogged(logged_at=BEGAN, number=1, entry=PRESSURE, said_at=BEGAN, origin=Origin())])
    course = course_of(procedure("three-lumen"), record)
    assert course.stage(record.line(1)).line is record.line(1)
    with pytest.raises(KeyError):
        course_of(procedure("three-lumen"), fold([])).stage(record.line(1))
