"""Questions and short forms at the foot of the screen, below what the room has to see: each ends in one fact, or in
none if it is left with escape.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.message import Message
from textual.screen import ModalScreen
from textual.suggester import Suggester
from textual.widgets import Input, Label

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from tui.room.desk import Desk
from tui.room.hand import Hand

Answers = dict[str, str]


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form."""

    label: str
    text: str = ""
    """The text that stands there to begin with."""
    hint: str = ""
    """Shown while it is empty."""
    means: Callable[[str], str] | None = None
    """The typed text in words; raises TamponadeError for what cannot be written down."""
    completed: Callable[[str], str | None] | None = None
    """The typed text, and how it may go on."""


class Ask(ModalScreen[None]):
    """One question: enter does it, once there was time to read; escape leaves it."""

    def __init__(self, question: str, does: Callable[[], None], desk: Desk) -> None:
        super().__init__()
        self._question, self._does, self._desk = question, does, desk

    def compose(self) -> ComposeResult:
        """The question, and what answers it."""
        yield Label(visible(self._question), id="ask", markup=False)
        keys = "[@click=screen.yes]enter: yes[/] · [@click=screen.dismiss]escape: no[/]"
        yield Label(Content.from_markup(keys), id="ask-keys")

    def action_yes(self) -> None:
        """Somebody means it."""
        self.dismiss()
        self._does()

    def on_key(self, event: Key) -> None:
        """In an emergency every other key is meant for that."""
        event.stop()
        if event.key == "enter" and self._desk.hand.calm:
            self.action_yes()
        elif event.key == "escape":
            self.dismiss()
        elif event.key != "enter" and self._desk.alarmed:
            self.dismiss()
            self.app.simulate_key(event.key)


class Finished(Message):
    """The last field is filled in. It goes the way of what is typed there, and comes after it."""


class Form(ModalScreen[None]):
    """Some fields and what is done with them. It stays open, with the reason, until what is given will do."""

    VERTICAL_BREAKPOINTS = [(0, "-low"), (30, "-high")]  # noqa: RUF012  the library's own list
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "leave"),
        Binding("enter", "next", "next", priority=True),
    ]

    def __init__(self, title: str, fields: Mapping[str, Field], done: Callable[[Answers], None], hand: Hand) -> None:
        """`hand`: who presses the keys."""
        super().__init__()
        self._title, self._fields, self._done, self._hand = title, fields, done, hand
        self._early = 0

    def compose(self) -> ComposeResult:
        """Title, fields, and a place for what is wrong."""
        with Vertical(id="form"):
            yield Label(visible(self._title), id="form-title", markup=False)
            with VerticalScroll(id="form-fields", can_focus=False):
                yield from self._rows()
            yield Label("", id="form-wrong", markup=False)
            right = "right: complete · " if any(one.completed for one in self._fields.values()) else ""
            keys = "[@click=screen.next]enter: next field, then done[/] · "
            keys += f"{right}[@click=screen.dismiss]escape: leave it[/]"
            yield Label(Content.from_markup(keys), id="form-keys")

    def _rows(self) -> ComposeResult:
        for name, one in self._fields.items():
            with Horizontal(classes="field"):
                yield Label(visible(one.label), markup=False)
                completes = Completing(one.completed) if one.completed is not None else None
                yield Input(one.text, id=f"field-{name}", placeholder=visible(one.hint), suggester=completes)

    def on_mount(self) -> None:
        """The first empty field is where one types."""
        inputs = list(self.query(Input))
        self.set_focus(next((one for one in inputs if not one.value), inputs[0]))

    def on_key(self, event: Key) -> None:
        """Text that was typed before there was a field comes here, perhaps after text that was typed later."""
        if isinstance(self.focused, Input) and event.is_printable and event.character:
            self.focused.insert(event.character, self._early)
            self.focused.cursor_position = len(self.focused.value)
            self._early += 1

    def on_input_changed(self, event: Input.Changed) -> None:
        """Says what is typed there means, or what is wrong with it."""
        means = self._fields[(event.input.id or "").removeprefix("field-")].means
        text = event.value.strip()
        if means is not None:
            self._say("")
            with self._wrong_is_said():
                self._say(f"→ {means(text)}" if text else "")

    def action_next(self) -> None:
        """Enter goes to the next field before the next key is read, and from the last one writes it down, after all
        that was typed there. Text that is pasted goes nowhere."""
        if not self._hand.one_by_one:
            return
        inputs = list(self.query(Input))
        here = self.focused
        place = inputs.index(here) if isinstance(here, Input) else len(inputs) - 1
        if place + 1 < len(inputs):
            self.set_focus(inputs[place + 1])
        else:
            inputs[place].post_message(Finished())

    def on_finished(self) -> None:
        """Writes it down, or says why not."""
        answers = {name: self.query_one(f"#field-{name}", Input).value.strip() for name in self._fields}
        with self._wrong_is_said():
            self._done(answers)
            self.dismiss()

    @contextmanager
    def _wrong_is_said(self) -> Iterator[None]:
        try:
            yield
        except TamponadeError as error:
            self._say(f"✘ {error}")
        except (ValueError, OverflowError):  # a fact refuses a text that is too long, or no such time
            self._say("✘ this cannot be written down - check times, and shorten what is long")

    def _say(self, what: str) -> None:
        self.query_one("#form-wrong", Label).update(visible(what))
        self.query_one("#form").set_class(bool(what), "-told")


class Completing(Suggester):
    """How what is typed may go on."""

    def __init__(self, completed: Callable[[str], str | None]) -> None:
        super().__init__(case_sensitive=True)
        self._completed = completed

    async def get_suggestion(self, value: str) -> str | None:
        """The whole value, completed."""
        return self._completed(value)
