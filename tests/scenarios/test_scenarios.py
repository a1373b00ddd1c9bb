"""Whole cases as text: what was said when, and what the log makes of it.

    # what this shows                      first lines; everything after "#" is for the reader
    definition: four-lumen                 three-lumen if left out
    local: watch.observe_h = 0.5           what a hospital has set, as in its file
    listening: open                        every entry begins with the lead word; otherwise none is needed
    01:30 said gastric five zero in        minutes and seconds, or hours, minutes and seconds
    12:00:00 watch                         nobody speaks; the clocks are looked at

What follows from a line stands under it, all of it, or the test fails:

    ! high first_gastric_volume            a finding is raised
    settled first_gastric_volume           a finding no longer holds
    ? 50 15                                the room is asked, with these candidates
    ~ not understood                       no entry is made, for this reason
    = gastric volume 50 mL                 how things stand now; any number of these
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from log.course import course_of
from log.decide import Heard, decide, findings
from log.events import EntryAsked, Fact, FindingRaised, FindingSettled, NotUnderstoodHeard, Origin
from log.load import in_force, read_procedure, shipped
from log.override import Override
from log.procedure import Procedure
from log.record import Record, fold
from log.situation import Balloon, Situation
from log.spoken import Entry
from voice import matcher
from voice.phrases import Phrases, compile_phrases

HERE = Path(__file__).parent
FILES = sorted(HERE.glob("*.txt"))
BEGAN = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)


@dataclass
class Line:
    """One line of a scenario and what is expected of it."""

    number: int
    at: timedelta
    words: str | None
    """None: nobody speaks."""
    expected: list[str] = field(default_factory=list)


@dataclass
class Scenario:
    """One file."""

    path: Path
    definition: str = "three-lumen"
    open_listening: bool = False
    local: list[str] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)


def read_scenario(path: Path) -> Scenario:
    """Reads one file; an odd line is an error, never skipped."""
    scenario = Scenario(path)
    for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        text = text.partition("#")[0].strip()
        line = re.fullmatch(r"(?:(\d+):)?(\d+):(\d\d) (?:said (.+)|watch)", text)
        if line:
            at = timedelta(hours=int(line[1] or 0), minutes=int(line[2]), seconds=int(line[3]))
            scenario.lines.append(Line(number, at, line[4]))
        elif text.startswith("definition: "):
            scenario.definition = text.removeprefix("definition: ")
        elif text.startswith("local: "):
            scenario.local.append(text.removeprefix("local: "))
        elif text == "listening: open":
            scenario.open_listening = True
        elif text[:2] in ("! ", "? ", "~ ", "= ") or text.startswith("settled "):
            scenario.lines[-1].expected.append(text)
        elif text:
            pytest.fail(f"{path.name}:{number}: cannot be read: {text}")
    return scenario


@cache
def phrases(definition: str) -> Phrases:
    return compile_phrases(read_procedure(definition))


def in_force_in(scenario: Scenario) -> Procedure:
    """The definition with what the hospital of this scenario has set."""
    procedure = phrases(scenario.definition).procedure
    if not scenario.local:
        return procedure
    approved = {"procedure": procedure.id, "approved_by": "the unit", "approved_on": BEGAN.date()}
    return in_force(procedure, Override.model_validate({**approved, **tomllib.loads("\n".join(scenario.local))})).procedure


def play(scenario: Scenario) -> Iterator[tuple[Line, tuple[Fact, ...], Record, datetime]]:
    """The scenario line by line: the facts that follow and the record after them."""
    said_in, procedure, record = phrases(scenario.definition), in_force_in(scenario), Record()
    for line in scenario.lines:
        at = BEGAN + line.at
        if line.words is None:
            facts = findings(course_of(procedure, record), record, at)
        else:
            lead = procedure.lead_word if scenario.open_listening else None
            asked = record.open_question is not None
            meaning = matcher.understand(said_in, line.words, matcher.Situation(lead_word=lead, asked=asked))
            facts = decide(course_of(procedure, record), record, Heard(meaning, at, at, Origin(heard=line.words)))
        record = fold(facts, record)
        yield line, facts, record, at


def told(facts: tuple[Fact, ...]) -> Iterator[str]:
    """What follows from a line, in the words of a scenario."""
    for fact in facts:
        match fact:
            case FindingRaised():
                yield f"! {fact.level} {fact.rule}"
            case FindingSettled():
                yield f"settled {fact.rule}"
            case EntryAsked():
                yield "? " + " ".join(_value(candidate) for candidate in fact.candidates)
            case NotUnderstoodHeard():
                yield f"~ {fact.reason}"
            case _:
                pass


def _value(entry: Entry) -> str:
    return f"{entry.value:g}" if isinstance(entry.value, int | float) else str(entry.value)


def _amount(entry: Entry | None) -> str:
    return "unknown" if entry is None else f"{_value(entry)} {entry.unit or ''}".strip()


def _balloon(site: str, show: Callable[[Balloon], str]) -> Callable[[Situation], str]:
    return lambda situation: show(situation.balloon(site))


STANDS: dict[str, Callable[[Situation], str]] = {
    **{f"{site} volume": _balloon(site, lambda b: f"{b.volume:g} mL") for site in ("gastric", "oesophageal")},
    **{f"{site} pressure": _balloon(site, lambda b: f"{b.pressure} mmHg") for site in ("gastric", "oesophageal")},
    **{f"{site} balloon": _balloon(site, lambda b: "up" if b.up else "down") for site in ("gastric", "oesophageal")},
    "gastric aspirate": lambda s: f"{s.aspirated.get('gastric', 0):g} mL",
    "oesophageal aspirate": lambda s: f"{s.aspirated.get('oesophageal', 0):g} mL",
    "aspirate": lambda s: f"{sum(s.aspirated.values()):g} mL",
    "lavage in": lambda s: f"{s.lavage_in:g} mL",
    "lavage out": lambda s: f"{s.lavage_out:g} mL",
    "depth": lambda s: _amount(s.depth),
    "mark": lambda s: _amount(s.mark),
    "traction": lambda s: "off" if s.traction is None else _amount(s.traction),
    "x-ray": lambda s: str(s.xray),
    "tube": lambda s: "in" if s.tube_in else "out",
    "emergency": lambda s: "none" if s.emergency is None else str(s.emergency.value),
}
"""What "=" can ask of the situation."""


def stands(wanted: str, procedure: Procedure, record: Record, at: datetime) -> bool:
    """Whether things are as a "=" line says."""
    if wanted.startswith("line "):
        _, number, status = wanted.split(" ", 2)
        line = record.line(int(number))
        return status in (line.status, f"{line.status} {_amount(line.entry)}", line.entry.kind)
    if wanted.startswith("lines "):
        return len(record.lines) == int(wanted.removeprefix("lines "))
    course = course_of(procedure, record)
    if wanted.startswith("running "):
        _, name, since = wanted.split()
        hours, minutes = since.split(":")
        elapsed = timedelta(hours=int(hours), minutes=int(minutes))
        return any(clock.clock == name and at - clock.since == elapsed for clock in course.end.clocks.values())
    if wanted.startswith("stopped "):
        return all(clock.clock != wanted.removeprefix("stopped ") for clock in course.end.clocks.values())
    if wanted == "no question":
        return record.open_question is None
    if wanted == "no finding":
        return not record.open_findings
    what = next((name for name in sorted(STANDS, key=len, reverse=True) if wanted.startswith(f"{name} ")), None)
    assert what is not None, f"a scenario cannot say: = {wanted}"
    return STANDS[what](course.end.situation) == wanted.removeprefix(f"{what} ")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scenario_comes_out_as_written(path: Path) -> None:
    scenario = read_scenario(path)
    assert path.read_text(encoding="utf-8").startswith("# "), "says first what it shows"
    assert scenario.lines
    for line, facts, record, at in play(scenario):
        where = f"{path.name}:{line.number}: {line.words or 'watch'}"
        assert sorted(told(facts)) == sorted(e for e in line.expected if not e.startswith("= ")), where
        for wanted in (e.removeprefix("= ") for e in line.expected if e.startswith("= ")):
            assert stands(wanted, in_force_in(scenario), record, at), f"{where}\n= {wanted}"


def test_lines_of_a_scenario_follow_one_another_in_time() -> None:
    for scenario in map(read_scenario, FILES):
        times = [line.at for line in scenario.lines]
        assert times == sorted(times), scenario.path.name


def test_every_finding_that_the_definitions_know_is_raised_in_some_scenario() -> None:
    raised = {e.split()[2] for s in map(read_scenario, FILES) for line in s.lines for e in line.expected if e[0] == "!"}
    all_known: set[str] = set()
    for name in shipped():
        procedure = read_procedure(name)
        known = {*procedure.limits, *procedure.rules, *(order.id for order in procedure.order)}
        known |= {f"{clock.id}-{due.after_h:g}h" for clock in procedure.clock for due in clock.due}
        assert known <= raised
        all_known |= known
    assert raised == all_known


def test_every_kind_of_entry_is_said_in_some_scenario() -> None:
    said = {line.entry.kind for s in map(read_scenario, FILES) for line in [*play(s)][-1][2].lines}
    for name in shipped():
        assert {kind.id for kind in read_procedure(name).kind if kind.role == "entry"} <= said


def test_both_tubes_have_scenarios() -> None:
    assert {read_scenario(path).definition for path in FILES} == set(shipped())
