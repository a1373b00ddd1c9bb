"""What an override comes to: looser or stricter, at and beside every bound, and what is to be mended."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from log.definition.local_changes import LOUD, Change, changes, doubts, unchanged
from log.definition.override import Override
from log.rules.definitions import read_procedure
from tests.cases import procedure

THREE = procedure()
TODAY = date(2026, 11, 26)


def local(**told: Any) -> Override:
    head = {"procedure": "three-lumen", "approved_by": "unit", "approved_on": "2026-03-01", "reason": "r"}
    return Override.model_validate({**head, **told})


def only(**told: Any) -> Change:
    (change,) = changes(THREE, local(**told))
    return change


@pytest.mark.parametrize(
    ("name", "bounds", "direction"),
    [
        ("oesophageal_ceiling", {"max": 44.9}, "stricter"),
        ("oesophageal_ceiling", {"max": 45}, "as shipped"),
        ("oesophageal_ceiling", {"max": 45.1}, "looser"),
        ("insertion_depth", {"min": 51}, "stricter"),
        ("insertion_depth", {"min": 50}, "as shipped"),
        ("insertion_depth", {"min": 49}, "looser"),
        ("insertion_depth", {"max": 70}, "stricter"),
        ("gastric_volume", {"min": 210, "max": 350}, "looser and stricter"),
        ("gastric_volume", {"min": 190, "max": 350}, "looser"),
        ("gastric_volume", {"min": 210, "max": 290}, "stricter"),
        ("gastric_volume", {"level": "high"}, "stricter"),
        ("gastric_volume", {"level": "medium"}, "as shipped"),
        ("gastric_volume", {"level": "low"}, "looser"),
        ("gastric_volume", {"max": 290, "level": "low"}, "looser and stricter"),
    ],
)
def test_which_way_a_limit_goes(name: str, bounds: dict[str, Any], direction: str) -> None:
    assert only(limits={name: bounds}).direction == direction


def test_a_change_shows_what_was_shipped_with_its_source() -> None:
    change = only(limits={"oesophageal_ceiling": {"max": 40, "level": "medium"}})
    assert change.path == "limits.oesophageal_ceiling"
    assert (change.shipped, change.local) == ("at most 45 mmHg, high", "at most 40 mmHg, medium")
    assert change.standing == f"[published: {', '.join(THREE.limits['oesophageal_ceiling'].source)}]"


@pytest.mark.parametrize(("every_h", "direction"), [(0.5, "stricter"), (1, "as shipped"), (1.5, "looser")])
def test_looking_less_often_is_looser(every_h: float, direction: str) -> None:
    assert only(watch={"checks": {"traction": {"every_h": every_h}}}).direction == direction


def test_a_step_down_is_only_called_changed_and_a_deflation_set() -> None:
    assert only(watch={"step_down": {"down_to_mmhg": 20}}).direction == "changed"
    assert only(watch={"step_down": {"down_to_mmhg": 25}}).direction == "as shipped"
    change = only(watch={"deflation": {"every_h": 6, "for_min": 5}})
    assert (change.direction, change.local) == ("set", "every 6 h for 5 min")


def test_a_step_that_is_left_out_is_loud() -> None:
    change = only(leave_out=["oesophageal-leak-test"])
    assert change.direction == "left out"
    assert change.direction in LOUD
    assert change.standing == "[published: P1, P2, P3, P6]"


def test_steps_of_a_sites_own() -> None:
    old = next(step for step in THREE.milestone if step.id == "depth").model_dump(mode="json")
    assert only(milestone=[old]).direction == "as shipped"
    assert only(milestone=[{**old, "tag": "local", "source": []}]).direction == "as shipped"
    assert only(milestone=[{**old, "prompted": False}]).direction == "looser"
    changed = only(milestone=[{**old, "done": [{"kind": "tube"}]}])
    assert changed.direction == "changed"
    assert "differs in done" in changed.local
    assert only(milestone=[{**old, "id": "new"}]).shipped == "no such step"


def test_what_stays_as_shipped() -> None:
    kept = unchanged(THREE, local(limits={"oesophageal_ceiling": {"max": 40}}))
    assert set(kept) == set(THREE.limits) - {"oesophageal_ceiling"}


@pytest.mark.parametrize(
    ("told", "found"),
    [
        ({"approved_on": "2026-11-26"}, []),
        ({"approved_on": "2026-11-27"}, ["approved_on"]),
        ({"reason": " "}, ["reason"]),
        ({"limits": {"mark_migration": {"max": 2.5}}}, ["limits.mark_migration"]),
        ({"limits": {"oesophageal_ceiling": {"max": 45.5}}}, []),
        ({"limits": {"oesophageal_ceiling": {"max": 44}}}, ["limits.oesophageal_pressure"]),
        ({"limits": {"oesophageal_ceiling": {"max": 44}, "oesophageal_pressure": {"max": 44}}}, []),
        ({"watch": {"step_down": {"down_to_mmhg": 46}}}, ["watch.step_down.down_to_mmhg"]),
    ],
)
def test_what_is_to_be_mended(told: dict[str, Any], found: list[str]) -> None:
    base = {} if "limits" in told or "watch" in told else {"limits": {"mark_migration": {"max": 2}}}
    assert [path for path, _ in doubts(THREE, local(**base, **told), TODAY)] == found


def test_what_a_site_still_has_to_set_is_to_be_mended() -> None:
    child = read_procedure("three-lumen-child")
    override = local(procedure="three-lumen-child", limits={"traction_mass": {"max": 0.3}})
    (change,) = changes(child, override)
    assert (change.direction, change.shipped, change.standing) == (
        "set",
        "not set: your site has to",
        "[published: P8]",
    )
    open_still = dict(doubts(child, override, TODAY))
    assert set(open_still) == {f"limits.{name}" for name in child.limits} - {"limits.traction_mass"}
    assert "write min and max (mmHg)" in open_still["limits.oesophageal_pressure"]
    assert unchanged(child, override) == ()
