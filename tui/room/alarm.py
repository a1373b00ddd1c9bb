"""The emergency over the whole screen: nothing else is asked while it is up, and what is said is logged as ever."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from log.basics.visible import visible
from log.facts.record import Record
from log.rules.course import Course
from log.rules.emergency import Call
from tui.room.big import large_lines
from tui.room.keys import Foot, Key
from tui.room.scribe import emergency_over, scratch, talk, tube_cut
from tui.room.theme import look_of
from tui.views.emergency import EmergencyAtAGlance, emergency
from tui.views.last_entry import LastEntry

TITLE_SHARE = 0.4
"""Share of the rows for large figures: the steps have to stay in sight."""

ROOMY = 34
"""Rows from which there is an empty one after each step, and the place of the scissors is drawn large."""

KEYS = (
    Key("k", tube_cut, "the tube is cut"),
    Key("o", emergency_over, "emergency over"),
    Key("space", talk, "talk"),
    Key("x", scratch, "scratch"),
)


class ByHand:
    """An emergency that a key has called, or ended, until that is written down: nobody waits for the disk."""

    def __init__(self) -> None:
        self._call: tuple[Call, datetime] | None = None
        self._over_to: int | None = None
        """The last line that calls the emergency which a key has ended."""

    def call(self, call: Call, at: datetime) -> None:
        """A key calls one."""
        self._call, self._over_to = (call, at), None

    def end(self, up: EmergencyAtAGlance | None) -> None:
        """A key ends the one that is up."""
        self._call, self._over_to = None, up.line if up is not None else None

    def written(self) -> None:
        """The key's entry is in the log."""
        self._call = self._over_to = None

    def up(self, course: Course, record: Record, now: datetime) -> EmergencyAtAGlance | None:
        """The emergency that is up, whether a key or a line has called it."""
        up = emergency(course, record, now, self._call)
        over = up is not None and self._call is None and up.line is not None and up.line == self._over_to
        return None if over else up


class EmergencyPage(Screen[None]):
    """The steps, since when, where the scissors are, what is inflated, and what was heard last."""

    BINDINGS: ClassVar[list[BindingType]] = [key.binding for key in KEYS]

    _shown: tuple[EmergencyAtAGlance, str, LastEntry | None, str] | None = None

    def compose(self) -> ComposeResult:
        """The clock on top, what to do below it, the keys at the foot."""
        yield Static("", id="alarm-head", markup=False)
        yield Static("", id="alarm-title", markup=False)
        with VerticalScroll(id="alarm-steps-box", can_focus=False):
            yield Static("", id="alarm-steps", markup=False)
        yield Static("", id="alarm-facts", markup=False)
        yield Static("", id="alarm-heard", markup=False)
        yield Foot(KEYS)

    def show(self, now: EmergencyAtAGlance, ear: str, last: LastEntry | None, heard: str) -> None:
        """Lays it out anew. `ear`: what the ear is doing; `heard`: what is being said, or was not understood."""
        self._shown = now, ear, last, heard
        if self.is_mounted:
            self._lay_out()

    def on_mount(self) -> None:
        """Shows the state that was set before the page was mounted."""
        self._lay_out()

    def on_resize(self) -> None:
        """As large as there is room now."""
        self._lay_out()

    def _lay_out(self) -> None:
        if self._shown is None:
            return
        now, ear, last, heard = self._shown
        width, height = self.app.size.width - 2, self.app.size.height
        roomy = height >= ROOMY
        head = Text(no_wrap=True, overflow="ellipsis")
        look = look_of(self.app.theme, self.app.no_color)
        head.append(f" EMERGENCY {now.clock} ", look.bar["high"])
        head.append(f" since {now.since:%H:%M:%S}  {ear} ", "bold")
        clock = f"{large_lines(now.clock, width, 3)}\n\n" if roomy else ""
        doubt = f"{visible(now.doubt)}\n" if now.doubt else ""
        title = large_lines(visible(now.title), width, round(height * TITLE_SHARE))
        between = "\n\n" if roomy else "\n"
        steps = between.join(f"{number}  {visible(step)}" for number, step in enumerate(now.steps, start=1))
        for name, text in (
            ("head", head),
            ("title", Text(f"{clock}{doubt}{title}", look.text["high"])),
            ("steps", Text(steps, "bold")),
            ("facts", _facts(now, width if roomy else 0)),
            ("heard", _heard(last, heard)),
        ):
            self.query_one(f"#alarm-{name}", Static).update(text)


def _facts(now: EmergencyAtAGlance, large_width: int) -> Text:
    """Where the scissors are and what is inflated; the place drawn large where there is room."""
    place, _, when = visible(now.scissors).partition(" (")
    drawn = large_lines(place, large_width, 3) if large_width else ""
    text = Text()
    text.append(" SCISSORS ", "bold reverse")
    if "\n" in drawn:
        text.append(f" {when.rstrip(')')}\n{drawn}\n", "bold")
    else:
        text.append(f" {visible(now.scissors)}\n", "bold")
    text.append(" INFLATED ", "bold reverse")
    text.append(f" {visible('; '.join(now.inflated))}", "bold")
    return text


def _heard(last: LastEntry | None, heard: str) -> Text:
    text = Text(no_wrap=True, overflow="ellipsis")
    if heard:
        text.append(visible(heard), "italic")
    elif last is not None:
        standing = "asked: waits" if last.standing == "ASKED" else last.standing.lower()
        value = f" {visible(last.value)}" if last.value else ""
        text.append(f"heard last: {last.number} · {visible(last.what)}{value} ({standing})")
    return text
