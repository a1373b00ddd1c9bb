"""The two screens of the first start: seen once, skipped with one key, and never in the way."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from log.basics.errors import EngineError
from tests.cases import definition
from tui.room.first_start import FirstStart, remember_seen, seen_before

Act = Callable[[FirstStart, Pilot[None]], Awaitable[None]]


def page(app: FirstStart) -> str:
    return str(app.query_one("#page").render())


def shown(act: Act, *lines: str, error: EngineError | None = None) -> threading.Event:
    """Does something in front of it while a sound check says these lines; whether that was ended."""
    stopped = threading.Event()

    def check(echo: Callable[[str], None]) -> None:
        for line in lines:
            echo(line)
        if error is not None:
            raise error

    async def run() -> None:
        app = FirstStart(definition()[0], check, stopped.set)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            await act(app, pilot)

    asyncio.run(run())
    return stopped


def test_the_microphone_then_the_limits_then_the_room() -> None:
    async def act(app: FirstStart, pilot: Pilot[None]) -> None:
        await pilot.pause()
        text = page(app)
        assert "THE MICROPHONE" in text and "gastric pressure two zero" in text
        assert "  ## -40 dB" in text and "  # -60 dB" not in text, "the level moves in its place"
        await pilot.press("enter")
        assert "LOCAL PROTOCOL" in page(app) and "None yet" in page(app)
        await pilot.press("enter")
        assert app._exit

    assert shown(act, "Be silent", "  # -60 dB", "  ## -40 dB").is_set()


def test_one_key_skips_both() -> None:
    async def act(app: FirstStart, pilot: Pilot[None]) -> None:
        await pilot.press("escape")
        assert app._exit

    assert shown(act).is_set()


def test_what_is_wrong_with_the_microphone_is_said() -> None:
    async def act(app: FirstStart, pilot: Pilot[None]) -> None:
        await pilot.pause()
        assert "✘ nothing is heard - unmute it" in page(app)

    shown(act, error=EngineError("nothing is heard", "unmute it"))


def test_they_are_shown_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert not seen_before()
    remember_seen()
    assert seen_before()
