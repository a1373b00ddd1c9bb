"""The first start on a machine: can the microphone hear, and which limits are in force. Two screens, once; escape skips
them, and so does everybody who has no hand free.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

import platformdirs
from textual import on
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import Static

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.definition.load import InForce, config_folder
from log.store.files import private_folder, write_private
from tui.views.sound_check import PHRASE

GOES_ON_AFTER = 30
"""Seconds without a key."""

LINES = 8
"""Of the sound check that stay on the screen."""

FOOT = "enter: next · escape: skip both, and listen"

Check = Callable[[Callable[[str], None]], object]
"""Runs the sound check, and says line by line what to do and what came of it."""


class Line(Message):
    """A line of the sound check."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text


class FirstStart(App[None]):
    """The microphone, then the local protocol."""

    CSS = "FirstStart { align: center middle; } #page { width: 76; max-width: 100%; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "next", priority=True),
        Binding("escape,q,ctrl+q,ctrl+c", "skip", priority=True),
    ]

    def __init__(self, in_force: InForce, check: Check, stop: Callable[[], None]) -> None:
        """`stop`: ends the sound check from another thread."""
        super().__init__()
        self._in_force, self._check, self._stop = in_force, check, stop
        self._heard: list[str] = []
        self._second = False

    def compose(self) -> ComposeResult:
        """One page at a time."""
        yield Static("", id="page", markup=False)

    def on_ready(self) -> None:
        """Begins to hear."""
        threading.Thread(target=self._hear, name="first sound check", daemon=True).start()
        self.set_timer(GOES_ON_AFTER, self.action_skip)
        self._show()

    def action_next(self) -> None:
        """The second page, or the room."""
        if self._second:
            self.action_skip()
        self._second = True
        self._show()

    def action_skip(self) -> None:
        """The room."""
        self._stop()
        self.exit()

    @on(Line)
    def _said(self, line: Line) -> None:
        bars = self._heard and self._heard[-1].startswith("  ") and line.text.startswith("  ")
        self._heard[-1 if bars else len(self._heard) :] = [line.text]
        self._show()

    def _hear(self) -> None:
        try:
            self._check(self._say)
        except TamponadeError as error:
            self.post_message(Line(f"✘ {error}"))

    def _say(self, text: str) -> None:
        self.post_message(Line(text))

    def _show(self) -> None:
        page = local_protocol(self._in_force) if self._second else self._microphone()
        self.query_one("#page", Static).update(f"{page}\n\n{FOOT}")

    def _microphone(self) -> str:
        heard = "\n".join(map(visible, self._heard[-LINES:]))
        return f'1 of 2 · THE MICROPHONE\n\nIt is tried with: "{PHRASE}"\n\n{heard}'


def local_protocol(in_force: InForce) -> str:
    """Which limits are in force, and how a hospital sets its own."""
    name, override = in_force.procedure.id, in_force.override
    if override is not None:
        own = f"In force: the local changes that {override.approved_by} approved on {override.approved_on}."
    else:
        file = config_folder() / f"{name}.toml"
        own = f"None yet: the shipped limits are in force.\n\nYours would be {file}.\nSee it as the room would: "
        own += "tamponade procedures review FILE"
    return f"2 of 2 · LOCAL PROTOCOL\n\n{visible(in_force.procedure.title)}\n\n{own}"


def seen_before() -> bool:
    """Whether somebody has seen the two screens on this machine; where that cannot be known, they are not shown."""
    try:
        return _mark().exists()
    except OSError:
        return True


def remember_seen() -> None:
    """Never again."""
    with contextlib.suppress(OSError):
        private_folder(_mark().parent)
        write_private(_mark(), b"")


def _mark() -> Path:
    return platformdirs.user_state_path("tamponade-log") / "first-start-seen"
