"""What is read back of an entry with two numbers, how a question about one is answered, and the sums beside it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from log.basics.entry import Entry
from log.facts.events import Fact, NotUnderstoodHeard
from log.facts.line import Line
from tests.tui.rooms import Room, room
from tui.room.big import GLYPHS, HEIGHT, as_large
from tui.views.bedside import answer_to, bedside
from tui.views.last_entry import answers, digits, last_entry
from tui.views.read_back import read_back


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[Room]:
    begun = room(tmp_path)
    yield begun
    begun.session.case.close()


def test_an_entry_with_two_numbers_is_read_back_with_the_digits_of_both(begun: Room) -> None:
    begun.say("blood pressure nine zero over six zero")
    last = last_entry(begun.session.course, begun.session.record)
    assert last is not None
    assert (last.large, last.unit, last.value) == ("90/60", "mmHg", "90/60 mmHg")
    assert last.digits == "nine-zero over six-zero"
    begun.say("gastric test one zero zero pressure one two")
    last = last_entry(begun.session.course, begun.session.record)
    assert last is not None
    assert (last.large, last.unit, last.value) == ("12", "mmHg at 100 mL", "12 mmHg at 100 mL")
    assert last.digits == "one-two at one-zero-zero"
    begun.say("gastric balloon leak test at two five zero")
    last = last_entry(begun.session.course, begun.session.record)
    assert last is not None
    assert (last.large, last.value, last.digits) == ("", "started at 250 mL", "two-five-zero")


def test_what_was_given_is_read_back_with_its_name(begun: Room) -> None:
    for said, value, total in (
        ("fentanyl five zero micrograms", "fentanyl · 50 microgram", ""),
        ("red cells two units in", "red cells · 2 units", "red cells 2 units in all"),
        ("calcium given", "calcium · given", ""),
    ):
        begun.say(said)
        last = last_entry(begun.session.course, begun.session.record)
        assert last is not None and (last.value, last.total) == (value, total)


def test_a_line_reads_the_same_in_lines() -> None:
    pair = Entry(kind="vital", value=90, unit="mmHg", detail="blood pressure", second=60, second_unit="mmHg")
    assert read_back(pair) == "90/60 mmHg · nine-zero over six-zero"
    assert read_back(Entry(kind="xray", value="not_confirmed")) == "not confirmed"
    assert digits(Entry(kind="traction", value=0.5, unit="kg")) == "zero-point-five"


@pytest.mark.parametrize("pair", ["90/60", "220/180"])
@pytest.mark.parametrize(("width", "rows"), [(62, 14), (76, 5), (140, 21)])
def test_the_figures_of_a_pair_are_drawn_whole_whatever_the_room(pair: str, width: int, rows: int) -> None:
    assert {len(row) for row in GLYPHS["/"]} == {7} and len(GLYPHS["/"]) == HEIGHT
    drawn = as_large(pair, width, rows).split("\n")
    assert 3 <= len(drawn) <= rows and set("▀▄█") & set(drawn[0])
    assert max(map(len, drawn)) <= width


def asked(begun: Room) -> Line:
    (line,) = (line for line in begun.session.record.lines if line.status == "asked")
    return line


def reason(facts: tuple[Fact, ...]) -> str:
    (fact,) = (fact for fact in facts if isinstance(fact, NotUnderstoodHeard))
    return fact.reason


def test_the_digits_to_answer_with_are_those_of_the_number_in_doubt(begun: Room) -> None:
    begun.say("blood pressure ninety over fifty")
    assert list(answers(asked(begun))) == ['"confirm" for 90/50 mmHg', '"one five" for 90/15 mmHg']
    begun.say("one five")
    assert read_back(begun.session.record.line(1).entry) == "90/15 mmHg · nine-zero over one-five"


def test_where_the_first_number_is_in_doubt_its_digits_are_asked(begun: Room) -> None:
    begun.say("blood pressure one hundred and thirty over six two")
    assert list(answers(asked(begun))) == ['"confirm" for 130/62 mmHg', '"one one three" for 113/62 mmHg']
    begun.say("one one three")
    assert begun.session.record.line(1).entry.value == 113


def test_where_both_are_in_doubt_the_whole_entry_is_asked_for(begun: Room) -> None:
    begun.say("blood pressure one hundred and thirty over sixty")
    told = ['"confirm" for 130/60 mmHg', "or say it again, every digit by itself"]
    assert list(answers(asked(begun))) == told
    assert reason(begun.say("one one three")) == "two numbers are in doubt: say it again, every digit by itself"
    begun.say("blood pressure one one three over six zero")
    (line,) = begun.session.record.lines
    assert (line.status, line.entry.value, line.entry.second) == ("stands", 113, 60)


def test_the_volume_of_a_test_is_answered_with_its_digits(begun: Room) -> None:
    begun.say("gastric test fifty pressure one two")
    assert list(answers(asked(begun)))[1] == '"one five" for 12 mmHg at 15 mL'
    begun.say("five zero")
    assert begun.session.record.line(1).entry.second == 50
    begun.say("gastric balloon leak test at fifty")
    assert list(answers(asked(begun))) == ['"confirm" for started at 50 mL', '"one five" for started at 15 mL']


def test_the_sums_are_in_the_status_and_only_what_there_is(begun: Room) -> None:
    assert bedside(begun.session.course, begun.session.record, begun.time).sums == ()
    for words in (
        "gastric aspirate four zero zero",
        "gastric aspirate two zero zero",
        "companion aspirate four five",
        "red cells two units in",
        "saline five zero zero mils in",
        "noradrenaline infusion started",
        "blood pressure nine zero over six zero",
    ):
        begun.say(words, 1200)
    now = bedside(begun.session.course, begun.session.record, begun.time)
    assert dict(now.sums) == {
        "out": "gastric 600 mL; companion 45 mL",
        "given": "red cells 2 units; saline 500 mL",
        "running": "noradrenaline",
        "vital signs": f"blood pressure 90/60 mmHg ({begun.time:%H:%M})",
    }
    assert "given: red cells 2 units; saline 500 mL" in answer_to("status", now)
    begun.say("gastric aspirate three zero zero", 0)
    begun.say("scratch that")
    assert "gastric 600 mL" in dict(bedside(begun.session.course, begun.session.record, begun.time).sums)["out"]
