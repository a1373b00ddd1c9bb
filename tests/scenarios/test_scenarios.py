"""Whole cases as text come out as they are written; what a scenario can say stands in `reading.py`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from log.basics.entry import Entry
from log.definition.load import shipped
from log.facts.record import Record
from log.rules.course import Course, course_of
from log.state.balloon import Balloon
from log.state.tube import TubeState
from tests import cases
from tests.scenarios.reading import FILES, HERE, Played, in_force_in, play, read_scenario, told, value_of


def _amount(entry: Entry | None) -> str:
    return "unknown" if entry is None else f"{value_of(entry)} {entry.unit or ''}".strip()


def _balloon(site: str, show: Callable[[Balloon], str]) -> Callable[[TubeState], str]:
    return lambda situation: show(situation.balloon(site))


STANDS: dict[str, Callable[[TubeState], str]] = {
    **{
        f"{site} volume": _balloon(site, lambda b: f"{' or '.join(f'{volume:g}' for volume in b.volumes)} mL")
        for site in ("gastric", "oesophageal")
    },
    **{f"{site} pressure": _balloon(site, lambda b: f"{b.pressure} mmHg") for site in ("gastric", "oesophageal")},
    **{f"{site} balloon": _balloon(site, lambda b: "up" if b.up else "down") for site in ("gastric", "oesophageal")},
    "gastric aspirate": lambda s: f"{s.at_port('aspirate', 'gastric'):g} mL",
    "oesophageal aspirate": lambda s: f"{s.at_port('aspirate', 'oesophageal'):g} mL",
    "aspirate": lambda s: f"{s.at_port('aspirate'):g} mL",
    "lavage in": lambda s: f"{s.at_port('lavage_in'):g} mL",
    "lavage out": lambda s: f"{s.at_port('lavage_out'):g} mL",
    "depth": lambda s: _amount(s.depth),
    "mark": lambda s: _amount(s.mark),
    "traction": lambda s: "off" if s.traction is None else _amount(s.traction),
    "x-ray": lambda s: str(s.xray),
    "tube": lambda s: "in" if s.tube_in else "out",
    "tube number": lambda s: str(s.number),
    "emergency": lambda s: "none" if s.emergency is None else str(s.emergency.value),
}
"""What "=" can ask of the situation."""


def stands(wanted: str, course: Course, record: Record, at: datetime) -> bool:
    """Whether things are as a "=" line says."""
    if wanted.startswith("line "):
        _, number, status = wanted.split(" ", 2)
        line = record.line(int(number))
        return status in (line.status, f"{line.status} {_amount(line.entry)}", line.entry.kind)
    if wanted.startswith("lines "):
        return len(record.lines) == int(wanted.removeprefix("lines "))
    if wanted.startswith("running "):
        _, name, since = wanted.split()
        hours, minutes = since.split(":")
        elapsed = timedelta(hours=int(hours), minutes=int(minutes))
        return any(clock.clock == name and clock.ran(at) == elapsed for clock in course.end.running)
    if wanted.startswith("stopped "):
        return all(clock.clock != wanted.removeprefix("stopped ") for clock in course.end.running)
    if wanted == "no question":
        return record.open_question is None
    if wanted == "no finding":
        return not record.open_findings
    what = next((name for name in sorted(STANDS, key=len, reverse=True) if wanted.startswith(f"{name} ")), None)
    assert what is not None, f"a scenario cannot say: = {wanted}"
    return STANDS[what](course.end.situation) == wanted.removeprefix(f"{what} ")


@cache
def played(path: Path) -> tuple[Played, ...]:
    """A scenario, played once for all tests."""
    return tuple(play(read_scenario(path)))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scenario_comes_out_as_written(path: Path) -> None:
    scenario = read_scenario(path)
    assert path.read_text(encoding="utf-8").startswith("# "), "says first what it shows"
    assert scenario.lines
    procedure = in_force_in(scenario).procedure
    for line, facts, record, at in played(path):
        where = f"{path.name}:{line.number}: {line.words or 'watch'}"
        assert sorted(told(facts)) == sorted(e for e in line.expected if not e.startswith("= ")), where
        wants = [e.removeprefix("= ") for e in line.expected if e.startswith("= ")]
        course = course_of(procedure, record if wants else Record())
        for wanted in wants:
            assert stands(wanted, course, record, at), f"{where}\n= {wanted}"


def test_lines_of_a_scenario_follow_one_another_in_time() -> None:
    for scenario in map(read_scenario, FILES):
        times = [line.at for line in scenario.lines]
        assert times == sorted(times), scenario.path.name


@pytest.mark.parametrize("name", ["smooth-night-stepped-down", "smooth-day-gastric-alone", "smooth-day-four-lumen"])
def test_a_smooth_day_of_sixteen_hours_and_more_raises_two_findings_that_are_no_plan_at_most(name: str) -> None:
    scenario = read_scenario(HERE / f"{name}.txt")
    raised = [one.split()[2] for line in scenario.lines for one in line.expected if one.startswith("! ")]
    assert scenario.lines[-1].at >= timedelta(hours=16) and len(scenario.lines) > 60
    assert len([rule for rule in raised if not rule.endswith("-inflation-12h")]) <= 2


def test_every_finding_that_the_definitions_know_is_raised_in_some_scenario() -> None:
    raised = {e.split()[2] for s in map(read_scenario, FILES) for line in s.lines for e in line.expected if e[0] == "!"}
    all_known: set[str] = set()
    for name in shipped():
        procedure = cases.procedure(name)
        known = {*procedure.limits, *procedure.rules, *(order.id for order in procedure.order)}
        known |= {f"{clock.id}-{due.after_h:g}h" for clock in procedure.clock for due in clock.due}
        assert known <= raised
        all_known |= known
    assert raised == all_known


def test_every_kind_of_entry_is_said_in_some_scenario() -> None:
    said = {line.entry.kind for path in FILES for line in played(path)[-1][2].lines}
    for name in shipped():
        assert {kind.id for kind in cases.procedure(name).kind if kind.role == "entry"} <= said


def test_both_tubes_have_scenarios() -> None:
    without_limits = {
        name for name in shipped() if any(limit.site_sets for limit in cases.procedure(name).limits.values())
    }
    assert {read_scenario(path).definition for path in FILES} == set(shipped()) - without_limits
