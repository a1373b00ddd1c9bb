"""Keys under a tired hand: what is held down, pasted or typed too fast changes nothing that somebody did not mean."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.events import Paste
from textual.pilot import Pilot
from textual.widgets import Input, Label

from log.basics.errors import StoreError
from log.facts.events import EntryLogged
from log.store.writing import Case
from tests.tui.rooms import NARROW, Room, keys, room, seen, shown, told, well_on
from tui.room.app import RoomApp
from tui.room.dialogs import Ask, Form
from tui.room.hand import Hand

GARBAGE = "xmtbwv\nqq\ndd\nyes\nx\n\n\ncc\nuu\n!x\x1b[2J"


@dataclass
class Paced(Hand):
    """Keys that come so many seconds apart, however busy the machine is."""

    every: float = 0
    clock: float = 0

    def takes(self, key: str, at: float) -> bool:
        self.clock += self.every
        return super().takes(key, self.clock)


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case with a line, ten minutes old."""
    begun = room(tmp_path)
    begun.say("gastric in five zero", 600)
    return begun


def test_a_key_that_is_held_down_acts_once() -> None:
    hand = Hand()
    assert hand.takes("x", 0)
    hand.acts()
    assert [hand.takes("x", at) for at in (0.5, 0.53, 0.56, 1.2)] == [False] * 4
    assert hand.takes("x", 2.0)
    hand.acts()
    assert hand.takes("y", 2.1) and hand.takes("y", 2.2), "letters of a word"


@pytest.mark.parametrize(("pauses", "calm"), [((1.0,), True), ((0.1,), False), ((5.0, 0.1), False)])
def test_enter_answers_once_there_was_time_to_read(pauses: tuple[float, ...], calm: bool) -> None:
    hand, at = Hand(), 10.0
    hand.takes("x", at)
    for pause in pauses:
        at += pause
        hand.takes("enter", at)
    assert hand.calm is calm


def test_text_pasted_into_the_room_changes_nothing(begun: Room) -> None:
    """Marked as pasted, and as a terminal without such marks sends it: one key after the other."""

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.post_message(Paste(GARBAGE))
        await pilot.pause()
        assert type(app.screen) is type(app.room)
        app.hand = Paced(every=0.001)
        await pilot.press(
            *("enter" if sign == "\n" else sign for sign in GARBAGE if sign.isprintable() or sign == "\n")
        )
        await pilot.pause()
        assert not app._exit
        assert not any(isinstance(screen, Form) for screen in app.screen_stack), "the t in it opens no note"

    before = begun.facts()
    shown(begun, act)
    assert [fact for fact in begun.facts() if fact not in before and "emergency" not in str(fact)] == []


def test_a_held_x_asks_once_and_strikes_nothing(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "u")
        assert "Nothing was changed" in told(app)
        app.hand = Paced(every=0.03)
        await pilot.press(*["x"] * 20)
        assert len(app.screen_stack) == 2 and isinstance(app.screen, Ask)
        assert "Nothing was changed" not in told(app), "nothing lies over the question"
        await pilot.press("escape")
        assert app.record.line(1).status == "stands"

    shown(begun, act)


def test_a_question_and_a_form_can_be_answered_with_the_mouse(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "x")
        await pilot.click("#ask-keys", offset=(3, 0))
        assert app.record.line(1).status == "struck"
        await keys(pilot, "n")
        await pilot.click("#form-keys", offset=(3, 0))
        await keys(pilot, *"14")
        assert app.screen.query_one("#field-at", Input).value == "14"

    shown(begun, act)


def test_the_next_key_goes_to_the_next_field(begun: Room) -> None:
    """However fast one types: the words and the time each in their place."""

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.action_do("late")
        for key in (*"scissors", "enter", *"1405", "enter", *"missed"):
            app.simulate_key(key)
        await pilot.pause()
        await pilot.pause()
        assert [field.value for field in app.screen.query(Input)] == ["scissors", "1405", "missed", "scribe"]

    shown(begun, act)


def test_a_form_says_what_is_typed_and_how_it_goes_on(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "n", *"oesoph")
        await pilot.pause()
        assert "not one entry" in str(app.screen.query_one("#form-wrong", Label).content)
        await keys(pilot, "right", *"pressure", "space", *"35")
        field = app.screen.query_one("#field-words", Input)
        assert field.value == "oesophageal pressure 35"
        await pilot.pause()
        assert "→ oesophageal pressure 35 mmHg" in str(app.screen.query_one("#form-wrong", Label).content)
        await keys(pilot, "enter", *"2359")
        assert "is not a time" in str(app.screen.query_one("#form-wrong", Label).content)
        await keys(pilot, "escape", "e", *"scissors at the bedside")
        wrong = str(app.screen.query_one("#form-wrong", Label).content)
        assert wrong.startswith("→ ANOTHER KIND OF ENTRY: scissors"), "the wrong line was chosen"

    shown(begun, act)


def test_a_form_hides_neither_what_was_heard_nor_the_state_of_the_ear(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "e")
        form = app.screen.query_one("#form").region
        assert form.bottom == NARROW[1] and form.y >= app.room.query_one("#read-back").region.bottom
        assert "50 mL" in seen(app, "#read-back")

    shown(begun, act, NARROW)


def test_u_takes_back_what_was_just_done_and_asks_for_what_was_done_long_ago(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "u")
        assert "Nothing was changed by hand." in told(app)
        await keys(pilot, "x", "enter")
        assert app.record.line(1).status == "struck"
        await keys(pilot, "u")
        assert app.record.line(1).status == "stands"
        await keys(pilot, "x", "enter")
        begun.time += (begun.time - begun.session.began) / 2
        await keys(pilot, "u")
        assert "line 1 was struck: gastric volume in 50 mL" in str(app.screen.query_one("#ask", Label).content)
        await keys(pilot, "enter")
        assert app.record.line(1).status == "stands"
        await keys(pilot, "x", "enter")
        app.view.notify(begun.say("scissors at the head of the bed", 2))
        await keys(pilot, "u")
        assert "line 1 was struck" in str(app.screen.query_one("#ask", Label).content), "not what was logged last"

    shown(begun, act)
    assert begun.verified()


@pytest.mark.parametrize("key", ["ctrl+q", "ctrl+c"])
def test_leaving_at_once_asks_while_a_tube_is_in(tmp_path: Path, key: str) -> None:
    begun = well_on(tmp_path)

    async def asks(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, key, key)
        assert not app._exit and "A tube is in." in str(app.screen.query_one("#ask", Label).content)
        await keys(pilot, "escape")
        app.action_do("emergency")
        await keys(pilot, key, "enter")
        assert app._exit

    shown(begun, asks)


def test_leaving_at_once_asks_nothing_without_a_tube(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "ctrl+q")
        assert app._exit

    shown(begun, act)


def test_in_an_emergency_a_question_waits_for_no_answer(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "exclamation_mark", "x")
        assert isinstance(app.screen, Ask)
        await keys(pilot, "k")
        await pilot.pause()
        assert not isinstance(app.screen, (Ask, Form))
        assert app.record.lines[-1].entry.value == "cut"

    shown(begun, act)


def test_a_full_disk_takes_over_the_screen_for_as_long_as_it_lasts(begun: Room) -> None:
    begun.session.ledger.patient = True

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        with pytest.MonkeyPatch.context() as full:
            full.setattr(Case, "_commit", _full)
            app.view.notify(begun.say("gastric one hundred in"))
            await pilot.pause()
            text = " ".join(seen(app, "#read-back").split())
            assert "the disk is full" in text
            assert "✘ NOT SAVING" in seen(app, "#ear")
            assert app.record.line(2).entry.value == 100
        app.view.notify(begun.say("gastric in five zero"))
        await pilot.pause()
        assert "the disk is full" not in seen(app, "#read-back")

    shown(begun, act)
    assert begun.verified()
    assert [fact.entry.value for fact in begun.facts() if isinstance(fact, EntryLogged)] == [50, 100, 50]


def _full(*_: object, **__: object) -> None:
    raise StoreError("the disk is full", "make room")
