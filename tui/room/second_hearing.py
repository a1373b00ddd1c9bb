"""The second hearing at the foot of the screen: how far it has come, and each difference to be taken or left."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Label

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.facts.events import DifferenceHeard
from log.facts.second_hearing import reviewed
from log.scribe.correct import Correction
from log.words.second_hearing import heard_now, log_says, progress_in_words
from tui.room import forms
from tui.room.desk import Desk
from tui.room.sounds import play_sounds

KEYS = (
    "[@click=screen.take]t: take it[/] · [@click=screen.leave]l: leave it[/] · [@click=screen.play]p: play[/] · "
    "arrows: another · [@click=screen.dismiss]escape: back[/]"
)


class SecondHearing(ModalScreen[None]):
    """One difference at a time, beside the line that it is about. It stays until somebody leaves it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,a,q", "dismiss", "back"),
        Binding("t", "take", "take"),
        Binding("l", "leave", "leave"),
        Binding("p", "play", "play"),
        Binding("down", "turn(1)", "next"),
        Binding("up", "turn(-1)", "before"),
    ]

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk, self._place = desk, 0

    def compose(self) -> ComposeResult:
        """How far it has come, the log, and what is heard now."""
        with Vertical(id="second"):
            yield Label("", id="second-progress", markup=False)
            yield Label("", id="second-log", markup=False)
            yield Label("", id="second-heard", markup=False)
            yield Label(Content.from_markup(KEYS), id="second-keys")

    def on_mount(self) -> None:
        """Kept up with the hearing, which goes on."""
        self._draw()
        self.set_interval(0.5, self._draw)

    def action_turn(self, by: int) -> None:
        """Another difference."""
        self._place += by
        self._draw()

    def action_take(self) -> None:
        """Changes the log as it was heard now; a draft of words is read and corrected first."""
        one = self._shown
        if one is None:
            return
        if one.differs == "words":
            self._desk.open(forms.confirm_draft(self._desk, one))
            return
        by = Correction(self._desk.scribe, "", self._desk.time)
        try:
            self._desk.write(lambda session: session.take_difference(one.difference, by))
        except TamponadeError as error:
            self._desk.failed(error)
        self._draw()

    def action_leave(self) -> None:
        """Leaves the log as it is, with a reason."""
        one = self._shown
        if one is not None:
            self._desk.open(forms.leave_difference(self._desk, one))

    def action_play(self) -> None:
        """The sound in which it was heard."""
        one = self._shown
        if one is not None and one.origin.sound is not None:
            play_sounds(self._desk, [one.origin.sound])

    @property
    def _waiting(self) -> tuple[DifferenceHeard, ...]:
        found = reviewed(self._desk.record)
        return found.waiting if found is not None else ()

    @property
    def _shown(self) -> DifferenceHeard | None:
        waits = self._waiting
        return waits[self._place % len(waits)] if waits else None

    def _draw(self) -> None:
        procedure, record, one = self._desk.session.procedure, self._desk.record, self._shown
        found = reviewed(record)
        come = (self._desk.second.progress, progress_in_words(found) if found is not None else "")
        progress = " · ".join(text for text in come if text)
        then = f"{one.said_at:%H:%M:%S}  {one.differs}. The log: {log_says(procedure, record, one)}" if one else ""
        now = f"Heard again: {heard_now(procedure, one)}" if one else "No difference waits."
        for name, text in (("progress", progress), ("log", then), ("heard", now)):
            self.query_one(f"#second-{name}", Label).update(visible(text))
