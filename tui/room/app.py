"""The screen on which a case is kept: read back large for the operator, a table of the log for the scribe."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable, Iterator
from datetime import datetime
from functools import partial
from typing import ClassVar

from textual.app import App, ComposeResult, SystemCommand
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.message import Message
from textual.screen import Screen
from textual.widgets import DataTable, Footer, Input, Static

from log.correct import Correction
from log.errors import InputError, TamponadeError
from log.events import EntryAmended, EntryAsked, EntryLogged, EntryStruck, Fact, NotUnderstoodHeard, QuestionAnswered
from log.exports.wording import sentence
from log.identifiers import Identifiers
from log.record import Line
from log.visible import visible
from tui.bedside import bedside, last_entry
from tui.listening import Listening, State
from tui.options import moment
from tui.room.dialogs import Answers, Form, Help
from tui.room.help import help_text
from tui.room.panels import Ear, Findings, Glance, ReadBackPanel
from tui.session import Session
from voice.endpoint import level_db
from voice.listener import Hearing
from voice.matcher import asked_of_the_log, one_entry
from voice.phrases import Phrases

SMALL = 110
"""Columns below which there is only room for the scribe's table."""

LEVEL_EVERY = 6
"""Frames between two readings of the meter: five a second."""

CLIPPED = 32_700

ENDINGS = {signal.SIGINT: "ended from outside", signal.SIGTERM: "ended from outside"}
if hasattr(signal, "SIGHUP"):
    ENDINGS[signal.SIGHUP] = "the terminal was closed"


class RoomApp(App[None]):
    """The room."""

    CSS_PATH = "room.tcss"
    TITLE = "tamponade log"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "talk", "talk"),
        Binding("c", "answer", "confirm"),
        Binding("x", "scratch", "scratch last"),
        Binding("e", "amend", "amend"),
        Binding("d", "strike", "strike"),
        Binding("n", "late", "late entry"),
        Binding("t", "note", "note"),
        Binding("f", "acknowledge", "finding seen"),
        Binding("p", "play", "play sound"),
        Binding("i", "identify", "team and tube"),
        Binding("question_mark", "help", "help"),
        Binding("q", "leave", "end"),
    ]

    class Heard(Message):
        """Something reached the log, or was heard in vain."""

        def __init__(self, facts: tuple[Fact, ...], asked: tuple[str, ...] = ()) -> None:
            super().__init__()
            self.facts, self.asked = facts, asked

    class Ears(Message):
        """What the ear is doing."""

        def __init__(self, state: State, why: str) -> None:
            super().__init__()
            self.state, self.why = state, why

    class Partly(Message):
        """What is being said."""

        def __init__(self, words: str) -> None:
            super().__init__()
            self.words = words

    class Level(Message):
        """How loud it is."""

        def __init__(self, db: float, clipped: bool) -> None:
            super().__init__()
            self.db, self.clipped = db, clipped

    class Failed(Message):
        """Something that the people in the room have to know."""

        def __init__(self, error: TamponadeError) -> None:
            super().__init__()
            self.error = error

    def __init__(
        self,
        session: Session,
        phrases: Phrases,
        scribe: str,
        play: Callable[[bytes], None] | None = None,
        now: Callable[[], datetime] | None = None,
    ) -> None:
        """`play`: plays a FLAC file; `now`: the time in the room, for tests."""
        super().__init__()
        self.session, self.phrases, self.scribe = session, phrases, scribe
        self.listening: Listening | None = None
        self._play, self._now = play, now
        self._state: tuple[State, str] = ("starting", "")
        self._level = (-100.0, False)
        self._frames = 0
        self._partial = self._missed = ""
        self.why_ended = "ended by the scribe"
        self._focus: int | None = None
        """The line that was touched last."""

    @property
    def time(self) -> datetime:
        """The time in the room."""
        if self._now is not None:
            return self._now()
        return self.listening.time if self.listening else self.session.began

    def compose(self) -> ComposeResult:
        """State on top, read-back and glance in the middle, the log below."""
        yield Ear(id="ear")
        yield Static(" ".join(self.session.procedure.cautions[:2]), id="caution", markup=False)
        with Horizontal(id="above"):
            yield ReadBackPanel(id="read-back")
            with Vertical(id="right"):
                yield Glance(id="glance")
                with VerticalScroll(id="findings-box", can_focus=False):
                    yield Findings(id="findings")
        table: DataTable[str] = DataTable(id="log", cursor_type="row", zebra_stripes=True)
        yield table
        yield Footer()

    def on_mount(self) -> None:
        """Begins to listen once there is something to see."""
        table = self.query_one(DataTable)
        for name, width in (("line", 4), ("time", 8), ("entry", 44), ("state", 10), ("heard", 40)):
            table.add_column(name, key=name, width=width)
        for line in self.session.record.lines:
            self._put(line)
        table.focus()
        loop = asyncio.get_running_loop()
        for stop, why in ENDINGS.items():
            loop.add_signal_handler(stop, self._ended_from_outside, why)
        self._lay_out()
        self.set_interval(1.0, self._lay_out)
        if self.listening is not None:
            self.listening.start()

    def _ended_from_outside(self, why: str) -> None:
        self.why_ended = why
        self.exit()

    def on_resize(self) -> None:
        """A narrow terminal is the scribe's alone."""
        self.screen.set_class(self.size.width < SMALL, "-small")

    # ---- told by the other threads: a View ------------------------------------------------------------------------

    def state(self, state: State, why: str = "") -> None:
        """What the ear is doing."""
        self.post_message(self.Ears(state, why))

    def level(self, pcm: bytes) -> None:
        """A frame of sound; a few a second are enough for the meter."""
        self._frames += 1
        if self._frames % LEVEL_EVERY == 0:
            self.post_message(self.Level(level_db(pcm), _clipped(pcm)))

    def partial(self, words: str) -> None:
        """What is being said."""
        self.post_message(self.Partly(words))

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it."""
        self.post_message(self.Heard(facts, asked_of_the_log(hearing.meaning)))

    def told(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said."""
        self.post_message(self.Heard(facts))

    def failed(self, error: TamponadeError) -> None:
        """Something that the people in the room have to know."""
        self.post_message(self.Failed(error))

    def on_room_app_ears(self, message: Ears) -> None:
        """The top line."""
        self._state = message.state, message.why
        if message.state == "lost":
            self.bell()
        self._show_ear()

    def on_room_app_level(self, message: Level) -> None:
        """The meter."""
        self._level = message.db, message.clipped
        self._show_ear()

    def on_room_app_partly(self, message: Partly) -> None:
        """Words as they come."""
        self._partial, self._missed = message.words, ""
        self._show_last()

    def on_room_app_heard(self, message: Heard) -> None:
        """The log has grown."""
        self._partial = self._missed = ""
        for fact in message.facts:
            match fact:
                case EntryLogged() | EntryAsked() | QuestionAnswered() | EntryAmended() | EntryStruck():
                    self._focus = fact.number
                    self._put(self.session.record.line(fact.number))
                case NotUnderstoodHeard(origin=origin, reason=reason):
                    self._missed = f'NOT LOGGED: "{origin.heard}" ({reason})'
                case _:
                    pass
        for kind in message.asked:
            self._answer(kind)
        self._lay_out()

    def on_room_app_failed(self, message: Failed) -> None:
        """Told in full, until somebody has read it."""
        self.notify(visible(str(message.error)), title="Not written down", severity="error", timeout=30, markup=False)

    def _answer(self, kind: str) -> None:
        """What was asked of the log."""
        if kind == "repeat":
            self._focus = None
            return
        now = bedside(self.session.course, self.session.record, self.time)
        if kind == "how_long":
            lines = [f"{clock.title}: {clock.elapsed} {clock.due}" for clock in now.clocks] or ["No clock is running."]
        else:
            lines = [f"{b.site}: {b.volume}, {b.pressure} {b.doubt}" for b in now.balloons]
        self.notify("\n".join(map(visible, lines)), title=kind.replace("_", " "), timeout=15, markup=False)

    # ---- the scribe's keys ------------------------------------------------------------------------------------------

    def action_talk(self) -> None:
        """What is said next is meant for the log."""
        if self.listening is not None:
            self.listening.key_pressed()

    def action_answer(self) -> None:
        """The first candidate of the open question is right."""
        line = self._chosen(lambda line: line.status == "asked")
        if line is not None:
            by = Correction(self.scribe, "confirmed by hand", self.time)
            self._write(lambda session: session.amend(line.number, line.candidates[0], None, by))

    def action_scratch(self) -> None:
        """Strikes the newest line."""
        standing = [line for line in self.session.record.lines if line.status != "struck"]
        if standing:
            by = Correction(self.scribe, "scratched by hand", self.time)
            self._write(lambda session: session.strike(standing[-1].number, by))

    def action_amend(self) -> None:
        """Another value or time for the chosen line."""
        line = self._chosen(lambda line: line.status != "struck")
        if line is None:
            return
        says = self._sentence(line)

        def done(answers: Answers) -> None:
            entry = one_entry(self.phrases, answers["words"]) if answers["words"] else None
            at = moment(answers["at"], self.time) if answers["at"] else None
            by = self._by(answers, answers["words"])
            self._now_or_told(lambda session: session.amend(line.number, entry, at, by))

        fields = {
            "words": (f"What it should have been (now: {says})", ""),
            "at": ("When it really happened, if the time was wrong (03:10)", ""),
            **self._signed(),
        }
        self.push_screen(Form(f"Amend line {line.number}", fields, done))

    def action_strike(self) -> None:
        """Strikes the chosen line, with a reason."""
        line = self._chosen(lambda line: line.status != "struck")
        if line is not None:
            number = line.number
            self.push_screen(
                Form(
                    f"Strike line {number}: {self._sentence(line)}",
                    self._signed(),
                    lambda answers: self._now_or_told(lambda session: session.strike(number, self._by(answers))),
                )
            )

    def action_late(self) -> None:
        """Something that happened earlier."""

        def done(answers: Answers) -> None:
            entry = one_entry(self.phrases, answers["words"])
            at, by = moment(answers["at"], self.time), self._by(answers, answers["words"])
            self._now_or_told(lambda session: session.enter_late(entry, at, by))

        fields = {"words": ("What happened, as it would be said", ""), "at": ("When (03:10)", ""), **self._signed()}
        self.push_screen(Form("Late entry", fields, done))

    def action_note(self) -> None:
        """A free note about this moment, or about the chosen line."""
        line = self._chosen(lambda line: True, quiet=True)

        def done(answers: Answers) -> None:
            about = int(answers["line"]) if answers["line"].isdigit() else None
            self._now_or_told(lambda session: session.write_note(answers["text"], about, answers["author"], self.time))

        fields = {
            "text": ("Note", ""),
            "line": ("About line (leave empty for this moment)", str(line.number) if line else ""),
            "author": ("Author", self.scribe),
        }
        self.push_screen(Form("Note", fields, done))

    def action_acknowledge(self) -> None:
        """The most urgent finding that nobody has acknowledged was seen, and why it may stand."""
        waiting = [found for found in self.session.record.open_findings if not self.session.record.acknowledged(found)]
        if not waiting:
            self.notify("No finding is waiting.", markup=False)
            return
        found = min(waiting, key=lambda found: ("high", "medium", "low", "information").index(found.level))
        self.push_screen(
            Form(
                f"{found.level.upper()}: {found.message}",
                self._signed(),
                lambda answers: self._now_or_told(lambda session: session.acknowledge(found, self._by(answers))),
                "Acknowledge",
            )
        )

    def action_play(self) -> None:
        """The sound of the chosen line."""
        line = self._chosen(lambda line: line.origin.sound is not None)
        if line is None or line.origin.sound is None:
            return
        content = self.session.case.sound(line.origin.sound.sha256)
        if content is None or self._play is None:
            self.notify("Its sound is not here." if content is None else "Nothing here can play sound.", markup=False)
        else:
            self._play(content)

    def action_identify(self) -> None:
        """Who is here, and which tube it is."""
        names = [name for name in Identifiers.model_fields if name != "salt"]
        fields = {name: (name.replace("_", " "), "") for name in names}

        def done(answers: Answers) -> None:
            given = Identifiers(**{name: answers[name] for name in names if answers[name]})
            if given == Identifiers():
                raise InputError("nothing is filled in", "fill in at least one, or leave with escape")
            self._now_or_told(lambda session: session.identify(given, self.scribe, self.time))

        self.push_screen(Form("Team and tube (nothing of it is needed)", fields, done))

    def action_help(self) -> None:
        """Every key and what can be said."""
        self.push_screen(Help(help_text(self.session.procedure, self.BINDINGS)))

    def action_leave(self) -> None:
        """Ends listening and closes the case."""
        self.exit()

    def get_system_commands(self, screen: Screen[object]) -> Iterator[SystemCommand]:
        """The command palette has every key."""
        for binding in self.BINDINGS:
            assert isinstance(binding, Binding)
            yield SystemCommand(
                binding.description.capitalize(), f"key {binding.key}", partial(self.run_action, binding.action)
            )

    # ---- laying out -------------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        now = bedside(self.session.course, self.session.record, self.time)
        self.query_one(Glance).show(now)
        self.query_one(Findings).show(now)
        self._show_last()
        self._show_ear()

    def _show_last(self) -> None:
        last = last_entry(self.session.course, self.session.record, self._focus)
        self.query_one(ReadBackPanel).show(last, self._partial, self._missed)

    def _show_ear(self) -> None:
        mode = self.listening.mode if self.listening else "lead word"
        lead_word = self.session.procedure.lead_word
        time = self.time.strftime("%H:%M:%S")
        self.query_one(Ear).show(*self._state, mode, lead_word, *self._level, time)

    def _put(self, line: Line) -> None:
        """A line in the table, new or as it stands now."""
        table = self.query_one(DataTable)
        late = " (late)" if line.late_reason else ""
        state = {"stands": "stands", "asked": "? ASKED", "struck": "✘ struck"}[line.status]
        cells = (
            str(line.number),
            line.said_at.strftime("%H:%M:%S"),
            visible(self._sentence(line) + late),
            "✎ amended" if line.status == "stands" and any(c.what == "amended" for c in line.changes) else state,
            visible(line.origin.heard),
        )
        key = str(line.number)
        if key in table.rows:
            for name, cell in zip(("line", "time", "entry", "state", "heard"), cells, strict=True):
                table.update_cell(key, name, cell)
        else:
            table.add_row(*cells, key=key)
            if table.cursor_row >= table.row_count - 2:
                table.move_cursor(row=table.row_count - 1)

    def _sentence(self, line: Line) -> str:
        if line.status == "asked":
            return " or ".join(sentence(self.session.procedure, entry) for entry in line.candidates) + "?"
        return sentence(self.session.procedure, line.entry)

    # ---- writing ----------------------------------------------------------------------------------------------------

    def _chosen(self, fits: Callable[[Line], bool], quiet: bool = False) -> Line | None:
        """The line under the cursor if it fits, else the newest that does."""
        lines = self.session.record.lines
        place = self.query_one(DataTable).cursor_row
        candidates = ([lines[place]] if 0 <= place < len(lines) else []) + list(reversed(lines))
        found = next((line for line in candidates if fits(line)), None)
        if found is None and not quiet:
            self.notify("No line fits.", markup=False)
        return found

    def _signed(self) -> dict[str, tuple[str, str]]:
        return {"reason": ("Why", ""), "author": ("Author", self.scribe)}

    def _by(self, answers: Answers, typed: str = "") -> Correction:
        return Correction(answers["author"], answers["reason"], self.time, typed)

    def _write(self, what: Callable[[Session], tuple[Fact, ...]]) -> None:
        try:
            self._now_or_told(what)
        except TamponadeError as error:
            self.failed(error)

    def _now_or_told(self, what: Callable[[Session], tuple[Fact, ...]]) -> None:
        """Has it written by the one thread that writes; without listening this is the only one."""
        if self.listening is not None:
            self.listening.done(what)
        else:
            self.told(what(self.session))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While somebody types, letters are letters."""
        typing = isinstance(self.focused, Input)
        return not (typing and action in {b.action for b in self.BINDINGS if isinstance(b, Binding)})


def _clipped(pcm: bytes) -> bool:
    samples = memoryview(pcm).cast("h")
    return max(samples) > CLIPPED or min(samples) < -CLIPPED
