"""Every key, by what one wants to do, and the card of how to speak, on one screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from log.definition.procedure import Procedure
from tui.room.keys import Key
from tui.room.theme import Look, look_of
from voice.english.how_to_speak import advice, ways

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("When the tube blocks the airway", ("emergency",)),
    ("To answer and put right", ("answer", "scratch", "undo", "amend", "strike")),
    ("To write down what was not heard", ("late", "note", "transcribe", "hear_again", "identify")),
    ("Findings, and the watch over the placed tube", ("acknowledge", "watch", "chart")),
    ("To be heard", ("talk", "pause", "phrase_page", "mode", "sound", "again", "play")),
    ("To find help and to leave", ("help_page", "leave")),
)
"""Task -> the names of its keys."""


def keys_text(keys: Sequence[Key], look: Look) -> Group:
    """Every key by what one wants to do, a line or two each."""
    named = {key.name: key for key in keys}
    parts: list[RenderableType] = [Text("escape: back. arrows or mouse: choose a line. ctrl+p: search.", look.soft)]
    for title, names in GROUPS:
        rows = [(f" {named[name].printed}", named[name].sentence) for name in names]
        parts += [Text(title, "bold"), _indented(rows, 6, look)]
    return Group(*parts)


def card_text(procedure: Procedure, look: Look) -> Group:
    """The card of how to speak, then the cautions."""
    said = [(way.about, ", ".join(f'"{example}"' for example in way.examples)) for way in ways(procedure)]
    return Group(
        Text("How to speak to the log", "bold"),
        *map(Text, advice(procedure)),
        _indented(said, max(len(about) for about, _ in said), look),
        Text(" ".join(procedure.cautions), look.soft),
    )


def _indented(rows: Sequence[tuple[str, str]], width: int, look: Look) -> Table:
    """Names stand on the left, their explanations on the right, however many lines these take."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(width=width, style=look.text["low"])
    table.add_column()
    for name, text in rows:
        table.add_row(Text(name), Text(text))
    return table


class Help(ModalScreen[None]):
    """Every key, and how to speak, side by side where there is room."""

    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (100, "-wide")]  # noqa: RUF012  the library's own list
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,question_mark,q", "dismiss", "back")]

    def __init__(self, procedure: Procedure, keys: Sequence[Key]) -> None:
        super().__init__()
        self._procedure, self._keys = procedure, keys

    def compose(self) -> ComposeResult:
        """Both, to scroll where they do not fit."""
        look = look_of(self.app.theme, self.app.no_color)
        with VerticalScroll(id="help"), Container(id="help-columns"):
            yield Static(keys_text(self._keys, look), id="help-keys", markup=False)
            yield Static(card_text(self._procedure, look), id="help-card", markup=False)
