"""The keys at the foot of the screen: all if they fit, else those that cannot wait. The help tells of every one."""

from __future__ import annotations

from collections.abc import Iterable

from textual.binding import Binding
from textual.content import Content
from textual.events import Resize
from textual.widgets import Static

RARELY = ("identify", "write_out", "sound", "play", "again", "note", "strike", "late", "watch", "mode")
"""What is left out first where there is no room for all: nobody waits for it, and the help tells of it."""

BETWEEN = " "


class Keys(Static):
    """One line; a key can be clicked as well."""

    def __init__(self, bindings: Iterable[Binding]) -> None:
        super().__init__(id="keys")
        self._keys = tuple(bindings)

    def on_resize(self, event: Resize) -> None:
        """What fits now."""
        for leave in range(len(RARELY) + 1):
            line = _line(one for one in self._keys if one.action not in RARELY[:leave])
            if len(line) <= event.size.width:
                break
        self.update(line)


def _line(bindings: Iterable[Binding]) -> Content:
    return Content(BETWEEN).join(
        Content.from_markup(
            f"[@click=app.{binding.action}][b]$key[/b] $what[/]", key=key_name(binding), what=binding.description
        )
        for binding in bindings
    )


def key_name(binding: Binding) -> str:
    """A key as it is printed on the keyboard."""
    return binding.key.replace("question_mark", "?").replace("exclamation_mark", "!")
