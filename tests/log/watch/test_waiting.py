"""What was begun and waits: each is shown once it has waited for too long, and no longer once it has come."""

from __future__ import annotations

import pytest

from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules.course import course_of
from log.watch.due import watch
from tests import cases
from tests.log.rules.test_rules import THREE, entry
from tests.log.watched import at

PLACED = ("tube - in", "depth lips 55", "position_check - passed")


def waits(minutes: float, *entries: str) -> set[str]:
    """What waits so many minutes after these entries, all of one moment."""
    lines = tuple(
        Line(number, "stands", entry(text), at(0), at(0), Origin())
        for number, text in enumerate((*PLACED, *entries), start=1)
    )
    procedure = cases.procedure(THREE)
    plan = procedure.watch
    assert plan is not None and plan.waiting is not None
    found = watch(course_of(procedure, Record(lines=lines)), at(minutes / 60))
    return {item.id for item in found.items} & {one.id for one in plan.waiting}


AIR, READ = "volume_in gastric 50", "pressure gastric 12"


@pytest.mark.parametrize(
    ("name", "after", "begun", "ended"),
    [
        ("film-missing", 20, (AIR,), "xray - requested"),
        ("film-not-taken", 30, (AIR, "xray - requested"), "xray - taken"),
        ("film-not-read", 30, (AIR, "xray - taken"), "xray - confirmed"),
        ("no-traction", 60, (AIR,), "traction - 1 weight"),
        ("no-mark", 15, (AIR, "traction - 1 weight"), "depth lips 52"),
        ("gastric-never-read", 60, (AIR,), READ),
        ("emergency-open", 2, (AIR, "emergency - airway"), "emergency - over"),
    ],
)
def test_it_is_shown_after_its_time_and_until_it_has_come(
    name: str, after: float, begun: tuple[str, ...], ended: str
) -> None:
    assert name not in waits(after - 0.01, *begun)
    assert name in waits(after, *begun)
    assert name not in waits(after, *begun, ended)
    assert name not in waits(after, *begun, "tube - out")


def test_air_for_ten_hours_with_nothing_else_fills_the_watch() -> None:
    found = waits(600, AIR)
    assert found == {"film-missing", "no-traction", "gastric-never-read"}


def test_a_balloon_that_is_down_waits_for_nothing() -> None:
    assert waits(600, AIR, "balloon gastric down") == set()


def test_topping_up_and_reading_the_traction_again_begin_nothing() -> None:
    placed = (AIR, "xray - confirmed", AIR, READ, "traction - 1 weight", "depth lips 52")
    assert waits(600, *placed) == set()
    assert waits(600, *placed, AIR, "traction - 1 weight") == set()
    assert waits(600, *placed, "balloon gastric down", AIR) == {"film-missing", "no-traction", "gastric-never-read"}


def test_what_comes_twice_is_waited_for_since_the_first_time() -> None:
    assert "film-not-taken" in waits(30, AIR, "xray - requested", "xray - requested")
    assert "film-not-taken" in waits(30, AIR, "xray - confirmed", "xray - requested"), "a further film"
