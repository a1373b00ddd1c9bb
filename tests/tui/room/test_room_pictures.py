"""Pictures of the room's screen in each of its states, with a clock that stands still: at both usual sizes, and some at
those of a large screen, light, and without colour.

They lie in `pictures`. After a wanted change write them anew with TAMPONADE_GOLDEN=write, and look at them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from log.basics.entry import Entry, Question, Understood
from log.basics.errors import StoreError
from log.facts.origin import Origin
from log.scribe.session import Clip
from tests.tui.rooms import NARROW, WIDE, Room, Size, keys, room, shown_of, well_on
from tui.room.app import RoomApp
from voice.sound.audio import flac

PICTURES = Path(__file__).parent / "pictures"
LARGEST = 96_000
PAINTED_WITHIN = 4
"""Looks at the screen: a busy machine paints the last change late."""

Act = Callable[[Room, RoomApp, Pilot[None]], Awaitable[None]]


async def _listening(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.showing.db = -28.0


async def _empty(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("starting")


async def _word(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.view.notify(begun.say("x-ray confirms gastric position"))


async def _asked(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.view.notify(begun.say("gastric in fifty"))


async def _struck(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("hearing")
    app.view.notify(begun.say("scratch that"))
    await pilot.pause()
    app.view.partial("log oesophageal pressure")


async def _missed(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("lost", "the microphone was unplugged")
    app.view.notify(begun.say("mind the cable please"))


async def _paused(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("paused", "paused by hand at 14:17:05")


async def _overdue(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.notify(begun.say("oesophageal pressure three two"))
    begun.time += timedelta(hours=26)
    app.view.notify(begun.gap(9, "the microphone was unplugged"))
    app.view.notify(begun.session.look(26.5 * 3600))
    app.view.state("muted", "our own voice is speaking")


async def _acknowledged(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("waiting for the key")
    await keys(pilot, "f", *"manometer off", "enter", "enter")


async def _amend(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    await keys(pilot, "e", *"gastric", "enter", "enter", "enter", "enter")


async def _late(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await keys(pilot, "n", *"tube secured")


async def _help(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await pilot.press("question_mark")


async def _look_up(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    await keys(pilot, "l", *"gastric pre")
    await app.workers.wait_for_complete()


async def _team(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await pilot.press("i")


async def _end(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await pilot.press("q")


async def _failed(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("stopped", "end of the recording")
    app.view.failed(StoreError("the disk is full", "make room, then enter what is missing as late entries"))


async def _emergency(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.view.notify(begun.say("scissors at the head of the bed"))
    app.view.notify(begun.say("airway emergency"))
    begun.time += timedelta(seconds=75)
    app.view.notify(begun.say("gastric out fifty"))


async def _emergency_in_doubt(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("hearing")
    at = (begun.time - begun.session.began).total_seconds()
    asked = Question(candidates=(Entry(kind="emergency", value="cut"),), why="indistinct", text="unclear")
    app.view.notify(begun.session.take(Understood(items=(asked,)), at, at, Origin(heard="cut")))


async def _placed(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.view.notify(begun.say("oesophageal pressure three five"))


async def _watch(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    app.view.notify(begun.say("bleeding stopped"))
    for words in ("four zero", "three nine", "three eight", "three seven", "three six"):
        app.view.notify(begun.say(f"oesophageal pressure {words}", later=1800))
    begun.time += timedelta(minutes=70)
    await keys(pilot, "w")


async def _chart(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await _watch(begun, app, pilot)
    for words in ("pressure two two", "pressure one eight", "in five zero", "pressure two one"):
        app.view.notify(begun.say(f"gastric {words}", later=5400))
    app.view.notify(begun.say("oesophageal balloon deflated", later=2400))
    await keys(pilot, "v")


async def _pair(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("listening")
    for words in ("companion aspirate four five", "red cells two units in", "heart rate one one eight"):
        app.view.notify(begun.say(words, 600))
    app.view.notify(begun.say("blood pressure ninety over fifty"))


async def _taking_a_note(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    app.view.state("hearing")
    begun.time += timedelta(seconds=10)
    at = (begun.time - begun.session.began).total_seconds()
    announced = Understood(items=(Entry(kind="note", value="follows"),))
    app.view.notify(begun.session.take(announced, at, at, Origin(heard="log take a note")))
    begun.time += timedelta(seconds=4)


async def _note_ended(begun: Room, app: RoomApp, pilot: Pilot[None]) -> None:
    await _taking_a_note(begun, app, pilot)
    at = (begun.time - begun.session.began).total_seconds()
    speech = Clip(flac(bytes(2 * 6 * 16_000)), 6.0)
    app.view.state("listening")
    app.view.notify(begun.session.keep_note(at, at + 6, Origin(), speech))
    begun.time += timedelta(seconds=11)


STATES: dict[str, tuple[Callable[[Path], Room], Act]] = {
    "nothing-yet": (room, _empty),
    "pressure-too-high": (well_on, _listening),
    "word": (well_on, _word),
    "asked": (well_on, _asked),
    "pair": (well_on, _pair),
    "taking-a-note": (well_on, _taking_a_note),
    "note-ended": (well_on, _note_ended),
    "struck": (well_on, _struck),
    "not-understood": (well_on, _missed),
    "paused": (well_on, _paused),
    "overdue": (well_on, _overdue),
    "acknowledged": (well_on, _acknowledged),
    "amend": (well_on, _amend),
    "late": (well_on, _late),
    "help": (well_on, _help),
    "look-up": (well_on, _look_up),
    "team": (well_on, _team),
    "end": (well_on, _end),
    "emergency": (well_on, _emergency),
    "emergency-in-doubt": (well_on, _emergency_in_doubt),
    "placed": (well_on, _placed),
    "watch": (well_on, _watch),
    "chart": (well_on, _chart),
    "failed": (well_on, _failed),
}


Look = tuple[str, Size, str]
"""A state, a size, and "" or what is unusual about the colours."""

ONE_SIZE = ("late", "team", "end", "placed", "word")
"""States whose forms or panels look the same where it is narrow."""

OF_WORDS = ("look-up",)
"""States that change with the words of the definition, which have tests of their own."""

LOOKS: tuple[Look, ...] = (
    *((state, WIDE, "") for state in STATES if state not in OF_WORDS),
    *((state, NARROW, "") for state in STATES if state not in (*ONE_SIZE, *OF_WORDS)),
    ("pressure-too-high", (160, 48), ""),
    ("watch", (160, 48), ""),
    ("asked", (200, 60), ""),
    ("asked", WIDE, "light"),
    ("overdue", WIDE, "light"),
    ("pressure-too-high", WIDE, "no-colour"),
    ("asked", NARROW, "no-colour"),
)


@pytest.mark.slow
@pytest.mark.parametrize(("state", "size", "colours"), LOOKS, ids=lambda part: str(part) or "dark")
def test_the_screen_looks_as_in_its_picture(
    state: str, size: Size, colours: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if colours == "no-colour":
        monkeypatch.setenv("NO_COLOR", "1")
    begin, act = STATES[state]
    begun = begin(tmp_path)
    taken: list[str] = []

    async def acted(app: RoomApp, pilot: Pilot[None]) -> None:
        await act(begun, app, pilot)
        for field in app.screen.query(Input):
            field.cursor_blink = False
        for _ in range(PAINTED_WITHIN):
            await pilot.pause()
            app.picture.lay_out()
            await pilot.pause()
            taken.append(plain(app.export_screenshot(simplify=True)))
            if path.exists() and taken[-1] == path.read_text(encoding="utf-8"):
                break

    path = PICTURES / f"{'-'.join(filter(None, (state, str(size[0]), colours)))}.svg"
    shown_of(begun.app(light=colours == "light"), acted, size)
    begun.session.case.close()
    if os.environ.get("TAMPONADE_GOLDEN") == "write":
        PICTURES.mkdir(exist_ok=True)
        path.write_text(taken[-1], encoding="utf-8")
    assert len(taken[-1].encode()) < LARGEST
    assert taken[-1] == path.read_text(encoding="utf-8")


def plain(svg: str) -> str:
    """The picture without the number that the library draws for each of them, fonts from elsewhere and clipping."""
    for without in (
        r"@font-face \{.*?\}",
        r"<!--.*?-->",
        r'<clipPath id="[^"]*-line-.*?</clipPath>',
        r' clip-path="[^"]*-line-[^"]*"',
        r' shape-rendering="crispEdges"',
        r' textLength="[^"]*"(?=[^>]*>&#160;</text>)',
        r"<text[^>]*>(&#160;)*\n?</text>",
    ):
        svg = re.sub(without, "", svg, flags=re.DOTALL)
    return re.sub(r"\n\s*", "\n", re.sub(r"terminal-\d+", "room", svg))
