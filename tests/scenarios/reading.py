"""Whole cases as text: what was said when, and what the log makes of it.

    # what this shows                      first lines; everything after "#" is for the reader
    definition: four-lumen                 three-lumen if left out
    local: watch.observe_h = 0.5           what a hospital has set, as in its file
    listening: open                        every entry begins with the lead word; otherwise none is needed
    01:30 said gastric five zero in        minutes and seconds, or hours, minutes and seconds
    12:00:00 watch                         nobody speaks; the clocks are looked at
    12:30:00 scribe amends 4 to gastric five zero in: misheard        by hand, with the reason
    12:31:00 scribe enters x-ray taken at 11:50:00: not said
    12:32:00 scribe strikes 6: said twice

What follows from a line stands under it, all of it, or the test fails:

    ! high first_gastric_volume            a finding is raised
    settled first_gastric_volume           a finding no longer holds
    ? 50 15                                the room is asked, with these candidates
    ~ sounds like an order                 no entry is made, for this reason
    = gastric volume 50 mL                 how things stand now; any number of these
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from log.basics.entry import Entry
from log.definition.load import InForce, in_force
from log.definition.override import Override
from log.facts.events import EntryAsked, Fact, FindingRaised, FindingSettled, NotUnderstoodHeard
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules.course import course_of
from log.scribe import correct
from log.scribe.correct import Correction
from log.scribe.decide import Heard, decide
from log.scribe.decided import rechecked, with_findings
from tests.cases import phrases
from voice.meaning import matcher
from voice.phrases.phrases import Phrases

HERE = Path(__file__).parent
FILES = sorted(HERE.glob("*.txt"))
BEGAN = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)
TIME = r"(?:(\d+):)?(\d+):(\d\d)"
BY_HAND = re.compile(
    rf"(?:strikes (?P<struck>\d+)|amends (?P<amended>\d+) to (?P<new>.+)|enters (?P<late>.+) at (?P<at>{TIME}))"
    r": (?P<why>.+)"
)


@dataclass
class Line:
    """One line of a scenario and what is expected of it."""

    number: int
    at: timedelta
    words: str | None
    """None: nobody speaks."""
    by_hand: bool = False
    """Whether the words are what the scribe does."""
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
        line = re.fullmatch(rf"{TIME} (?:said (.+)|scribe (.+)|watch)", text)
        if line:
            by_hand = line[5] is not None
            scenario.lines.append(Line(number, _elapsed(line), line[5] if by_hand else line[4], by_hand))
        elif text.startswith("definition: "):
            scenario.definition = text.removeprefix("definition: ")
        elif text.startswith("local: "):
            scenario.local.append(text.removeprefix("local: "))
        elif text == "listening: open":
            scenario.open_listening = True
        elif text[:2] in ("! ", "? ", "~ ", "= ") or text.startswith("settled "):
            scenario.lines[-1].expected.append(text)
        elif text:
            raise ValueError(f"{path.name}:{number}: cannot be read: {text}")
    return scenario


def _elapsed(time: re.Match[str]) -> timedelta:
    return timedelta(hours=int(time[1] or 0), minutes=int(time[2]), seconds=int(time[3]))


def in_force_in(scenario: Scenario) -> InForce:
    """The definition with what the hospital of this scenario has set."""
    procedure = phrases(scenario.definition).procedure
    if not scenario.local:
        return in_force(procedure, None)
    approved = {"procedure": procedure.id, "approved_by": "the unit", "approved_on": BEGAN.date()}
    own = tomllib.loads("\n".join(scenario.local))
    return in_force(procedure, Override.model_validate({**approved, **own}))


Played = tuple[Line, tuple[Fact, ...], Record, datetime]
"""A line, the facts that follow, the record after them, and when that was."""


def play(scenario: Scenario, begun: Record | None = None) -> Iterator[Played]:
    """The scenario line by line: the facts that follow and the record after them."""
    said_in, procedure, record = phrases(scenario.definition), in_force_in(scenario).procedure, begun or Record()
    course = course_of(procedure, record)
    for line in scenario.lines:
        at = BEGAN + line.at
        if line.words is None:
            new = rechecked(course, record, (), at)
        elif line.by_hand:
            new = with_findings(course, record, (_by_hand(said_in, record, line.words, at),), at)
        else:
            lead = procedure.lead_word if scenario.open_listening else None
            asked = record.open_question is not None
            meaning = matcher.understand(said_in, line.words, matcher.Listening(lead_word=lead, question_open=asked))
            new = decide(course, record, Heard(meaning, at, at, Origin(heard=line.words)))
        record, course = new.record, new.course
        yield line, new.facts, record, at


def _by_hand(said_in: Phrases, record: Record, does: str, at: datetime) -> Fact:
    found = BY_HAND.fullmatch(does)
    if found is None:
        raise ValueError(f"nothing that a scribe can do: {does}")
    typed = found["new"] or found["late"] or ""
    by = Correction("scribe", found["why"], at, typed)
    if found["struck"]:
        return correct.strike(record, int(found["struck"]), by)
    entry = matcher.one_entry(said_in, typed)
    if found["amended"]:
        return correct.amend(record, int(found["amended"]), entry, None, by)
    time = re.fullmatch(TIME, found["at"])
    assert time is not None
    return correct.enter_late(record, entry, BEGAN + _elapsed(time), by)


def told(facts: tuple[Fact, ...]) -> Iterator[str]:
    """What follows from a line, in the words of a scenario."""
    for fact in facts:
        match fact:
            case FindingRaised():
                yield f"! {fact.level} {fact.rule}"
            case FindingSettled():
                yield f"settled {fact.rule}"
            case EntryAsked():
                yield "? " + " ".join(value_of(candidate) for candidate in fact.candidates)
            case NotUnderstoodHeard():
                yield f"~ {fact.reason}"
            case _:
                pass


def value_of(entry: Entry) -> str:
    """What was said, in short."""
    return f"{entry.value:g}" if isinstance(entry.value, int | float) else str(entry.value)
