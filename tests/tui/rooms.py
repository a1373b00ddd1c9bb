"""A room for tests: a real case in a real store, typed words through the real matcher, a clock that stands still."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from textual.pilot import Pilot
from textual.widget import Widget

from log.facts.events import Fact
from log.facts.origin import Origin
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.cases import BEGAN, GOOD, definition
from tui.room.app import RoomApp
from tui.room.hand import Hand
from voice.meaning.matcher import Listening, understand

Size = tuple[int, int]
WIDE, NARROW = (120, 40), (80, 24)

NAME = "bay-4"

MIDDLE = tuple(words for words in GOOD if words[0] <= 1040)
"""A case up to an oesophageal pressure that is too high."""


@dataclass
class Room:
    """A case that goes on by itself."""

    folder: Path
    session: Session
    time: datetime
    played: list[bytes] = field(default_factory=list)

    def say(self, words: str, later: float = 10, heard: str | None = None) -> tuple[Fact, ...]:
        """Said so many seconds later."""
        self.time += timedelta(seconds=later)
        at = (self.time - self.session.began).total_seconds()
        meaning = understand(definition()[1], words, Listening(question_open=self.session.asked(at)))
        return self.session.take(meaning, at, at, Origin(by="typed", author="scribe", heard=heard or words))

    def gap(self, seconds: float, reason: str) -> tuple[Fact, ...]:
        """Nothing was heard."""
        self.time += timedelta(seconds=seconds)
        return self.session.gap((self.time - self.session.began).total_seconds() - seconds, seconds, reason)

    def app(self, watching: bool = False, light: bool = False) -> RoomApp:
        """Its screen."""
        app = RoomApp(self.session, definition()[1], "scribe", self.played.append, lambda: self.time, watching, light)
        app.hand = Hand(0, 0, 0)  # as fast as it likes
        return app

    def facts(self) -> tuple[Fact, ...]:
        """What is on disk."""
        return store.read(self.folder, NAME).facts

    def verified(self) -> bool:
        """Whether what is on disk is what was written."""
        return not problems(self.folder)


def problems(folder: Path) -> tuple[object, ...]:
    """Why the case on disk is not what was written; none if it is."""
    return verify(folder / f"{NAME}{SUFFIX}").problems


def room(folder: Path, name: str = "three-lumen") -> Room:
    """A new one."""
    in_force, _ = definition(name)
    session = open_case(folder, NAME, in_force, "typed", Keeping(author="scribe", label="bay 4"), BEGAN)
    return Room(folder, session, BEGAN)


def well_on(folder: Path) -> Room:
    """One in which nearly everything has been placed, and a pressure is too high."""
    begun = room(folder)
    for second, words, *_ in MIDDLE:
        assert isinstance(words, str)
        begun.say(words, second - (begun.time - BEGAN).total_seconds())
    return begun


def shown(begun: Room, act: Callable[[RoomApp, Pilot[None]], Awaitable[None]], size: Size = WIDE) -> None:
    """Does something in front of the screen."""
    shown_of(begun.app(), act, size)


def shown_of(app: RoomApp, act: Callable[[RoomApp, Pilot[None]], Awaitable[None]], size: Size = WIDE) -> None:
    """The same for a screen that a test has made itself; it is left as a user leaves it."""

    async def run() -> None:
        async with app.run_test(size=size, notifications=True) as pilot:
            await pilot.pause()
            await act(app, pilot)
            app.exit()  # otherwise the screen's clock may still tick while the screen is taken down

    asyncio.run(run())


async def keys(pilot: Pilot[None], *pressed: str) -> None:
    """Pressed no faster than the focus moves on a machine that is busy."""
    for key in pressed:
        await pilot.press(key)
        await pilot.pause()


def seen(app: RoomApp, where: str) -> str:
    """What stands in a part of the room's page."""
    return drawn(app.room.query_one(where, Widget))


def drawn(part: Widget) -> str:
    """What stands in it, line by line."""
    return "\n".join(part.render_line(row).text.rstrip() for row in range(part.size.height))


def told(app: RoomApp) -> str:
    """What the notices say."""
    return "\n".join(f"{notice.title} {notice.message}" for notice in app._notifications)
