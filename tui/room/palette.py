"""The commands that can be looked for by name: every key, and what has none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual.app import SystemCommand

from tui.room.keys import Key
from tui.room.scribe import MODES, change_mode
from tui.room.theme import DARK, LIGHT

if TYPE_CHECKING:
    from tui.room.app import RoomApp


def commands(app: RoomApp, keys: Sequence[Key]) -> Iterator[SystemCommand]:
    """All of them, for the palette of the room."""
    for key in keys:
        yield SystemCommand(key.word.capitalize(), f"key {key.printed}", partial(app.run_action, key.action))
    for look in (DARK, LIGHT):
        yield SystemCommand(f"Screen: {look.name.removeprefix('room-')}", "colours", partial(app.recolour, look.name))
    for mode in MODES:
        yield SystemCommand(f"Listen: {mode}", "how entries have to be said", partial(change_mode, app, mode))
