"""The screen on which a case is kept: what is heard comes in as messages, what the keys do goes to the thread that
writes, and the room's page shows how things stand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import ClassVar

from textual import on
from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.events import Event, Key, MouseDown, Resize
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.facts.events import ClockCorrected
from log.facts.record import Record
from log.rules.emergency import Call
from log.scribe.session import Session, wall_clock
from log.store.identifiers import Identifiers
from log.summaries.whole import Whole
from tui.live.listening import LiveCase
from tui.live.second import Second
from tui.live.writing import Doing
from tui.room import alarm
from tui.room.dialogs import Ask
from tui.room.endings import when_ended_from_outside
from tui.room.hand import Hand
from tui.room.messages import Checked, EarChanged, Failed, Grown, Loudness, Messenger, Partly, RehearsalOver
from tui.room.page import RoomPage
from tui.room.palette import commands
from tui.room.picture import Picture
from tui.room.scribe import KEYS, WHILE_ALARMED, close
from tui.room.showing import Showing, not_understood, of_an_emergency, played, touched
from tui.room.theme import DARK, LIGHT
from tui.views.bedside import answer_to
from tui.views.read_back import unverified
from tui.views.sound_check import in_one_line
from voice.phrases.phrases import Phrases

DOES = {key.name: key.does for key in (*KEYS, *alarm.KEYS)} | {"close": close}
"""Actions of the keys, by their names."""


UNHURRIED = ("emergency", "talk")
"""Keys that act however fast they come: the one of an emergency, and the one that is held down."""


class RoomApp(App[None]):
    """The room: shows what is heard, and is the desk of the scribe."""

    CSS_PATH = "room.tcss"
    TITLE = "tamponade log"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        *(key.binding for key in KEYS),
        Binding("ctrl+e", "app.do('emergency', True)", priority=True, show=False),
        Binding("ctrl+q,ctrl+c", "app.do('close', True)", priority=True, show=False),
    ]

    def __init__(
        self,
        session: Session,
        phrases: Phrases,
        scribe: str,
        play: Callable[[bytes], None] | None = None,
        now: Callable[[], datetime] | None = None,
        watching: bool = False,
        light: bool = False,
    ) -> None:
        """`play`: plays a FLAC file; `now`: the time in the room, for tests; `watching`: begins with the watch;
        `light`: dark on light."""
        super().__init__()
        for look in (DARK, LIGHT):
            self.register_theme(look.theme)
        self.theme = LIGHT.name if light else DARK.name
        self.session, self.phrases, self.scribe, self.play = session, phrases, scribe, play
        self.showing = Showing(session.record, session.course)
        self.view = Messenger(session, self.post_message)
        """For the threads that hear and write."""
        self.listening: LiveCase | None = None
        self.why_ended = "ended by the scribe"
        self.picture = Picture(self, watching)
        self.hand = Hand()
        self._now = now
        self.second = Second(session, phrases, self._write_from_anywhere, self._somebody_speaks, lambda: self.time)

    def get_default_screen(self) -> Screen[None]:
        """The room's page."""
        return RoomPage(self.session.procedure, KEYS)

    @property
    def room(self) -> RoomPage:
        """The page below any form."""
        page = self.screen_stack[0]
        assert isinstance(page, RoomPage)
        return page

    async def on_event(self, event: Event) -> None:
        """A key that is held down does nothing more."""
        if isinstance(event, MouseDown):
            self.hand.clicks()
        if not isinstance(event, Key) or event.is_forwarded or self.hand.takes(event.key, event.time):
            await super().on_event(event)

    def on_ready(self) -> None:
        """Begins to listen once there is something to see."""
        self.room.table.fill(self.record.lines)
        self.room.table.focus()
        when_ended_from_outside(self.leave)
        self.picture.lay_out()
        self.set_interval(1.0, self.picture.lay_out)
        for doubt in self.session.doubts[:1]:
            self.show_check(f"{unverified(doubt)} (s: away)")
        if self.listening is not None:
            self.listening.start()

    def on_resize(self, event: Resize) -> None:
        """Makes the best of the room there is."""
        self.room.fit(event.size, self.record)
        self.call_after_refresh(self.picture.lay_out)

    # ---- messages from the other threads ----------------------------------------------------------------------------

    @on(EarChanged)
    def _ear_changed(self, message: EarChanged) -> None:
        self.showing.ear, self.showing.why = message.state, message.why
        if message.state == "lost":
            self.bell()
        self.show_ear()
        self.picture.show_hero()
        self.picture.show_alarm()

    @on(Loudness)
    def _loudness(self, message: Loudness) -> None:
        self.showing.db, self.showing.clipped = message.db, message.clipped
        self.show_ear()

    @on(Checked)
    def _checked(self, message: Checked) -> None:
        if self.session.doubts and self.checked_shown:
            return  # what is wrong with the case stays until somebody has read it
        self.show_check(visible(f"{in_one_line(message.result)} (s: away)"))

    @on(Partly)
    def _partly(self, message: Partly) -> None:
        if self.showing.said(message.words):
            self.picture.show_hero()
            self.picture.show_alarm()

    @on(Grown)
    def _grown(self, message: Grown) -> None:
        self.showing.grown(message.facts, message.record, message.course)
        if any(isinstance(fact, ClockCorrected) for fact in message.facts):  # that moves every line
            self.room.table.fill(message.record.lines)
        for number in touched(message.facts):
            self.room.table.put(self.record.line(number))
        if of_an_emergency(message.facts):
            self.picture.by_hand.written()
        if played(message.facts) or not_understood(message.facts):
            self.bell()
        self.picture.lay_out()
        if not self.alarmed:  # what somebody asks of the log can be asked again
            for kind in message.asked:
                self._answer(kind)

    def _answer(self, kind: str) -> None:
        if kind == "repeat":
            self.showing.turn_to_the_newest()
            self.picture.show_hero()
        else:
            lines = "\n".join(map(visible, answer_to(kind, self.showing.bedside(self.time))))
            self.notify(lines, title=visible(kind.replace("_", " ")), timeout=15, markup=False)

    @on(RehearsalOver)
    def _rehearsal_over(self) -> None:
        self.say("The rehearsal is over. q, then enter: the score is shown in the terminal.")

    @on(Failed)
    def _failed(self, message: Failed) -> None:
        """Shown in full until somebody has read it."""
        self.bell()
        self.notify(visible(str(message.error)), title="SOMETHING FAILED", severity="error", timeout=30, markup=False)

    # ---- for the scribe's keys and forms: a Desk --------------------------------------------------------------------

    @property
    def record(self) -> Record:
        """The case as the screen shows it."""
        return self.showing.record

    def whole(self) -> Whole:
        """The case as the screen shows it, up to now, without its chain."""
        record, course = self.record, self.showing.course
        assert record.opened is not None
        return Whole(course.procedure, record.opened, record, course, (), None, Identifiers(), self.time)

    @property
    def time(self) -> datetime:
        """The time in the room."""
        if self._now is not None:
            return self._now()
        return self.listening.time if self.listening else wall_clock()

    @property
    def tube_in(self) -> bool:
        """Whether the log says that a tube is in."""
        return self.showing.course.end.situation.tube_in

    @property
    def alarmed(self) -> bool:
        """Whether the page of an emergency is up."""
        return self.picture.alarm is not None

    @property
    def row(self) -> int:
        """The row of the log under the cursor, from 0."""
        return self.room.table.cursor_row

    @property
    def checked_shown(self) -> bool:
        """Whether a line on the sound is shown."""
        return self.room.checked_shown

    def write(self, what: Doing) -> None:
        """Has it written by the one thread that writes; without listening this is the only one.

        Raises TamponadeError when it cannot be.
        """
        if self.listening is not None:
            self.listening.done(what)
        else:
            self.view.notify(what(self.session))

    def _write_from_anywhere(self, what: Doing) -> None:
        """For the second hearing, which has a thread of its own. Raises RuntimeError once the screen is gone."""
        self.call_from_thread(self.write, what)

    def _somebody_speaks(self) -> bool:
        return self.showing.ear == "hearing"

    def open(self, form: ModalScreen[None]) -> None:
        """Shows a form or the help over the page."""
        self._clear_the_foot()
        self.push_screen(form)

    def _clear_the_foot(self) -> None:
        """What was said in passing hides neither a question nor a form; what has failed stays until it is read."""
        for notice in list(self._notifications):
            if notice.severity != "error":
                self._unnotify(notice)

    def ask(self, question: str, does: Callable[[], None]) -> None:
        """Asks once at the foot of the screen."""
        if not isinstance(self.screen, Ask):
            self._clear_the_foot()
            self.push_screen(Ask(question, does, self))

    def say(self, text: str) -> None:
        """Says something to whoever sits at the keyboard."""
        self.notify(visible(text), markup=False)

    def failed(self, error: TamponadeError) -> None:
        """Says what everybody in the room has to know."""
        self.view.failed(error)

    def called(self, call: Call | None) -> None:
        """Shows or takes away the page of an emergency before anything is written down."""
        self.picture.called(call)

    def show_ear(self) -> None:
        """The state of the ear, how loud it is, and how one has to speak."""
        self.picture.show_ear()

    def show_check(self, line: str) -> None:
        """A line on how well the room can be heard, or "" for none."""
        self.room.show_check(line)

    def change_watch(self) -> None:
        """Shows the watch, or what the placing needs."""
        self.picture.watching.change()
        self.picture.lay_out()

    def recolour(self, theme: str) -> None:
        """Another of the room's themes."""
        self.theme = theme
        self.picture.lay_out()

    def leave(self, why: str = "ended by the scribe") -> None:
        """Ends the screen."""
        self.second.stop()
        self.why_ended = why
        self.exit()

    # ---- keys -------------------------------------------------------------------------------------------------------

    def action_do(self, what: str, typing: bool = False) -> None:
        """A key and its action. `typing`: it is not a letter, so it acts while somebody types."""
        if not (typing or what in UNHURRIED or self.hand.one_by_one):
            return  # pasted where a terminal does not mark it, or where its marks were broken
        if what != "talk":  # which is held down while one talks
            self.hand.acts()
        DOES[what](self)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While somebody types, letters are letters; while an emergency is up, most keys do nothing."""
        if action != "do":
            return not (self.alarmed and action == "command_palette")
        what, *typing = parameters
        if self.alarmed and what not in (*WHILE_ALARMED, *(key.name for key in alarm.KEYS)):
            return False
        return bool(typing) or not isinstance(self.focused, Input)

    def get_system_commands(self, screen: Screen[object]) -> Iterator[SystemCommand]:
        """The command palette has every key."""
        return commands(self, KEYS)
