"""A rehearsal as it goes on: what is due is played into the case, beside whatever the team says into it.

The team is heard in the way of every case, or types. What it types comes from a keyboard, by the room's clock, or from
a file whose lines bear the time of the case, so that a whole run takes no time and comes out the same again.
"""

from __future__ import annotations

import queue
import re
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TextIO

from log.basics.errors import InputError, StoreError
from log.basics.patterns import LEVELS
from log.basics.visible import visible
from log.facts.events import Fact, SimulationPlayed
from log.facts.origin import Origin
from log.rehearsal.scenario import Scenario
from log.rehearsal.timeline import next_due, over
from log.scribe.correct import Correction
from log.scribe.session import Session
from tui.live.listening import LiveCase
from tui.views.bedside import answer_to, bedside
from tui.views.read_back import ReadBack
from voice.meaning.matcher import Listening, asked_of_the_log, understand
from voice.phrases.phrases import Phrases
from voice.sound.audio import Frame, FrameSource
from voice.sound.segment import SAMPLE_RATE

ENDED = "end of the rehearsal"
"""Why the case was closed."""

TICK = 0.25
"""Seconds between two looks at what is due."""

PATIENCE = 10.0
"""Seconds for which nothing is played after the disk took nothing: the room sees it once, not four times a second."""

STEP = 5.0
"""Seconds of the case between two typed lines that bear no time."""

LOOK = 60.0
"""Seconds of the case between two looks at its clocks where time passes at once."""

SEEN = "seen"
"""Typed before the reason: the most urgent finding is acknowledged, which has a key of its own on the screen."""

_TIMED = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)(?:\s+(.*))?")


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A scenario that is being played."""

    scenario: Scenario
    paced: bool = True
    """Whether the case's clock changes its speed with the scenario; not where the team's lines bear the case's time."""

    def step(self, session: Session, at: float) -> tuple[Fact, ...]:
        """Plays what is due by now. Raises StoreError."""
        return session.play(self._next, at, self.paced)

    def over(self, session: Session) -> bool:
        """Whether it has come to its end."""
        return over(self.scenario, session.record)

    def _next(self, session: Session, now: datetime) -> SimulationPlayed | None:
        return next_due(self.scenario, session.course, session.record, now)


class Ticking:
    """Has the writing thread of a room play what is due, until it is over. Without a rehearsal it does nothing."""

    def __init__(self, listening: LiveCase, rehearsal: Rehearsal | None, on_over: Callable[[], None]) -> None:
        self._listening, self._rehearsal, self._on_over = listening, rehearsal, on_over
        self._rests_until = 0.0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="rehearsal", daemon=True)

    def start(self) -> None:
        """Begins."""
        if self._rehearsal is not None:
            self._thread.start()

    def stop(self) -> None:
        """Plays nothing more."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout=2)

    def _run(self) -> None:
        rehearsal, listening = self._rehearsal, self._listening
        assert rehearsal is not None
        while not self._stopping.wait(TICK):
            listening.do(self._step)
            if rehearsal.over(listening.session):
                self._on_over()
                return

    def _step(self, session: Session) -> tuple[Fact, ...]:
        assert self._rehearsal is not None
        if time.monotonic() < self._rests_until:
            return ()
        try:
            return self._rehearsal.step(session, self._listening.now)
        except StoreError:
            self._rests_until = time.monotonic() + PATIENCE
            raise


@dataclass(frozen=True, slots=True)
class Timed:
    """A recording that has what is due played while it is heard, on the recording's own clock."""

    source: FrameSource
    passes: Callable[[float], None]

    @property
    def name(self) -> str:
        """The recording's."""
        return self.source.name

    def frames(self) -> Iterator[Frame]:
        """Its frames."""
        shown = 0.0
        for frame in self.source.frames():
            at = frame.first_sample / SAMPLE_RATE
            if at - shown >= TICK:
                shown = at
                self.passes(at)
            yield frame


class TypedTeam:
    """A team that types what it would say."""

    def __init__(self, session: Session, rehearsal: Rehearsal, phrases: Phrases, view: ReadBack) -> None:
        self.session, self.rehearsal, self.phrases, self.view = session, rehearsal, phrases, view

    def passes(self, at: float) -> None:
        """Time goes on to this second."""
        self.view.notify(self.rehearsal.step(self.session, at))
        self.view.notify(self.session.look(at))

    def says(self, words: str, at: float) -> None:
        """One utterance, or with "seen" why a finding may stand."""
        first, _, reason = words.partition(" ")
        if first.lower() == SEEN:
            self._acknowledge(reason.strip(), at)
            return
        meaning = understand(self.phrases, words, Listening(question_open=self.session.asked(at)))
        self.view.notify(self.session.take(meaning, at, at, Origin(by="typed", heard=words)))
        for kind in asked_of_the_log(meaning):
            now = bedside(self.session.course, self.session.record, self.session.time(at))
            for line in answer_to(kind, now) if kind != "repeat" else ():
                self.view.console.print(visible(f"-- {line}"), markup=False, soft_wrap=True)

    @property
    def over(self) -> bool:
        """Whether the rehearsal has come to its end."""
        return self.rehearsal.over(self.session)

    def _acknowledge(self, reason: str, at: float) -> None:
        record = self.session.record
        waiting = [found for found in record.open_findings if not record.acknowledged(found)]
        if not waiting or not reason:
            shown = "say why" if waiting else "no finding is waiting"
            self.view.console.print(f"-- {shown}", markup=False)
            return
        found = min(waiting, key=lambda one: (LEVELS.index(one.level), one.number or 0))
        self.session.acknowledge(found, Correction(self.session.author, reason, self.session.time(at)))
        self.view.console.print(visible(f"-- seen: {found.message} ({reason})"), markup=False, soft_wrap=True)


def read_script(lines: Iterable[str], name: str) -> Iterator[tuple[float, str]]:
    """The team's words and when they come, in seconds of the case: "02:30 gastric five zero in", or hours before that.

    A line without a time is said STEP later than the one before; one without words lets time pass; "#" is for readers.
    Raises InputError for a time that goes backwards.
    """
    at = 0.0
    for number, raw in enumerate(lines, start=1):
        text = raw.partition("#")[0].strip()
        if not text:
            continue
        timed = _TIMED.fullmatch(text)
        if timed is None:
            at += STEP
            yield at, text
            continue
        then = int(timed[1] or 0) * 3600.0 + int(timed[2]) * 60 + int(timed[3])
        if then < at:
            raise InputError(
                f"{name}: line {number}: {timed[0].split()[0]} is before the line above", "put the lines in order"
            )
        at = then
        yield at, timed[4] or ""


def run_script(team: TypedTeam, script: Iterable[tuple[float, str]]) -> float:
    """A whole run at once; gives the second of the case at which it ended."""
    now = 0.0
    team.passes(now)
    for at, words in script:
        while now < at and not team.over:
            now = min(at, now + LOOK)
            team.passes(now)
        if team.over:
            break
        if words:
            team.says(words, at)
            team.passes(at)
    return now


def run_typed(team: TypedTeam, lines: TextIO, clock: Callable[[], float] = time.monotonic) -> float:
    """Somebody types, by the room's clock, until the rehearsal is over or the lines end; gives the seconds it took."""
    began, waiting = clock(), queue.SimpleQueue[str | None]()

    def read() -> None:
        for line in lines:
            waiting.put(line.strip())
        waiting.put(None)

    threading.Thread(target=read, name="typing", daemon=True).start()
    while not team.over:
        team.passes(clock() - began)
        try:
            words = waiting.get(timeout=TICK)
        except queue.Empty:
            continue
        if words is None:
            break
        if words:
            team.says(words, clock() - began)
    return clock() - began
