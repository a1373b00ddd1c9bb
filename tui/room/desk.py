"""The room as keys and forms see it: the case, somebody who writes it, and what can be shown."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Protocol

from textual.screen import ModalScreen

from log.basics.errors import TamponadeError
from log.facts.line import Line
from log.facts.record import Record
from log.rules.emergency import Call
from log.scribe.session import Session
from log.summaries.whole import Whole
from tui.live.listening import LiveCase
from tui.live.second import Second
from tui.live.writing import Doing
from tui.room.hand import Hand
from voice.phrases.phrases import Phrases


class Desk(Protocol):
    """Where the scribe works. The session is for the thread that writes; `record` is what the screen shows."""

    session: Session
    phrases: Phrases
    scribe: str
    """Who signs unless another author is given."""
    hand: Hand
    """Who presses the keys."""
    second: Second
    """The second hearing."""
    listening: LiveCase | None
    """None where nothing is listened to."""
    play: Callable[[bytes], None] | None
    """Plays a FLAC file, where something can."""

    @property
    def record(self) -> Record:
        """The case as the screen shows it."""
        ...

    def whole(self) -> Whole:
        """The case as the screen shows it, up to now, without its chain."""
        ...

    @property
    def time(self) -> datetime:
        """The time in the room."""
        ...

    @property
    def tube_in(self) -> bool:
        """Whether the log says that a tube is in."""
        ...

    @property
    def alarmed(self) -> bool:
        """Whether the page of an emergency is up."""
        ...

    @property
    def row(self) -> int:
        """The row of the log under the cursor, from 0; negative where there is none."""
        ...

    @property
    def checked_shown(self) -> bool:
        """Whether a line on the sound is shown."""
        ...

    def write(self, what: Doing) -> None:
        """Has it written; returns when it is on disk. Raises TamponadeError."""
        ...

    def open(self, form: ModalScreen[None]) -> None:
        """Shows a form or the help over the screen."""
        ...

    def say(self, text: str) -> None:
        """Says something to whoever sits at the keyboard."""
        ...

    def ask(self, question: str, does: Callable[[], None]) -> None:
        """Asks once before something is done; a question that is asked already is not asked twice."""
        ...

    def failed(self, error: TamponadeError) -> None:
        """Says what everybody in the room has to know."""
        ...

    def called(self, call: Call | None) -> None:
        """Shows an emergency that is called by hand, or takes it away, before that is written down."""
        ...

    def show_ear(self) -> None:
        """Shows how things stand with hearing."""
        ...

    def show_check(self, line: str) -> None:
        """Shows a line on the sound, or "" for none."""
        ...

    def change_watch(self) -> None:
        """Shows the watch over a placed tube, or again what the placing needs."""
        ...

    def leave(self) -> None:
        """Ends listening and closes the case."""
        ...


def chosen(desk: Desk, fits: Callable[[Line], bool], otherwise: str) -> Line | None:
    """The line under the cursor if it fits, else the newest that does."""
    lines = desk.record.lines
    under = [lines[desk.row]] if 0 <= desk.row < len(lines) else []
    found = next((line for line in (*under, *reversed(lines)) if fits(line)), None)
    if found is None:
        desk.say(otherwise)
    return found
