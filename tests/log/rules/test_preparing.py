"""Before the tube goes in: what is missing, what is not flat, what was not marked, each at its boundary."""

from __future__ import annotations

from datetime import timedelta

import pytest

from log.rules.course import course_of
from tests import cases
from tests.log.rules.test_rules import BOTH, FOUR, READY, THREE, findings, found, record


@BOTH
@pytest.mark.parametrize(
    ("degrees", "told"), [(0, ["head_up"]), (44, ["head_up"]), (44.5, ["head_up"]), (45, []), (46, []), (90, [])]
)
def test_the_head_of_the_bed_is_up_at_least_45_degrees(name: str, degrees: float, told: list[str]) -> None:
    # P3, P5: 45; P11: at least 45; P22: or on the side: so no more than information
    assert found(name, f"head_up - {degrees}") == told
    assert {finding.level for finding in findings(name, "head_up - 30")} == {"information"}


@BOTH
def test_what_is_missing_is_reported_when_the_tube_goes_in(name: str) -> None:
    # P1, P3, P6, P10, P11
    lacking = (*READY, "kit - missing manometer", "kit - missing clamps", "kit - ready clamps")
    (told,) = [one for one in findings(name, *lacking, "tube - in") if one.rule == "kit_missing"]
    assert told.message.startswith("manometer: ")
    assert found(name, *lacking, "kit - complete", "tube - in") == []
    assert found(name, *lacking, "kit - ready manometer", "tube - in") == []


@BOTH
def test_a_leak_test_says_with_how_much(name: str) -> None:
    # P2, P3, P4, P6 differ from 50 mL to the full volume, so that no volume is wrong
    assert found(name, "leak_test gastric passed") == ["leak_test_volume_not_said"]
    assert found(name, "leak_test gastric passed@50") == []
    assert found(name, "leak_test gastric started@250", "leak_test gastric passed") == []
    assert found(name, "leak_test gastric started@250", "leak_test both passed") == ["leak_test_volume_not_said"]
    assert found(name, "leak_test gastric failed") == []


def test_how_long_a_leak_test_was_held_is_computed() -> None:
    tests = (
        "leak_test both started@250",
        "airway - secured",
        "leak_test gastric passed",
        "leak_test oesophageal failed",
    )
    made = course_of(cases.procedure(THREE), record(tests, timedelta(seconds=50))).end.situation.prepared.leak_tests
    gastric, oesophageal = made["gastric"], made["oesophageal"]
    assert (gastric.result, gastric.volume, gastric.held) == ("passed", 250, timedelta(seconds=100))
    assert (oesophageal.result, oesophageal.volume, oesophageal.held) == ("failed", 250, timedelta(seconds=150))
    anew = (*tests, "leak_test gastric started@200")
    again = course_of(cases.procedure(THREE), record(anew)).end.situation.prepared.leak_tests["gastric"]
    assert (again.result, again.volume, again.held) == ("started", 200, None)
    unsaid = course_of(cases.procedure(THREE), record(["leak_test gastric passed"])).end.situation.prepared
    assert unsaid.leak_tests["gastric"].held is None


@BOTH
@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ((), []),
        (("volume_in gastric 5",), ["air_at_insertion"]),
        (("volume_in gastric 50", "volume_out gastric 49"), ["air_at_insertion"]),
        (("volume_in gastric 50", "volume_out gastric 50"), []),
        (("balloon oesophageal up",), ["air_at_insertion"]),
        (("balloon both up", "balloon gastric down"), ["air_at_insertion"]),
        (("balloon both up", "balloon both down"), []),
        (("leak_test gastric started@250", "leak_test gastric passed"), ["air_at_insertion"]),
        (("leak_test gastric started@250", "leak_test gastric passed", "balloon gastric down"), []),
        (("leak_test gastric started@250", "leak_test gastric passed", "volume_out gastric 250"), []),
    ],
)
def test_no_air_is_in_a_balloon_when_the_tube_goes_in(name: str, lines: tuple[str, ...], told: list[str]) -> None:
    # P1, P2, P3, P4, P8, P23: fully deflated before passage
    assert found(name, *READY, *lines, "tube - in") == told


def test_the_companion_tube_has_a_mark_for_each_balloon() -> None:
    # P1 (two marks), P3; common practice, no source, for 2 cm above each
    ready = tuple(line for line in READY if not line.startswith("companion"))
    (told,) = [one for one in findings(THREE, *ready, "tube - in") if one.rule == "companion_not_marked"]
    assert told.message.startswith("mark for the gastric and oesophageal balloon, 2 cm above it (P3: 2 cm, P1: 3 cm): ")
    assert found(THREE, *ready, "companion gastric marked", "tube - in") == ["companion_not_marked"]
    assert found(THREE, *ready, "companion gastric marked", "companion oesophageal marked", "tube - in") == []
    assert found(FOUR, *ready, "tube - in") == [], "it drains the oesophagus itself"
