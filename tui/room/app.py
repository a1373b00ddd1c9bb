"""The screen on which a case is kept: read back large for the operator, a table of the log for the scribe."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import Resize
from textual.widgets import Static

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.facts.events import (
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    NotUnderstoodHeard,
    QuestionAnswered,
    SimulationPlayed,
)
from log.rules.course import Course
from log.rules.emergency import Call
from tui.live.view import Mode, State
from tui.room.alarm import EmergencyPage
from tui.room.keys import Keys
from tui.room.messages import Checked, EarChanged, Failed, Grown, Loudness, Partly, RehearsalOver
from tui.room.panels import (
    EAR,
    Ear,
    Findings,
    Glance,
    NextStep,
    ReadBackPanel,
    Simulation,
    SpokenNotes,
    Urgent,
    spoken_how,
)
from tui.room.scribe import Scribe, bindings_of
from tui.room.table import LogTable
from tui.room.trend import Trends
from tui.room.watch import DueLine, WatchPanel
from tui.views.bedside import Bedside, NextAtAGlance, answer_to, bedside
from tui.views.emergency import EmergencyAtAGlance, emergency
from tui.views.last_entry import last_entry
from tui.views.simulation import banner, latest, newest
from tui.views.sound_check import in_one_line
from tui.views.watch import OFFER, Attending, Told, attending, is_placed, key, news
from voice.meaning.matcher import asked_of_the_log
from voice.meaning.verdict import Hearing
from voice.sound.endpoint import level_db
from voice.sound.sound_check import SoundCheckResult

SMALL = 110
"""Columns below which there is only room for the scribe's table."""

TALL = 34
"""Lines from which there is room for the curves."""

LOOK_EVERY = timedelta(seconds=5)
"""Between two looks at what is due."""

LEVEL_EVERY = 6
"""Frames between two readings of the meter: five a second."""

CLIPPED = 32_700

ENDINGS = {signal.SIGINT: "ended from outside", signal.SIGTERM: "ended from outside"}
if hasattr(signal, "SIGHUP"):
    ENDINGS[signal.SIGHUP] = "the terminal was closed"


class RoomApp(Scribe):
    """The room: a View of what is heard, with the scribe's keys."""

    CSS_PATH = "room.tcss"
    TITLE = "tamponade log"
    ENABLE_COMMAND_PALETTE = True

    _state: tuple[State, str] = ("starting", "")
    _level = (-100.0, False)
    _frames = 0
    _partial = _missed = ""
    _called: tuple[Call, datetime] | None = None
    """An emergency that was called by hand and may not be written down yet."""
    _over_to: int | None = None
    """The last line that calls the emergency which a key has ended, until that is written down."""
    _attending: Attending | None = None
    _looked: tuple[Course | None, datetime] = (None, datetime.min)
    """Of which course, and when, it was looked what is due."""
    _told_due: frozenset[Told] | None = None
    """What was due when it was looked last."""
    _touched: int | None = None
    """The line that is read back; None for the newest."""

    def compose(self) -> ComposeResult:
        """State on top, read-back and glance in the middle, the log below."""
        yield Simulation(id="simulation")
        yield Ear(id="ear")
        yield Static(visible(in_short(self.session.procedure.cautions)), id="caution", markup=False)
        with Horizontal(id="above"):
            with Vertical(id="left"):
                yield ReadBackPanel(id="read-back")
                yield Trends(id="trends")
                with VerticalScroll(id="watch-box", can_focus=False):
                    yield WatchPanel(id="watch")
            with Vertical(id="right"):
                yield Glance(id="glance")
                with VerticalScroll(id="findings-box", can_focus=False):
                    yield Findings(id="findings")
        yield Static("", id="check", markup=False)
        yield DueLine(id="due", classes="-empty")
        yield SpokenNotes(id="spoken-notes")
        yield NextStep(id="next")
        yield Urgent(id="urgent")
        yield LogTable(self.session.procedure)
        yield Keys(bindings_of(self.BINDINGS))

    def on_mount(self) -> None:
        """Begins to listen once there is something to see."""
        table = self.room.query_one(LogTable)
        for line in self.record.lines:
            table.put(line)
        table.focus()
        loop = asyncio.get_running_loop()
        for stop, why in ENDINGS.items():
            with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):  # not on every system
                loop.add_signal_handler(stop, self._ended_from_outside, why)
        self._lay_out()
        self.set_interval(1.0, self._lay_out)
        if self.listening is not None:
            self.listening.start()

    def on_resize(self, event: Resize) -> None:
        """A narrow terminal is the scribe's alone."""
        self.room.set_class(event.size.width < SMALL, "-small")
        self.room.set_class(event.size.height < TALL, "-low")
        self.room.set_class(bool(banner(self.record)), "-played")
        self.call_after_refresh(self._lay_out)

    def _ended_from_outside(self, why: str) -> None:
        self.why_ended = why
        self.exit()

    # ---- told by the other threads: a View ------------------------------------------------------------------------

    def state(self, state: State, why: str = "") -> None:
        """What the ear is doing."""
        self.post_message(EarChanged(state, why))

    def level(self, pcm: bytes) -> None:
        """A frame of sound; a few a second are enough for the meter."""
        self._frames += 1
        if self._frames % LEVEL_EVERY == 0:
            self.post_message(Loudness(level_db(pcm), _clipped(pcm)))

    def partial(self, words: str) -> None:
        """What is being said."""
        self.post_message(Partly(words))

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it."""
        self.post_message(Grown(facts, self.session.record, self.session.course, asked_of_the_log(hearing.meaning)))

    def told(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said."""
        self.post_message(Grown(facts, self.session.record, self.session.course))

    def checked(self, result: SoundCheckResult) -> None:
        """How well the room can be heard."""
        self.post_message(Checked(result))

    def show_check(self, line: str) -> None:
        """A line on how well the room can be heard, or "" for none."""
        shown = self.room.query_one("#check", Static)
        shown.update(line)
        shown.set_class(bool(line), "-told")

    def rehearsal_over(self) -> None:
        """What was played has come to its end."""
        self.post_message(RehearsalOver())

    def failed(self, error: TamponadeError) -> None:
        """Something that the people in the room have to know."""
        self.post_message(Failed(error))

    @on(EarChanged)
    def _ear_changed(self, message: EarChanged) -> None:
        self._state = message.state, message.why
        if message.state == "lost":
            self.bell()
        self.show_ear()
        self._show_alarm()

    @on(Loudness)
    def _loudness(self, message: Loudness) -> None:
        self._level = message.db, message.clipped
        self.show_ear()

    @on(Checked)
    def _checked(self, message: Checked) -> None:
        self.show_check(visible(f"{in_one_line(message.result)} (s: away)"))

    @on(Partly)
    def _partly(self, message: Partly) -> None:
        if (self._partial, self._missed) == (message.words, ""):
            return
        self._partial, self._missed = message.words, ""
        self._show_last()
        self._show_alarm()

    @on(Grown)
    def _grown(self, message: Grown) -> None:
        self.record, self.course = message.record, message.course
        if not all(isinstance(fact, SimulationPlayed) for fact in message.facts):  # they must not hide what was missed
            self._partial = self._missed = ""
        table = self.room.query_one(LogTable)
        for fact in message.facts:
            match fact:
                case EntryLogged() | EntryAsked() | QuestionAnswered() | EntryAmended() | EntryStruck():
                    self._touched = fact.number
                    table.put(self.record.line(fact.number))
                case NotUnderstoodHeard(origin=origin, reason=reason):
                    self._missed = f'NOT LOGGED: "{origin.heard}" ({reason})'
                case SimulationPlayed(hidden=False):
                    self.bell()
                case _:
                    pass
        question = self.record.open_question
        of_an_emergency = any(isinstance(f, EntryLogged) and f.entry.kind == "emergency" for f in message.facts)
        if of_an_emergency:
            self._called = self._over_to = None
        if question is not None and (of_an_emergency or any(isinstance(fact, EntryAsked) for fact in message.facts)):
            self._touched = question.number  # what waits for an answer comes before what was logged in the same breath
        self._lay_out()
        if self.alarmed:
            return  # what somebody asks of the log can be asked again
        for kind in message.asked:
            if kind == "repeat":
                self._touched = None
                self._show_last()
            else:
                told = "\n".join(map(visible, answer_to(kind, self._now_at_the_bedside())))
                self.notify(told, title=visible(kind.replace("_", " ")), timeout=15, markup=False)

    @on(RehearsalOver)
    def _rehearsal_over(self) -> None:
        self._say("The rehearsal is over. q, then enter: the score is shown in the terminal.")

    @on(Failed)
    def _failed(self, message: Failed) -> None:
        """Told in full, until somebody has read it."""
        self.bell()
        self.notify(visible(str(message.error)), title="SOMETHING FAILED", severity="error", timeout=30, markup=False)

    # ---- an emergency -----------------------------------------------------------------------------------------------

    @property
    def alarmed(self) -> bool:
        """Whether the page of an emergency is up."""
        return self._page is not None

    @property
    def _page(self) -> EmergencyPage | None:
        return next((screen for screen in self.screen_stack if isinstance(screen, EmergencyPage)), None)

    def called(self, call: Call | None) -> None:
        """Shows or takes away the page before anything is written down."""
        up = self._emergency()
        self._called = (call, self.time) if call is not None else None
        self._over_to = up.line if call is None and up is not None else None
        self._lay_out()

    def _emergency(self) -> EmergencyAtAGlance | None:
        up = emergency(self.course, self.record, self.time, self._called)
        over = up is not None and self._called is None and up.line is not None and up.line == self._over_to
        return None if over else up

    def _show_alarm(self) -> None:
        now, page = self._emergency(), self._page
        if now is None:
            if page is not None and self.screen is page:
                self.pop_screen()
            return
        if page is None:
            page = EmergencyPage()
            self.bell()
            self.clear_notifications()
            self.push_screen(page)
        last = last_entry(self.course, self.record, len(self.record.lines) or None)
        heard = f"… {self._partial}" if self._partial else f"✘ {self._missed}" if self._missed else ""
        page.show(now, EAR[self._state[0]], last, heard)

    # ---- laying out -------------------------------------------------------------------------------------------------

    def _now_at_the_bedside(self) -> Bedside:
        return bedside(self.course, self.record, self.time, hearing=self._state[0] == "hearing")

    def _lay_out(self) -> None:
        self._show_alarm()
        now = self._now_at_the_bedside()
        small = self.room.has_class("-small")
        played = newest(self.record) if small else tuple(latest(self.record, 3))
        self.room.query_one(Simulation).show(banner(self.record), played)
        self.room.query_one(Glance).show(now)
        self.room.query_one(Findings).show(now)
        self.room.query_one(Urgent).show(now)
        self.room.query_one(NextStep).show(self._next(now))
        self.room.query_one(SpokenNotes).show(now.note)
        self.room.query_one(Trends).show(self.course, self.time)
        self._show_watch()
        self._show_last()
        self.show_ear()

    def _next(self, now: Bedside) -> NextAtAGlance | None:
        """What comes next by the protocol; the watch takes its line where there is room for one only."""
        nothing = now.next is None or not (now.next.what or now.next.passed_over)
        return None if self.watching and (nothing or self.room.has_class("-small")) else now.next

    def _show_watch(self) -> None:
        """The watch where it is wanted; where it could be, one line offers it until somebody has seen it once."""
        self.room.set_class(self.watching, "-watch")
        now = self._attended() if self.watching else None
        if now is not None:
            if self._told_due is not None and news(self._told_due, now, self.time):
                self.bell()
            self._told_due = frozenset(key(one) for one in now.due if one.when != "next")
        offered = not self.watching and not self.watched and is_placed(self.course)
        self.room.query_one(WatchPanel).show(now, self.course, self.time)
        self.room.query_one(DueLine).show(now, OFFER if offered else "")

    def _attended(self) -> Attending:
        """What is due, looked at anew when the log has grown and every few seconds."""
        course, at = self._looked
        if self._attending is None or course is not self.course or abs(self.time - at) >= LOOK_EVERY:
            self._attending, self._looked = attending(self.course, self.time), (self.course, self.time)
        return self._attending

    def change_watch(self, on: bool) -> None:
        """Shows the watch, or what the placing needs."""
        self.watching, self.watched = on, True
        self._lay_out()
        table = self.room.query_one(LogTable)
        self.call_after_refresh(lambda: table.move_cursor(row=table.cursor_row, scroll=True))

    def _show_last(self) -> None:
        last = last_entry(self.course, self.record, self._touched)
        self.room.query_one(ReadBackPanel).show(last, self._partial, self._missed)

    def show_ear(self) -> None:
        """What the ear is doing, how loud it is, and how one has to speak."""
        mode: Mode = self.listening.mode if self.listening else "lead word"
        coming = self.listening.coming if self.listening else None
        lead_word = self.listening.lead_word if self.listening else self.session.procedure.lead_word
        time = self.time.strftime("%H:%M:%S")
        self.room.query_one(Ear).show(
            *self._state, spoken_how(mode, visible(lead_word or ""), coming), *self._level, time
        )


def in_short(cautions: Sequence[str]) -> str:
    """What always stands on the screen: how the cautions begin, and who decides. All of them are in the help."""
    first = cautions[0].partition(". ")[0].rstrip(".") + "."
    return first if len(cautions) == 1 else f"{first} {cautions[1]}"


def _clipped(pcm: bytes) -> bool:
    return bool(np.abs(np.frombuffer(pcm, "<i2").astype(np.int32)).max(initial=0) > CLIPPED)
