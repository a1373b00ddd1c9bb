"""The watch in the room: offered and never forced, at both sizes, beside what may not be hidden; in lines."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import cast

import pytest
from textual.pilot import Pilot

from log.watch.due import watch
from log.words.wording import WHEN
from tests.log.watched import at, pressures, watched
from tests.tui.rooms import NARROW, WIDE, Room, Size, keys, room, seen, shown, shown_of, well_on
from tui.live.listening import LiveCase
from tui.room.app import RoomApp
from tui.room.plain import PlainRoom
from tui.views.watch import OFFER, attending, is_placed, key, news

HOURLY = ("overdue", "due")


@pytest.fixture
def placed(tmp_path: Path) -> Room:
    """A tube in place for two hours, read half-hourly; its mark has not been looked at."""
    begun = well_on(tmp_path)
    begun.say("bleeding stopped")
    for words in ("four zero", "three nine", "three eight", "three seven", "three six"):
        begun.say(f"oesophageal pressure {words}", later=1800)
    return begun


# ---- what it holds ------------------------------------------------------------------------------------------------


def test_it_tells_what_the_watch_finds_the_most_urgent_first() -> None:
    course = watched((0.0, "volume_in oesophageal 60"), *pressures(40, 39, 38, 37, 36, 35))
    now = at(6.3)
    found, told = watch(course, now), attending(course, now)
    assert [(one.id, one.word, one.due_at) for one in told.due] == [
        (item.id, WHEN[item.when], item.due_at) for item in found.items
    ]
    first = told.most_urgent
    assert first is not None and first.when == "overdue"
    assert told.waiting == sum(item.when in HOURLY for item in found.items)
    assert told.first_line == f"{first.line} (and {told.waiting - 1} more)"
    about = [what for what, _ in told.state]
    assert {"gastric", "oesophageal", "step-down", "leak"} <= set(about)


def test_a_higher_priority_comes_first_of_what_is_overdue() -> None:
    course = watched((0.0, "balloon oesophageal up"))
    first = attending(course, at(30)).most_urgent
    assert first is not None and first.level != "low"


def test_without_a_tube_there_is_nothing_to_watch() -> None:
    course = watched((1.0, "traction - off"), (1.1, "balloon gastric down"), (1.2, "tube - out"))
    told = attending(course, at(2))
    assert not told.placed and list(told.lines) == ["no tube is in according to the log: nothing to watch"]
    assert not is_placed(course)


def test_the_step_down_in_one_line() -> None:
    course = watched((0.0, "volume_in oesophageal 60"), (0.1, "pressure oesophageal 40"), (0.2, "bleeding - stopped"))
    assert dict(attending(course, at(1)).state)["step-down"].startswith("from 40 mmHg; to come 35 at ")


def test_it_is_placed_once_traction_is_on_and_until_it_is_off() -> None:
    assert is_placed(watched())
    assert not is_placed(watched((1.0, "traction - off")))


def test_only_what_has_become_due_is_news() -> None:
    course = watched()
    before, due, overdue = (attending(course, at(hours)) for hours in (0.9, 1.01, 1.3))
    assert not news((), before, at(0.9))
    first = news((), due, at(1.01))
    assert {one.id for one in first} >= {"traction", "mark"} and all(one.when == "due" for one in first)
    assert not news([key(one) for one in due.due], due, at(1.02))
    late = news([key(one) for one in due.due], overdue, at(1.3))
    assert {one.id for one in late} >= {"traction", "mark"} and all(one.when == "overdue" for one in late)


# ---- the screen -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
def test_it_is_offered_and_w_shows_it(placed: Room, size: Size) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert seen(app, "#due").strip() == OFFER
        assert not app.room.query_one("#watch-box").display
        placed.time += timedelta(hours=1, minutes=20)
        await keys(pilot, "w")
        app.picture.lay_out()
        await pilot.pause()
        where = "#watch" if size == WIDE else "#read-back"
        assert "OVERDUE" in seen(app, where) and "traction: mass and kind" in seen(app, where)
        if size == WIDE:
            text = " ".join(seen(app, "#watch").split())
            assert all(word in text for word in ("gastric up", "oesophageal up", "step-down", "leak", "mmHg/h"))
            assert "▅▅" in text and "3:50 h" in text, "the pressure as a curve, since it was read first"
            assert app.room.query_one("#glance").display and app.room.query_one("#findings").display
        else:
            assert not app.room.query_one("#due").display, "what is overdue is said once"
            assert "MEDIUM" in seen(app, "#urgent"), "what is open stays in sight"
        assert "36 mmHg" in seen(app, "#read-back"), "the last entry stays in sight"
        await keys(pilot, "w")
        assert not app.room.query_one("#due").display, "it is offered no more"
        assert not app.room.query_one("#watch-box").display

    shown(placed, act, size)


def test_a_question_stays_in_sight_beside_it(placed: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "w")
        app.view.notify(placed.say("gastric in fifty", later=60))
        await pilot.pause()
        text = " ".join(seen(app, "#read-back").split())
        assert "? ASKED" in text and 'Say "confirm" for 50 mL, "one five" for 15 mL.' in text

    for size in (WIDE, NARROW):
        shown(placed, act, size)


def test_nothing_is_offered_while_it_is_placed(tmp_path: Path) -> None:
    begun = room(tmp_path)
    begun.say("tube passed")

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert not app.room.query_one("#due").display
        await keys(pilot, "w")
        assert "OVERDUE" not in seen(app, "#watch")

    shown(begun, act)


def test_it_can_begin_with_it_and_the_palette_has_it(placed: Room) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert app.room.query_one("#watch-box").display
        assert "Watch" in [command.title for command in app.get_system_commands(app.screen)]

    shown_of(placed.app(watching=True), act)


# ---- in lines -----------------------------------------------------------------------------------------------------


def test_in_lines_due_tells_all_and_each_thing_once_when_it_is_due(
    placed: Room, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    view = PlainRoom(placed.session)
    monkeypatch.setattr("tui.room.plain.wall_clock", lambda: placed.time)

    def later(minutes: float, then: Callable[[], None]) -> str:
        placed.time += timedelta(minutes=minutes)
        capsys.readouterr()
        then()
        return capsys.readouterr().out

    later(0, view.look)  # what was overdue before anybody looked is announced once
    due = later(60.5, view.look)
    told = due.splitlines()
    assert len(told) == 2 and all(line.startswith("-- DUE NOW") for line in told)
    assert "since the last oesophageal pressure" in due and "oesophageal pressure down to 35 mmHg" in due
    assert later(1, view.look) == ""
    assert "-- OVERDUE" in later(15, view.look)
    whole = later(0, lambda: view.typed("due", cast(LiveCase, None)))
    assert (
        "-- OVERDUE" in whole and "-- next" in whole and "-- step-down: " in whole and "-- leak: oesophageal" in whole
    )
