"""The room in plain lines, for screen readers and bare terminals: each thing that happens is one line that stays."""

from __future__ import annotations

import threading

from log.errors import TamponadeError
from log.events import Fact
from log.visible import visible
from tui.bedside import answer_to, bedside
from tui.listening import State
from tui.readback import ReadBack
from tui.session import Session, wall_clock
from voice.listener import Hearing
from voice.matcher import asked_of_the_log

WORDS: dict[State, str] = {
    "starting": "starting",
    "listening": "listening",
    "deaf": "deaf: our own voice is speaking",
    "lost": "NO SOUND: nothing is heard",
    "waiting for the key": "press enter, then speak",
    "stopped": "stopped",
}
"""What is told; "hearing" comes and goes too often for a line of its own."""


class PlainRoom:
    """A view of lines. Its threads are not the terminal's, so one lock keeps lines whole."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.ended = threading.Event()
        self._read_back = ReadBack(session)
        self._lock = threading.Lock()
        self._last: State = "starting"

    def start(self, title: str) -> None:
        """The first lines: what this is, and the cautions."""
        self._read_back.start(title)

    def state(self, state: State, why: str = "") -> None:
        """What the ear is doing, when it changes to something one has to know."""
        told = state in ("lost", "stopped", "deaf") or (state == "listening" and self._last in ("starting", "lost"))
        if told or (state == "waiting for the key" and self._last != state):
            self._say(f"-- {WORDS[state]}{f' ({why})' if why else ''}")
        if state != "hearing":
            self._last = state
        if state == "stopped":
            self.ended.set()

    def level(self, pcm: bytes) -> None:
        """There is no meter in lines."""

    def partial(self, words: str) -> None:
        """Only what was said in full is a line."""

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it, or the answer to a question to the log."""
        with self._lock:
            self._read_back.told(facts)
        for kind in asked_of_the_log(hearing.meaning):
            self._answer(kind)

    def told(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said."""
        with self._lock:
            self._read_back.told(facts)

    def failed(self, error: TamponadeError) -> None:
        """What the people in the room have to know."""
        self._say(f"-- SOMETHING FAILED: {error}")

    def end(self) -> None:
        """Where things stand."""
        self._read_back.end()

    def _answer(self, kind: str) -> None:
        now = bedside(self.session.course, self.session.record, wall_clock())
        if kind == "repeat":
            last = now.last
            lines = [f"{last.what}: {last.value} {last.digits} {last.standing}" if last else "nothing is logged yet"]
        else:
            lines = answer_to(kind, now)
        for line in lines:
            self._say(f"-- {line}")

    def _say(self, text: str) -> None:
        with self._lock:
            self._read_back.console.print(visible(text), markup=False, soft_wrap=True)
