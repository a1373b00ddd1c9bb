"""Which keys stand at the foot of the screen, and what those for hearing do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

import pytest
from textual.pilot import Pilot

from log.scribe.session import Session
from tests.tui.rooms import Room, keys, room, seen, shown, told
from tui.live.listening import LiveCase
from tui.live.view import Mode
from tui.room.app import RoomApp
from tui.room.help import GROUPS
from tui.room.keys import ALWAYS, FOR
from tui.room.scribe import KEYS
from voice.sound.sound_check import ADVICE, SoundCheckResult


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case without lines."""
    return room(tmp_path)


@dataclass
class FakeListening:
    """Remembers what the keys want of it."""

    asked: list[str] = field(default_factory=list)
    mode: Mode = "lead word"
    coming: Mode | None = None
    lead_word: str | None = "log"
    failed: bool = False
    paused: bool = False

    def start(self) -> None:
        """Does nothing."""

    def done(self, what: Callable[[Session], object]) -> None:
        """Does nothing."""

    do = done

    def change_mode(self, mode: Mode, by: str) -> None:
        self.asked.append(f"{mode} for {by}")
        self.coming = mode

    def pause(self) -> None:
        self.paused = True

    def go_on(self) -> None:
        self.paused = False

    def check_again(self) -> None:
        self.asked.append("check")

    def listen_again(self) -> bool:
        self.asked.append("again")
        return self.failed


def listened(app: RoomApp) -> FakeListening:
    """Puts a listening that only remembers behind the screen."""
    fake = FakeListening()
    app.listening = cast(LiveCase, fake)
    return fake


def test_the_foot_shows_the_keys_of_the_moment_and_never_more_than_six(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert seen(app, "#keys") == "! EMERGENCY   space talk   l look up   i team   ? help   q end"
        app.view.notify(begun.say("gastric in fifty"))
        await pilot.pause()
        assert seen(app, "#keys").split("   ")[1] == "c confirm"
        app.view.notify(begun.say("confirm"))
        app.view.state("lost", "unplugged")
        await pilot.pause()
        assert seen(app, "#keys").split("   ")[1] == "r retry"

    shown(begun, act)


def test_each_moment_has_keys_that_there_are() -> None:
    assert {name for names in FOR.values() for name in names} <= {key.name for key in KEYS}
    assert all(len(names) + len(ALWAYS) <= 6 for names in FOR.values())


def test_a_key_at_the_foot_can_be_clicked(begun: Room) -> None:
    begun.say("gastric in five zero")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await pilot.click("#keys", offset=(seen(app, "#keys").index("x scratch") + 2, 0))
        await keys(pilot, "enter")
        assert app.record.line(1).status == "struck"

    shown(begun, act)


def test_every_key_has_a_place_and_a_sentence_in_the_help() -> None:
    assert sorted(name for _, names in GROUPS for name in names) == sorted(key.name for key in KEYS)
    assert all(key.sentence.endswith(".") for key in KEYS)


def test_m_asks_for_the_next_way_and_the_top_line_says_what_is_coming(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        fake = listened(app)
        app.view.state("listening")
        await keys(pilot, "m")
        assert seen(app, "#ear").endswith('say "log" first ... changing to push to talk')
        await keys(pilot, "m")
        fake.mode, fake.coming, fake.lead_word = "open", None, None
        await keys(pilot, "m")
        assert fake.asked == ["push to talk for scribe", "open for scribe", "lead word for scribe"]
        assert "just speak ... changing to lead word" in seen(app, "#ear")

    shown(begun, act)


def test_b_pauses_until_it_is_pressed_again_or_an_emergency_is_called(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        fake = listened(app)
        await keys(pilot, "b")
        assert fake.paused
        app.view.state("paused", "paused by hand at 14:00:05")
        await pilot.pause()
        assert "○ PAUSED" in seen(app, "#ear")
        assert "paused by hand at 14:00:05" in seen(app, "#read-back")
        assert seen(app, "#keys").split("   ")[1] == "b pause / go on"
        await keys(pilot, "b")
        assert not fake.paused
        await keys(pilot, "b", "exclamation_mark")
        assert not fake.paused and app.alarmed

    shown(begun, act)


def test_s_takes_the_line_on_the_sound_away_and_asks_for_another(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        fake = listened(app)
        app.view.checked(SoundCheckResult("too noisy", -40, None, None, 0.0, ADVICE["too noisy"]))
        await pilot.pause()
        assert seen(app, "#check").strip().startswith("TOO NOISY: Bring the microphone within a hand of the mouth")
        await keys(pilot, "s")
        assert not app.query_one("#check").display and fake.asked == []
        await keys(pilot, "s")
        assert fake.asked == ["check"] and "Measuring" in seen(app, "#check")

    shown(begun, act)


def test_r_listens_again_or_says_why_not(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        fake = listened(app)
        await keys(pilot, "r")
        assert "looking for the microphone" in told(app)
        fake.failed = True
        await keys(pilot, "r")
        assert "Trying to listen again" in told(app)

    shown(begun, act)
