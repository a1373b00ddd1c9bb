"""Every key, by what one wants to do, and the card of how to speak, on one screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

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
    ("To write down what was not heard", ("late", "note", "transcribe", "identify")),
    ("Findings, and the watch over the placed tube", ("acknowledge", "watch", "chart")),
    ("To be heard", ("talk", "mode", "sound", "again", "play")),
    ("To find help and to leave", ("help_page", "leave")),
)
"""Task -> the names of its keys."""


def keys_text(keys: Sequence[Key], look: Look) -> Text:
    """Every key by what one wants to do, a line or two each."""
    named = {key.name: key for key in keys}
    text = Text()
    for title, names in GROUPS:
        text.append(f"{title}\n", "bold")
        for name in names:
            printed = named[name].printed
            text.append(f" {printed:<6}", look.text["low"])
            text.append(f"{named[name].sentence}\n")
    text.append("arrows or mouse: choose a line. escape: leave a form or this page. ctrl+p: search.", look.soft)
    return text


def card_text(procedure: Procedure, look: Look) -> Text:
    """The card of how to speak, then the cautions."""
    text = Text()
    text.append("How to speak to the log\n", "bold")
    for line in advice(procedure):
        text.append(f"{line}\n")
    for way in ways(procedure):
        text.append(f"{way.about}  ", look.text["low"])
        text.append(", ".join(f'"{example}"' for example in way.examples) + "\n")
    text.append(" ".join(procedure.cautions), look.soft)
    return text


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
