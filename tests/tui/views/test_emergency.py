"""An emergency: what it shows, when it is up, and that nothing that was asked or said meanwhile is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import cast

import pytest
from rich.console import Console
from textual.pilot import Pilot
from textual.widgets import Input

from log.basics.entry import Entry, Question, Understood
from log.facts.events import EntryAsked, EntryLogged, QuestionAnswered
from log.facts.origin import Origin
from log.scribe.correct import Correction
from log.store import case as store
from log.summaries.whole import whole
from tests.tui.live.test_listening import FakeEars, Seen
from tests.tui.rooms import NARROW, WIDE, Room, Size, keys, room, seen, shown, well_on
from tui.live.aloud import Aloud
from tui.live.listening import LiveCase
from tui.room.alarm import EmergencyPage
from tui.room.app import RoomApp
from tui.room.big import large_lines
from tui.room.dialogs import Form
from tui.room.plain import PlainRoom
from tui.serve.page import running, standing
from tui.views.emergency import BY_THE_SITE, NO_SCISSORS, EmergencyAtAGlance, emergency
from voice.meaning.matcher import Listening
from voice.sound.segment import Segment
from voice.speak.speaker import Speaker


@pytest.fixture
def going(tmp_path: Path) -> Room:
    """A case with both balloons up."""
    return well_on(tmp_path)


def up(begun: Room) -> EmergencyAtAGlance | None:
    return emergency(begun.session.course, begun.session.record, begun.time)


def on_top(app: RoomApp) -> object:
    """The page that is seen."""
    return app.screen


def doubtful(begun: Room, *values: str) -> None:
    """An emergency that was unclear."""
    begun.time += timedelta(seconds=5)
    at = (begun.time - begun.session.began).total_seconds()
    candidates = tuple(Entry(kind="emergency", value=value) for value in values)
    asked = Understood(items=(Question(candidates=candidates, why="indistinct", text="unclear"),))
    begun.session.take(asked, at, at, Origin(heard="airway"))


# ---- when it is up ------------------------------------------------------------------------------------------------


def test_a_call_shows_the_definition_s_steps_the_clock_the_scissors_and_what_is_inflated(going: Room) -> None:
    assert up(going) is None
    going.say("scissors at the head of the bed")
    going.say("airway emergency")
    called = going.time
    going.time += timedelta(seconds=92)
    now = up(going)
    steps = going.session.procedure.emergency
    assert now is not None and steps is not None
    assert now.steps == tuple(step.text for step in steps.airway)
    assert (now.since, now.clock, now.doubt) == (called, "01:32", "")
    assert now.scissors == f"at the head of the bed (said at {called - timedelta(seconds=10):%H:%M})"
    assert now.inflated == ("gastric 250 mL", "oesophageal 40 mL, 60 mmHg")
    going.say("cut the tube")
    later = up(going)
    assert later is not None
    assert later.steps == tuple(step.text for step in steps.cut)
    assert later.since == called, "the clock counts from the first call"


def test_without_an_entry_nobody_knows_where_the_scissors_are(tmp_path: Path) -> None:
    begun = room(tmp_path)
    begun.say("cut cut")
    now = up(begun)
    assert now is not None and now.scissors == NO_SCISSORS
    assert now.inflated == ("gastric empty", "oesophageal empty")
    begun.say("scissors missing")
    again = up(begun)
    assert again is not None and again.scissors.startswith("MISSING")


@pytest.mark.parametrize("end", ["emergency over", "airway clear", "tube out", "scratch that"])
def test_it_is_up_until_somebody_ends_it(going: Room, end: str) -> None:
    going.say("cut the tube")
    going.say("gastric pressure two zero") if end != "scratch that" else None
    assert up(going) is not None
    going.say(end)
    assert up(going) is None
    assert going.verified()


def test_what_is_written_down_afterwards_calls_nobody(going: Room) -> None:
    by = Correction("scribe", "nobody typed then", going.time + timedelta(minutes=5))
    going.session.enter_late(Entry(kind="emergency", value="airway"), going.time, by)
    assert up(going) is None


def test_a_doubtful_call_raises_it_and_a_doubtful_end_ends_nothing(going: Room) -> None:
    doubtful(going, "airway")
    now = up(going)
    assert now is not None and "unclear" in now.doubt
    doubtful(going, "over")
    assert up(going) is not None
    going.say("scratch that")
    going.say("confirm")
    confirmed = up(going)
    assert confirmed is not None and confirmed.doubt == ""
    going.say("emergency over")
    assert up(going) is None


def test_a_question_that_may_be_a_call_is_one(going: Room) -> None:
    doubtful(going, "over", "cut")
    now = up(going)
    assert now is not None and now.call == "cut"


def test_a_definition_from_before_says_that_the_site_s_protocol_counts(going: Room) -> None:
    going.say("airway emergency")
    old = replace(going.session.course, procedure=going.session.procedure.model_copy(update={"emergency": None}))
    now = emergency(old, going.session.record, going.time)
    assert now is not None and now.steps == (BY_THE_SITE,)


# ---- what was asked waits -------------------------------------------------------------------------------------------


def test_a_question_waits_and_comes_back_with_its_time_to_answer(going: Room) -> None:
    going.say("gastric in fifty")
    question = going.session.record.open_question
    assert question is not None
    going.say("airway emergency", later=2)
    seconds = (going.time - going.session.began).total_seconds()
    assert not going.session.asked(seconds), "a number said now is no answer to it"
    going.say("oesophageal pressure two zero", later=300)
    going.say("emergency over", later=1)
    assert going.session.record.open_question == question
    (answered, *_) = going.say("five zero", later=10)
    assert isinstance(answered, QuestionAnswered)
    assert answered.entry.value == 50


def test_after_an_emergency_that_was_struck_questions_are_of_the_last_breath_again(going: Room) -> None:
    going.say("cut the tube")
    going.say("scratch that")
    going.say("gastric in fifty")
    going.say("oesophageal pressure two zero")
    assert going.session.record.open_question is None


# ---- the screen -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize("key", ["exclamation_mark", "ctrl+e"])
def test_a_key_shows_the_page_logs_the_moment_and_another_ends_it(going: Room, size: Size, key: str) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.state("listening")
        app.view.notify(going.say("gastric in fifty"))
        await keys(pilot, key)
        assert isinstance(app.screen, EmergencyPage)
        page = [str(line) for line in screen(app)]
        assert any("EMERGENCY 00:00" in line and "LISTENING" in line for line in page)
        steps = app.session.procedure.emergency
        assert steps is not None
        whole_page = " ".join(" ".join(page).split())
        for step in steps.airway:
            assert step.text in whole_page
        assert "gastric 265 or 300 mL?; oesophageal 40 mL, 60 mmHg" in whole_page
        assert "confirm" not in whole_page, "nothing else is asked"
        called = going.facts()
        assert any(isinstance(f, EntryLogged) and f.entry.value == "airway" and f.origin.by == "typed" for f in called)
        await keys(pilot, "e", "q", "question_mark", "n")
        assert isinstance(app.screen, EmergencyPage), "no form goes over it"
        app.view.notify(going.say("oesophageal pressure two zero"))
        await pilot.pause()
        assert any("pressure 20 mmHg (stands)" in line for line in map(str, screen(app)))
        await keys(pilot, "k")
        await keys(pilot, "o")
        assert on_top(app) is app.room
        assert "? ASKED" in seen(app, "#read-back"), "the question is back"
        assert 'Say "confirm" for 50 mL' in " ".join(seen(app, "#read-back").split())

    shown(going, act, size)
    said = [f.entry.value for f in going.facts() if isinstance(f, EntryLogged) and f.entry.kind == "emergency"]
    assert said == ["airway", "cut", "over"]
    assert going.verified()


def test_it_can_be_called_again_and_a_question_is_not_answered_blindly(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.notify(going.say("gastric in fifty"))
        for _ in range(3):
            await keys(pilot, "exclamation_mark")
            assert isinstance(app.screen, EmergencyPage)
            await keys(pilot, "c")
            await keys(pilot, "o")
            assert on_top(app) is app.room
        assert app.record.asked == 1
        await keys(pilot, "c")
        assert app.record.asked == 0

    shown(going, act)


def screen(app: RoomApp) -> list[str]:
    """Every row of what is seen."""
    return ["".join(part.text for part in strip) for strip in app.screen._compositor.render_strips()]


def test_it_goes_over_a_form_and_what_was_typed_stays(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "t", *"mind!")
        form = app.screen
        assert isinstance(form, Form) and form.query_one("#field-text", Input).value == "mind!"
        await keys(pilot, "ctrl+e")
        assert isinstance(app.screen, EmergencyPage)
        await keys(pilot, "o")
        assert form in app.screen_stack[-1:] and form.query_one("#field-text", Input).value == "mind!"

    shown(going, act)


def test_a_call_that_is_heard_goes_up_by_itself_and_comes_down_with_the_tube(going: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        doubtful(going, "cut")
        app.view.notify(going.session.look((going.time - going.session.began).total_seconds()))
        await pilot.pause()
        assert isinstance(app.screen, EmergencyPage)
        assert any("unclear" in row for row in screen(app))
        app.view.notify(going.say("tube out"))
        await pilot.pause()
        assert on_top(app) is app.room

    shown(going, act)


def test_the_page_does_not_wait_for_the_disk(going: Room) -> None:
    class Slow:
        """Takes what is to be written, and never writes it."""

        mode, coming, lead_word, time = "open", None, None, going.time

        def start(self) -> None: ...

        def go_on(self) -> None:
            """Nothing was paused."""

        def do(self, what: object) -> None: ...

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.listening = cast(LiveCase, Slow())
        await keys(pilot, "exclamation_mark")
        assert isinstance(app.screen, EmergencyPage)
        assert not any(f.entry.kind == "emergency" for f in going.facts() if isinstance(f, EntryLogged))
        await keys(pilot, "o")
        assert on_top(app) is app.room

    shown(going, act)


@pytest.mark.parametrize(("width", "rows", "drawn"), [(198, 24, 11), (118, 16, 6), (78, 10, 9), (40, 6, 1)])
def test_words_are_drawn_large_where_they_fit(width: int, rows: int, drawn: int) -> None:
    lines = large_lines("Cut all lumens and pull the tube out", width, rows).split("\n")
    assert len(lines) == drawn
    assert drawn == 1 or all(len(line) <= width for line in lines)


# ---- in lines, aloud, and on the second display -------------------------------------------------------------------


def test_in_lines_the_steps_come_before_everything_and_questions_after(
    going: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    view = PlainRoom(going.session)
    view._read_back.console = Console(width=140, highlight=False)
    view.notify(going.say("gastric in fifty"))
    capsys.readouterr()
    view.notify(going.say("airway emergency"))
    told = capsys.readouterr().out
    assert told.startswith("!! EMERGENCY since ")
    steps = going.session.procedure.emergency
    assert steps is not None
    assert all(f"!! {n} {step.text}" in told for n, step in enumerate(steps.airway, start=1))
    assert told.index("!! inflated:") < told.index("logged")
    view.notify(going.say("gastric out fifty"))
    told = capsys.readouterr().out
    assert "ASKED" in told and "Say" not in told and "It waits until the emergency is over." in told
    assert "!!" not in told, "the steps are shown once"
    view.notify(going.say("emergency over", later=50))
    told = capsys.readouterr().out
    assert "the emergency is over after 0:01:0" in told
    assert 'still waits: gastric volume out 50 mL? Say "confirm" for 50 mL' in told


def test_typed_in_lines(going: Room, capsys: pytest.CaptureFixture[str]) -> None:
    view = PlainRoom(going.session)

    class Now:
        """Writes at once."""

        time = going.time

        def do(self, what: object) -> None:
            assert callable(what)
            view.notify(what(going.session))

    listening = cast(LiveCase, Now())
    view.typed("over", listening)
    view.typed("!", listening)
    view.typed("cut", listening)
    view.typed("over", listening)
    told = capsys.readouterr().out
    assert "no active emergency" in told and told.count("!! EMERGENCY") == 2
    entries = [line.entry.value for line in going.session.record.lines if line.entry.kind == "emergency"]
    assert entries == ["airway", "cut", "over"]


def test_nothing_is_read_aloud_while_it_is_up(going: Room) -> None:
    class Mouth:
        """Remembers what it was told to say."""

        def __init__(self) -> None:
            self.said: list[str] = []
            self.hushed = 0

        def say(self, text: str) -> None:
            self.said.append(text)

        def hush(self) -> None:
            self.hushed += 1

    mouth = Mouth()
    aloud = Aloud(Seen(), going.session, cast(Speaker, mouth))
    hearing = FakeEars().hear(Segment(b"", 0, 0), Listening())
    aloud.heard(hearing, going.say("gastric pressure two zero"))
    assert len(mouth.said) == 1
    aloud.notify(going.say("airway emergency"))
    aloud.heard(hearing, going.say("gastric out fifty"))
    assert (len(mouth.said), mouth.hushed) == (1, 2)
    aloud.heard(hearing, going.say("emergency over"))
    assert len(mouth.said) == 2


def test_the_second_display_shows_it_and_asks_nothing_else(going: Room, tmp_path: Path) -> None:
    going.say("gastric in fifty")
    before = whole(store.read(tmp_path, "bay-4"))
    assert standing(before)["emergency"] == running(before, going.time)["alarmed"] == ""
    assert "Say" in running(before, going.time)["last"]
    going.say("cut the tube")
    case = whole(store.read(tmp_path, "bay-4"))
    told = standing(case)["emergency"]
    steps = case.procedure.emergency
    assert steps is not None and all(f"<li>{step.text}</li>" in told.replace("&quot;", '"') for step in steps.cut)
    assert "oesophageal 40 mL, 60 mmHg" in told and NO_SCISSORS in told
    at = going.time + timedelta(seconds=65)
    assert running(case, at)["alarmed"].startswith("EMERGENCY <time>01:05</time>")
    going.say("gastric out fifty")
    asked = whole(store.read(tmp_path, "bay-4"))
    assert any(isinstance(link.fact, EntryAsked) for link in asked.links)
    last = running(asked, going.time)["last"]
    assert "Say" not in last and "waits until the emergency is over" in last
