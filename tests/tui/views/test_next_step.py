"""What comes next by the protocol is shown wherever somebody looks: screen, status, page, note."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from log.exports.note import as_note
from log.store import case as store
from log.summaries.whole import whole
from tests.tui.rooms import NARROW, WIDE, Room, Size, room, seen, shown
from tui.room.app import RoomApp
from tui.serve.page import standing
from tui.views.bedside import answer_to, bedside

BEFORE = (
    "time-out, who does what, consent, kit complete, scissors at the bed, airway secured, "
    "waveform capnography, head of the bed up, gastric leak test, oesophageal leak test, pressures outside, "
    "both balloons flat, companion tube marked above both balloons"
)
"""What comes before the tube goes in."""


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case without lines."""
    return room(tmp_path)


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_what_comes_next_stands_in_one_line_with_what_to_say(begun: Room, size: Size) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert seen(app, "#next") == 'NEXT: time-out  say: "time out done"'
        app.view.notify(begun.say("tube in"))
        await pilot.pause()
        assert seen(app, "#next").startswith('NEXT: depth of the tube  say: "tube at five five at the lips"   ')
        assert seen(app, "#next").endswith(
            "13 not logged" if size == NARROW else "not logged: time-out, who does what and 11 more"
        )
        assert app.query_one("#next").size.height == 1

    shown(begun, act, size)


def test_the_status_names_what_comes_next(begun: Room) -> None:
    begun.say("tube in")
    told = answer_to("status", bedside(begun.session.course, begun.session.record, begun.time))
    assert told[-2:] == [
        'next: depth of the tube; say: "tube at five five at the lips"',
        f"not logged: {BEFORE}",
    ]


def test_page_and_note_name_it_too(begun: Room) -> None:
    begun.say("tube in")
    case = whole(store.read(begun.folder, "bay-4"))
    page = standing(case)["next"]
    assert "<b>depth of the tube</b>" in page and f"not logged: {BEFORE[:80]}" in page
    note = as_note(case)
    assert "| Next by the protocol | depth of the tube |" in note
    assert f"| Earlier steps not logged | {BEFORE} |" in note
