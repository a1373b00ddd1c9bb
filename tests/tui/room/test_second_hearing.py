"""At the end of the case one key has every kept sound heard again; what differs is taken or left on the spot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Label

from log.facts.origin import Origin
from log.facts.second_hearing import waiting
from tests.cases import gastric
from tests.tui.live.test_relisten import Parrot, sound
from tests.tui.rooms import Room, drawn, keys, room, shown, told
from tui.room.app import RoomApp
from voice.meaning.matcher import understand
from voice.phrases.phrases import Phrases

SAID = ("gastric one zero zero in", "gastric five zero in", "clamp on the gastric")


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case with three lines that were said, and their sound."""
    begun = room(tmp_path)
    for at, words in enumerate(SAID, start=1):
        meaning = understand(begun.app().phrases, words)
        begun.session.take(meaning, at, at, Origin(heard=words), sound(at))
    begun.time = begun.session.time(60)
    return begun


def on_the_page(app: RoomApp) -> str:
    """What the page of the second hearing says."""
    return "\n".join(drawn(label) for label in app.screen.query(Label))


async def until(pilot: Pilot[None], so: Callable[[], bool]) -> None:
    """Waits for the thread that hears."""
    for _ in range(200):
        await pilot.pause(0.02)
        if so():
            return
    raise AssertionError("it never came")


@contextmanager
def parrot(_: Phrases) -> Iterator[Parrot]:
    """Ears that hear the second line whatever is said."""
    yield Parrot(SAID[1])


async def heard_again(app: RoomApp, pilot: Pilot[None]) -> None:
    """Presses the key and waits until everything was heard."""
    app.second._ears = parrot
    await keys(pilot, "a")
    await until(pilot, lambda: not app.second.running)
    await pilot.pause(0.6)


def test_what_differs_is_taken_left_and_put_back(begun: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await heard_again(app, pilot)
        page = on_the_page(app)
        assert "every kept sound was heard again" in page
        assert "2 differences: 0 reviewed (0 taken, 0 left), 2 remain" in page
        assert "other number. The log: line 1: gastric volume in 100 mL" in page
        assert "Heard again: gastric volume in 50 mL" in page
        await keys(pilot, "p")
        assert len(begun.played) == 1
        await keys(pilot, "t")
        assert begun.session.record.line(1).entry == gastric(50)
        await keys(pilot, "l", *"clamped", "enter", "enter")
        assert not waiting(begun.session.record)
        await keys(pilot, "escape", "u")
        assert "difference 2 was left" in told(app)
        assert len(waiting(begun.session.record)) == 1
        await keys(pilot, "q")
        assert "Second hearing: 1 difference to be reviewed (a)" in on_the_page(app)

    shown(begun, act)
    assert begun.verified()


def test_a_case_without_sound_says_so(tmp_path: Path) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "a")
        assert "No sound is kept" in told(app)

    shown(room(tmp_path), act)
