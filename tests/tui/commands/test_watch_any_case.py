"""Whatever a room can make of a case, the watch, the transfer and the calendar have a page for it at any moment."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.definition.load import in_force
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.exports.calendar import calendar
from log.exports.watch_json import plain
from log.facts.record import fold
from log.rules.course import Course, course_of
from log.rules.definitions import read_procedure
from log.transfer.altitude import cabin
from log.transfer.cabin import from_case
from log.watch.due import Watch, watch
from log.watch.item import ORDER
from tests.any_case import CASES, Action, facts_played
from tests.cases import BEGAN, definition, opened
from tests.log.watched import pressures, watched
from tui.views.watch_page import page


def with_deflation() -> Procedure:
    override = Override.model_validate(
        {
            "procedure": "three-lumen",
            "approved_by": "tamponade group",
            "approved_on": date(2026, 3, 1),
            "watch": {"deflation": {"every_h": 6, "for_min": 5}},
        }
    )
    return in_force(read_procedure("three-lumen"), override).procedure


PROCEDURES = {
    "three-lumen": definition()[0].procedure,
    "four-lumen": definition("four-lumen")[0].procedure,
    "with deflation": with_deflation(),
}


def looks_whole(procedure: Procedure, course: Course, now: datetime) -> Watch:
    found = watch(course, now)
    keys = [(ORDER.index(item.when), item.due_at) for item in found.items]
    assert keys == sorted(keys)
    assert len({item.id for item in found.items}) == len(keys)
    for item in found.items:
        assert (item.due_at > now) == (item.when == "next") or item.id.endswith("-leaving")
    for trend in found.trends:
        assert trend.leaving is None or (not trend.doubt and now <= trend.leaving.earliest <= trend.leaving.latest)
    json.dumps(plain(procedure, "case", found))
    assert all(len(line) <= 80 for line in page(procedure, "case", found, {}))
    return found


@given(st.sampled_from(sorted(PROCEDURES)), CASES, st.floats(0, 60), st.floats(0, 36_000))
def test_any_case_has_a_page(name: str, actions: list[Action], hours: float, feet: float) -> None:
    procedure, began = PROCEDURES[name], opened()
    course = course_of(procedure, fold(facts_played(procedure, actions, began)))
    now = BEGAN + timedelta(hours=hours)
    looks_whole(procedure, course, now)
    from_case(cabin(feet), procedure, course.end.situation)


@pytest.mark.slow
@given(
    st.sampled_from(sorted(PROCEDURES)),
    st.lists(st.integers(20, 50), max_size=12),
    st.floats(0.05, 3),
    st.booleans(),
    st.floats(0, 40),
)
def test_any_row_of_pressures_has_a_page_and_a_calendar(
    name: str, values: list[int], every_h: float, controlled: bool, hours: float
) -> None:
    procedure = PROCEDURES[name]
    stopped = ((0.5, "bleeding - stopped"),) if controlled else ()
    said = ((0.1, "volume_in oesophageal 60"), *stopped, *pressures(*values, every_h=every_h))
    course = watched(*said, procedure=procedure)
    first = course.stages[0].line.said_at
    found = looks_whole(procedure, course, first + timedelta(hours=hours))
    import icalendar  # not at collection: it takes a while

    events = icalendar.Calendar.from_ical(calendar(procedure, "case", found)).walk("VEVENT")
    assert len(events) >= len(found.items)
    assert len({str(event["uid"]) for event in events}) == len(events)


@pytest.mark.parametrize("hours", [1.0, 11.99, 12.0, 12.2, 24.0, 24.5])
def test_what_the_clocks_find_is_due_here_too(hours: float) -> None:
    course = watched((0.0, "volume_in oesophageal 60"), (0.0, "pressure oesophageal 40"))
    now = course.stages[0].line.said_at + timedelta(hours=hours)
    reached = {item.id for item in watch(course, now).items if item.when != "next"}
    latest = {finding.rule for finding in course.due(now)}
    latest -= {rule.replace("24h", "12h") for rule in latest if rule.endswith("24h")}  # the later moment says it
    assert latest <= reached
