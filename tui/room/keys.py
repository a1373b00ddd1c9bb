"""The keys of the room: what each does, and the line of them at the foot of the screen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual.binding import Binding
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

from tui.room.desk import Desk

RARELY = ("identify", "transcribe", "undo", "sound", "play", "again", "note", "strike", "late", "watch", "mode")
"""Keys left out first where there is no room for all: nobody waits for it, and the help lists it."""

BETWEEN = " "

PRINTED = {"question_mark": "?", "exclamation_mark": "!"}


@dataclass(frozen=True, slots=True)
class Key:
    """A key, what it does, and how that is said."""

    key: str
    """As the terminal library names it."""
    does: Callable[[Desk], None]
    word: str
    """For the foot of the screen."""
    sentence: str = ""
    """For the help."""
    priority: bool = False
    """Whether it acts over any page."""

    @property
    def name(self) -> str:
        """Its action, in one word."""
        return self.does.__name__

    @property
    def printed(self) -> str:
        """As it is printed on the keyboard."""
        return PRINTED.get(self.key, self.key)

    @property
    def action(self) -> str:
        """As the terminal library calls it."""
        return f"app.do('{self.name}')"

    @property
    def binding(self) -> Binding:
        """As the terminal library binds it."""
        return Binding(self.key, self.action, self.word, priority=self.priority)


class Foot(Static):
    """All keys if they fit, else those that cannot wait, in one line. A key can be clicked as well."""

    def __init__(self, keys: Sequence[Key]) -> None:
        super().__init__(id="keys")
        self._keys = keys

    def on_resize(self, event: Resize) -> None:
        """The keys that fit now."""
        for leave in range(len(RARELY) + 1):
            line = _line([key for key in self._keys if key.name not in RARELY[:leave]])
            if len(line) <= event.size.width:
                break
        self.update(line)


def _line(keys: Sequence[Key]) -> Content:
    return Content(BETWEEN).join(
        Content.from_markup(f"[@click={key.action}][b]$key[/b] $what[/]", key=key.printed, what=key.word)
        for key in keys
    )
