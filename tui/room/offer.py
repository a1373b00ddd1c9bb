"""The first thing after a start while a tube is in: its case is gone on with, unless somebody wants a new one."""

from __future__ import annotations

from typing import ClassVar, Literal

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from log.basics.visible import visible
from log.scribe.opening import Unfinished
from tui.room.big import large_words

Choice = Literal["go on", "new", "leave"]

GOES_ON_AFTER = 10
"""Seconds without an answer: nobody may have a hand for the keyboard."""

ROWS = 7


class Offer(App[Choice]):
    """One question, with an answer if nobody gives one."""

    CSS = "Offer { align: center middle; } #offer { width: 100%; content-align: center middle; text-align: center; }"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose('go on')", priority=True),
        Binding("n", "choose('new')"),
        Binding("escape,q,ctrl+q,ctrl+c", "choose('leave')", priority=True),
    ]

    def __init__(self, found: Unfinished, seconds: int = GOES_ON_AFTER) -> None:
        """`seconds`: after which the case is gone on with."""
        super().__init__()
        self._found, self._left = found, seconds

    def compose(self) -> ComposeResult:
        """The question."""
        yield Static("", id="offer", markup=False)

    def on_ready(self) -> None:
        """Begins to count."""
        self.set_interval(1.0, self._count)

    def on_resize(self) -> None:
        """As large as there is room."""
        self._show()

    def action_choose(self, choice: Choice) -> None:
        """Somebody answers."""
        self.exit(choice)

    def _count(self) -> None:
        self._left -= 1
        if self._left <= 0:
            self.exit("go on")
        self._show()

    def _show(self) -> None:
        drawn = large_words("tube in", self.size.width, ROWS)
        label = f" · {visible(self._found.label)}" if self._found.label else ""
        keys = f"enter: go on · n: new case · goes on by itself in {self._left} s"
        text = f"{drawn}\n\n{self._found.in_words}{label}\n\n{keys}"
        self.query_one("#offer", Static).update(text)
