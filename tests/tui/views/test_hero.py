"""What matters now: one thing at a time, in its order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from log.basics.entry import Entry, Understood
from log.facts.origin import Origin
from log.scribe.correct import Correction
from tests.tui.rooms import Room, room, well_on
from tui.views.balloons import tube_at_a_glance
from tui.views.emergency import emergency
from tui.views.hero import Due, Hero, Moment, NewHigh, OpenQuestion, Pressures, Reading, Trouble, hero
from tui.views.watch import Attending, attending


@pytest.fixture
def going(tmp_path: Path) -> Iterator[Room]:
    going = well_on(tmp_path)
    yield going
    going.session.case.close()


def seen(
    of: Room,
    missed: str = "",
    trouble: Trouble | None = None,
    watch: Attending | None = None,
    paused: str = "",
) -> Hero:
    course, record = of.session.course, of.session.record
    up = emergency(course, record, of.time)
    return hero(
        Moment(
            course=course,
            record=record,
            now=of.time,
            emergency=up,
            missed=missed,
            trouble=trouble,
            watch=watch,
            paused=paused,
        )
    )


def test_each_gives_way_to_what_is_more_urgent(going: Room) -> None:
    lost = Trouble("NO SOUND", "unplugged")
    high = seen(going)
    assert isinstance(high, NewHigh) and high.of_the_last and high.others == 0
    assert "60 mmHg is above the limit" in high.found.message
    assert seen(going, paused="paused by hand").hero == "paused"
    assert seen(going, trouble=lost, paused="paused by hand").hero == "trouble"
    assert seen(going, '"mind the cable"').hero == "not understood"
    assert seen(going, '"mind the cable"', Trouble("NOT SAVING", "the disk is full")).hero == "not understood"
    deaf = seen(going, '"mind the cable"', lost)
    assert isinstance(deaf, Trouble) and deaf.missed == '"mind the cable"', "to say it again would not help"
    going.say("gastric in fifty")
    question = seen(going, '"mind the cable"', lost)
    assert isinstance(question, OpenQuestion)
    assert (question.asks, question.missed) == ("50 or 15 ?", '"mind the cable"')
    going.say("airway emergency")
    assert seen(going, '"mind the cable"', lost).hero == "emergency"


def test_a_high_finding_stays_until_it_is_acknowledged_or_back_in_range(going: Room) -> None:
    going.say("clamp on the oesophageal")
    high = seen(going)
    assert isinstance(high, NewHigh) and not high.of_the_last
    (found,) = [one for one in going.session.record.open_findings if one.level == "high"]
    going.session.acknowledge(found, Correction("scribe", "manometer off", going.time))
    assert seen(going).hero == "entry"
    going.say("oesophageal pressure five five")
    assert seen(going).hero == "high"
    going.say("oesophageal pressure three two")
    assert seen(going).hero == "entry"


def test_in_the_watch_duties_come_before_an_entry_that_was_read_back(going: Room) -> None:
    going.say("oesophageal pressure three two")
    watch = attending(going.session.course, going.time)
    assert seen(going, watch=watch).hero == "entry", "it was said just now"
    going.time += timedelta(minutes=90)
    late = seen(going, watch=attending(going.session.course, going.time))
    assert isinstance(late, Due) and late.one.when == "overdue" and late.others > 0
    idle = seen(going, watch=Attending(placed=True, due=(), state=()))
    assert isinstance(idle, Pressures) and dict(idle.read) == {"gastric": "", "oesophageal": "32"}


def test_while_a_note_is_taken_its_seconds_are_read_and_that_nothing_becomes_an_entry(going: Room) -> None:
    going.say("oesophageal pressure three two")
    going.time += timedelta(seconds=10)
    at = (going.time - going.session.began).total_seconds()
    announced = Understood(items=(Entry(kind="note", value="follows"),))
    going.session.take(announced, at, at, Origin(heard="log take a note"))
    going.time += timedelta(seconds=4)
    taking = seen(going)
    assert isinstance(taking, Reading)
    assert (taking.last.large, taking.last.unit) == ("11", "s left")
    assert taking.last.value == "nothing said now becomes an entry"
    going.time += timedelta(seconds=60)
    over = seen(going)
    assert isinstance(over, Reading) and not over.last.large


def test_before_the_first_entry_the_lead_word_is_shown(tmp_path: Path) -> None:
    begun = room(tmp_path)
    nothing = seen(begun)
    assert nothing.hero == "nothing" and getattr(nothing, "lead_word", "") == "log"
    tube = tube_at_a_glance(begun.session.course, begun.session.record, begun.time)
    assert [one.held.text for one in tube.balloons] == ["-- mmHg", "-- mmHg"] and not tube.up
    begun.session.case.close()


def test_a_volume_with_an_open_question_is_a_range_and_the_mark_that_moved_too_far_is_shown(going: Room) -> None:
    going.say("gastric in fifty")
    going.say("mark at four eight at the lips")
    tube = tube_at_a_glance(going.session.course, going.session.record, going.time)
    assert tube.balloons[0].filled.text == "265-300 mL?"
    assert tube.balloons[0].filled.high == 50 and not tube.confirmed, "the film vouches for it no longer"
    assert tube.balloons[1].held.beyond == "above"
    assert (tube.mark, tube.moved) == ("52 cm, moved out 4 cm", True)
