"""The room in plain lines, for screen readers and bare terminals: each thing that happens is one line that stays."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime

from log.basics.entry import Entry
from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.facts.events import Fact
from log.scribe.session import Session, wall_clock
from tui.live.listening import LiveCase
from tui.live.view import Mode, State
from tui.live.writing import unsaved
from tui.views.bedside import answer_to, bedside
from tui.views.read_back import ReadBack
from tui.views.sound_check import in_one_line
from tui.views.watch import Told, attending, is_placed, key, news
from voice.meaning.matcher import asked_of_the_log
from voice.meaning.verdict import Hearing
from voice.sound.sound_check import SoundCheckResult

WORDS: dict[State, str] = {
    "starting": "starting",
    "listening": "listening",
    "muted": "muted",
    "paused": "PAUSED: nothing is heard",
    "lost": "NO SOUND: nothing is heard",
    "waiting for the key": "press enter, then speak",
    "stopped": "stopped",
}
"""States that are shown; "hearing" comes and goes too often for a line of its own."""


WAYS: dict[str, Mode] = {"lead": "lead word", "key": "push to talk", "open": "open"}
"""Typed words -> way of saying entries."""

EMERGENCY: dict[str, str] = {
    "!": "airway",
    "airway": "airway",
    "emergency": "airway",
    "cut": "cut",
    "over": "over",
    "emergency over": "over",
}
"""Typed words in an emergency -> the entry."""

TYPED = (
    "type due, status, how long, lead, key, open, pause, on, check or again, then enter; enter alone is the "
    "talk key; in an emergency ! or cut, and over"
)


class PlainRoom:
    """A view of lines. Its threads are not the terminal's, so one lock keeps lines whole."""

    def __init__(self, session: Session, stays: bool = False) -> None:
        """`stays`: when nothing is heard any more it waits for somebody to type."""
        self.session = session
        self.now: Callable[[], datetime] = wall_clock
        """The time of the case, which in a rehearsal is not the room's."""
        self._stays = stays
        self.ended = threading.Event()
        self._read_back = ReadBack(session)
        self._lock = threading.Lock()
        self._last: State = "starting"
        self._told_due: frozenset[Told] = frozenset()
        self._unsaved = ""

    def start(self, title: str) -> None:
        """The first lines: what this is, and the cautions."""
        self._read_back.start(title)

    def state(self, state: State, why: str = "") -> None:
        """The state of the ear, when it changes to something one has to know."""
        told = state in ("lost", "stopped", "muted", "paused") or (
            state == "listening" and (self._last in ("starting", "lost", "paused") or why)
        )
        if told or (state == "waiting for the key" and self._last != state):
            self._say(f"-- {WORDS[state]}{f' ({why})' if why else ''}")
        if state != "hearing":
            self._last = state
        if state == "stopped" and self._stays:
            self._say("-- type again, then enter, to listen again; ctrl+c ends")
        elif state == "stopped":
            self.ended.set()

    def level(self, pcm: bytes) -> None:
        """There is no meter in lines."""

    def partial(self, words: str) -> None:
        """Only what was said in full is a line."""

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it, or the answer to a question to the log."""
        self.notify(facts)
        for kind in asked_of_the_log(hearing.meaning):
            self._answer(kind)

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said."""
        with self._lock:
            self._read_back.notify(facts)

    def checked(self, result: SoundCheckResult) -> None:
        """How well the room can be heard."""
        self._say(f"-- {in_one_line(result)}")

    def failed(self, error: TamponadeError) -> None:
        """A message for the people in the room."""
        self._say(f"-- SOMETHING FAILED: {error}")

    def end(self) -> None:
        """Where things stand."""
        self._read_back.end()

    def look(self) -> None:
        """Whether the disk takes what is said, if that has changed; and what has become due or overdue for a placed
        tube since it was looked last, one line each."""
        before, self._unsaved = self._unsaved, unsaved(self.session)
        if bool(before) != bool(self._unsaved):
            self._say(f"-- NOT SAVING: {self._unsaved}" if self._unsaved else "-- saving again")
        course, at = self.session.course, self._time()
        if not is_placed(course) or self._read_back.emergency is not None:
            return
        now = attending(course, at, self.session.record)
        for one in news(self._told_due, now, at):
            self._say(f"-- {one.line}")
        self._told_due = frozenset(key(one) for one in now.due if one.when != "next")

    def typed(self, line: str, listening: LiveCase) -> None:
        """Handles a typed line: enter alone is the talk key."""
        match line.strip().lower():
            case "":
                listening.key_pressed()
            case word if word in EMERGENCY and (self._read_back.emergency is not None or EMERGENCY[word] != "over"):
                entry, at, by = Entry(kind="emergency", value=EMERGENCY[word]), listening.time, self.session.author
                listening.do(lambda session: session.enter(entry, at, by))
            case "over" | "emergency over":
                self._say("-- no active emergency")
            case "due":
                for told in attending(self.session.course, self._time(), self.session.record).lines:
                    self._say(f"-- {told}")
            case "status" | "how long" as asked:
                self._answer(asked.replace(" ", "_"))
            case "lead" | "key" | "open" as mode:
                listening.change_mode(WAYS[mode], self.session.author)
            case "pause":
                listening.pause()
            case "on":
                listening.go_on()
            case "check":
                listening.check_again()
            case "again":
                if not listening.listen_again():
                    self._say("-- nothing to restart")
            case _:
                self._say(f"-- {TYPED}")

    def _answer(self, kind: str) -> None:
        now = bedside(self.session.course, self.session.record, self.now())
        if kind == "repeat":
            last = now.last
            lines = [f"{last.what}: {last.value} {last.digits} {last.standing}" if last else "nothing is logged yet"]
        else:
            lines = answer_to(kind, now)
        for line in lines:
            self._say(f"-- {line}")

    def _time(self) -> datetime:
        """Now, or by the recording where that is ahead of the clock."""
        lines = self.session.record.lines
        return max(wall_clock(), lines[-1].logged_at) if lines else wall_clock()

    def _say(self, text: str) -> None:
        with self._lock:
            self._read_back.console.print(visible(text), markup=False, soft_wrap=True)
