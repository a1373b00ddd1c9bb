"""Short forms the scribe fills in: each ends in one fact, or in none if it is left with escape."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Label, Markdown

from log.basics.errors import TamponadeError
from log.basics.visible import visible

Answers = dict[str, str]

MANY = 5
"""Fields from which on each takes one line only."""


class Form(ModalScreen[None]):
    """Some fields and what is done with them. It stays open, with the reason, until what is given will do."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss", "leave")]

    def __init__(
        self,
        title: str,
        fields: dict[str, tuple[str, str]],
        done: Callable[[Answers], None],
        button: str = "Write it down",
    ) -> None:
        """`fields`: name -> label and what stands there to begin with."""
        super().__init__()
        self._title, self._fields, self._done, self._button = title, fields, done, button

    def compose(self) -> ComposeResult:
        """Title, fields, button, and a place for what is wrong."""
        many = "-many" if len(self._fields) > MANY else ""
        with VerticalScroll(id="form", classes=many, can_focus=False):
            yield Label(visible(self._title), id="form-title", markup=False)
            for name, (label, text) in self._fields.items():
                with Container(classes="field"):
                    yield Label(visible(label), markup=False)
                    yield Input(text, id=f"field-{name}")
            yield Label("", id="form-wrong", markup=False)
            with Horizontal(id="form-buttons"):
                yield Button(self._button, variant="primary", id="form-done")
                yield Label("  enter: next field, then done · escape: leave it", id="form-keys", markup=False)

    def on_mount(self) -> None:
        """The first empty field is where one types; without fields enter is enough."""
        empty = (self.query_one(f"#field-{name}", Input) for name, (_, text) in self._fields.items() if not text)
        next(empty, self.query("Input, Button").first()).focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter goes to the next field, and from the last one writes it down."""
        inputs = list(self.query(Input))
        place = inputs.index(event.input)
        if place + 1 < len(inputs):
            inputs[place + 1].focus()
        else:
            self._finish()

    def on_button_pressed(self) -> None:
        """Writes it down."""
        self._finish()

    def _finish(self) -> None:
        answers = {name: self.query_one(f"#field-{name}", Input).value.strip() for name in self._fields}
        try:
            self._done(answers)
        except TamponadeError as error:
            self._wrong(str(error))
        except (ValueError, OverflowError):  # a fact refuses a text that is too long, or no such time
            self._wrong("this cannot be written down - check times, and shorten what is long")
        else:
            self.dismiss(None)

    def _wrong(self, why: str) -> None:
        wrong = self.query_one("#form-wrong", Label)
        wrong.update(f"✘ {visible(why)}")
        wrong.add_class("-told")
        wrong.scroll_visible()


class Help(ModalScreen[None]):
    """Every key, and what can be said."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,question_mark,q", "dismiss", "back")]

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text

    def compose(self) -> ComposeResult:
        """One page to scroll."""
        with VerticalScroll(id="help"):
            yield Markdown(self._text, open_links=False)
