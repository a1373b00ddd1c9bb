"""The keys of the room: what each does, and the line of them at the foot of the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from tui.room.desk import Desk
from tui.views.hero import Hero

ALWAYS = ("emergency", "help_page", "leave")
"""Keys that always stand at the foot."""

FOR: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "question": ("answer", "scratch", "amend"),
        "not understood": ("talk", "phrase_page", "late"),
        "trouble": ("again", "late", "note"),
        "paused": ("pause", "late", "note"),
        "high": ("acknowledge", "scratch", "amend"),
        "due": ("watch", "chart", "late"),
        "pressures": ("watch", "chart", "late"),
        "nothing": ("talk", "phrase_page", "identify"),
        "entry": ("scratch", "undo", "amend"),
    }
)
"""Thing that matters now -> the keys of the moment; the help lists all."""

BETWEEN = "   "

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
    """The keys of the moment, at most six, in one line. A key can be clicked as well."""

    def __init__(self, keys: Sequence[Key]) -> None:
        super().__init__(id="keys")
        self._keys = {key.name: key for key in keys}
        self._shown: tuple[str, ...] = ()

    def on_mount(self) -> None:
        """All of them, where there are no more than six."""
        if len(self._keys) <= len(ALWAYS) * 2:
            self._put(tuple(self._keys))

    def show(self, hero: Hero) -> None:
        """The keys that go with what matters now."""
        self._put((ALWAYS[0], *FOR.get(hero.hero, ()), *ALWAYS[1:]))

    def _put(self, names: tuple[str, ...]) -> None:
        if names != self._shown:
            self._shown = names
            self.update(_line([self._keys[name] for name in names if name in self._keys]))


def _line(keys: Sequence[Key]) -> Content:
    return Content(BETWEEN).join(
        Content.from_markup(f"[@click={key.action}][b]$key[/b] $what[/]", key=key.printed, what=key.word)
        for key in keys
    )
