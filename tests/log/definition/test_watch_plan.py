"""What a definition may say of the watch, and what a site may set."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from pydantic import ValidationError

from log.basics.ahead import LAST, later
from log.basics.patterns import Pattern
from log.definition.check import problems
from log.definition.load import in_force, shipped
from log.definition.override import Override, misfits
from log.definition.procedure import Procedure
from log.definition.watch_plan import Deflation, Observe, OverrideWatch, WatchPlan, localised
from log.rules import READS
from log.rules.definitions import read_procedure
from tests.log.rules.test_rules import THREE


def override(**watch: object) -> Override:
    about = {"procedure": THREE, "approved_by": "the group", "approved_on": date(2026, 3, 1)}
    return Override.model_validate({**about, "watch": watch})


def plan(procedure: Procedure) -> WatchPlan:
    assert procedure.watch is not None
    return procedure.watch


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_plan_hangs_together_and_sets_no_deflation(name: str) -> None:
    procedure = read_procedure(name)
    assert list(problems(procedure, READS)) == []
    assert plan(procedure).deflation is None  # reference 1.16: it must not be chosen silently


@pytest.mark.parametrize("tag", ["published", "from memory", "common practice", "derived"])
def test_nobody_but_the_site_sets_a_deflation(tag: str) -> None:
    with pytest.raises(ValidationError, match="has to be tagged"):
        Deflation.model_validate({"tag": tag, "source": ("P15",), "every_h": 2, "for_min": 5})


def test_what_the_site_sets_is_in_force_and_tagged_so() -> None:
    own = override(
        checks={"traction": {"every_h": 2}},
        step_down={"every_h": 2, "down_to_mmhg": 20},
        deflation={"every_h": 6, "for_min": 5},
    )
    assert list(misfits(own, read_procedure(THREE))) == []
    found = plan(in_force(read_procedure(THREE), own).procedure)
    checks = {check.id: check for check in found.check}
    assert (checks["traction"].every_h, checks["traction"].tag) == (2, "local")
    assert (checks["mark"].every_h, checks["mark"].tag) == (1, "common practice")
    assert found.step_down is not None
    assert (found.step_down.step_mmhg, found.step_down.every_h, found.step_down.down_to_mmhg) == (5, 2, 20)
    assert found.step_down.source == ("local",)
    assert found.deflation is not None
    assert (found.deflation.every_h, found.deflation.for_min, found.deflation.tag) == (6, 5, "local")


def test_what_only_a_site_can_choose_becomes_a_check_of_its_own() -> None:
    shipped = plan(read_procedure(THREE))
    assert [one.id for one in shipped.chosen] == ["vital"], "P13: every 5 min to 1 h, so that nothing is shipped"
    assert shipped.observe is None
    found = localised(shipped, override(checks={"vital": {"every_h": 0.25}}, observe_h=2).watch or OverrideWatch())
    (check,) = [one for one in found.check if one.id == "vital"]
    assert (check.every_h, check.tag, check.source) == (0.25, "local", ("local",))
    assert found.chosen == ()
    assert found.observe is not None
    assert (found.observe.least_h, found.observe.tag) == (2, "local")


def test_a_time_to_look_is_only_ever_a_choice_of_the_site() -> None:
    with pytest.raises(ValidationError, match='has to be tagged "local"'):
        Observe(least_h=12, tag="published", source=("P1",))


def test_a_watch_alone_is_enough_for_an_override() -> None:
    assert list(misfits(override(), read_procedure(THREE))) == []


def test_what_does_not_fit_is_named() -> None:
    (found,) = misfits(override(checks={"tractoin": {"every_h": 2}}), read_procedure(THREE))
    assert found == (
        "watch.checks.tractoin",
        "not a check of the definition; there are traction, mark, skin, daily-x-ray, bleeding, vital",
    )
    without = read_procedure(THREE).model_copy(update={"watch": None})
    assert ("watch", "the definition has no watch that could be changed") in misfits(override(), without)
    stepless = plan(read_procedure(THREE)).model_copy(update={"step_down": None})
    procedure = read_procedure(THREE).model_copy(update={"watch": stepless})
    assert ("watch.step_down", "the definition has no step-down that could be changed") in misfits(
        override(step_down={}), procedure
    )


@pytest.mark.parametrize(
    "watch",
    [
        {"checks": {"traction": {"every_h": 0}}},
        {"checks": {"traction": {"every_h": 10_001}}},
        {"step_down": {"step_mmhg": 0.9}},
        {"deflation": {"every_h": 6}},
        {"deflation": {"every_h": 6, "for_min": 0}},
        {"deflation": {"every_h": 6, "for_min": 1441}},
        {"checks": {"traction": {"often": 1}}},
        {"observe_h": 0},
        {"observe_h": 10_001},
    ],
)
def test_numbers_that_mean_nothing_are_refused(watch: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        override(**watch)


def test_a_plan_that_names_what_is_not_there_is_found_out() -> None:
    whole = plan(read_procedure(THREE))
    odd = whole.check[0].model_copy(update={"source": ("P99",), "done": (Pattern(kind="nothing"),)})
    procedure = read_procedure(THREE).model_copy(
        update={"watch": whole.model_copy(update={"check": (odd, whole.check[0])})}
    )
    assert list(problems(procedure, READS)) == [
        ("watch.check[0].source", 'there is no source named "P99"'),
        ("watch.check[0].done[0].kind", 'there is no kind of entry named "nothing"'),
        ("watch.check[1].id", '"traction" stands twice'),
    ]


def test_a_reminder_never_leaves_the_calendar() -> None:
    start = datetime(2026, 1, 1, tzinfo=UTC)
    assert later(start, 1.5) == start + timedelta(minutes=90)
    assert later(start, 1e8) == LAST
    assert later(LAST, 1) == LAST
    late = datetime(9999, 12, 31, 23, 59, tzinfo=timezone(timedelta(hours=-12)))
    assert later(late, 1) == late
