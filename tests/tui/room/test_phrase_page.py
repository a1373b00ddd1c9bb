"""How something is said, looked up in the room."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Label, Static

from tests.tui.rooms import NARROW, WIDE, Size, keys, shown, well_on
from tui.room.app import RoomApp
from tui.room.phrase_page import PhrasePage, tried
from voice.phrases.phrases import Phrases


@pytest.mark.parametrize("size", [NARROW, WIDE])
def test_what_is_typed_is_looked_up_and_hides_neither_hero_nor_balloons(size: Size, tmp_path: Path) -> None:
    begun = well_on(tmp_path)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        await keys(pilot, "l")
        page = app.screen
        assert isinstance(page, PhrasePage)
        await app.workers.wait_for_complete()
        await keys(pilot, *"terlipressin given 2")
        found = page.query_one("#phrases-found", Static)
        assert [found.content.columns[0]._cells[0].plain] == ["Drug"]  # type: ignore[union-attr]
        assert str(page.query_one("#phrases-meaning", Label).content).startswith("? asked")
        top = page.query_one("#phrases").region.y
        assert app.room.query_one("#balloons").region.bottom <= top
        assert app.room.query_one("#read-back").region.bottom <= top
        assert len(app.record.lines) == 20, "what is tried is not logged"
        await keys(pilot, "escape")
        assert app.screen is app.room

    shown(begun, act, size)


@pytest.mark.parametrize(
    ("typed", "answer"),
    [
        ("", ""),
        ("oesophageal pressure 35", "→ oesophageal pressure 35 mmHg"),
        ("gastric 50", "? asked"),
        ("mind the cable", "no entry yet"),
    ],
)
def test_what_is_typed_is_tried(phrases: Phrases, typed: str, answer: str) -> None:
    assert tried(phrases, typed).startswith(answer)
