"""Short quiet tones for those who do not look: one for what was logged, others for a question, for words that were not
understood and for findings by priority. They are no alarm system: the screen says what it is about.

The patterns are our own; that a higher priority has more pulses is an idea of IEC 60601-1-8 (from memory). Nothing
sounds while somebody speaks.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from log.basics.errors import EngineError, TamponadeError
from log.basics.patterns import LEVELS
from log.facts.events import EntryAsked, EntryLogged, Fact, FindingRaised, NotUnderstoodHeard, QuestionAnswered
from tui.live.view import State, View
from voice.meaning.verdict import Hearing
from voice.sound.portaudio import play
from voice.speak.speaker import Play

RATE = 16_000
LOUDNESS = 0.06
"""Share of full scale."""
FADE = 0.008
"""Seconds in which a pulse begins and ends, so that it does not click."""
PAUSE = 0.07
"""Seconds between pulses."""
WAITS = 4.0
"""Seconds for which a tone waits until nobody speaks; after that it says nothing any more."""

Pulse = tuple[float, float]
"""Hertz and seconds."""

TONES: Mapping[str, tuple[Pulse, ...]] = MappingProxyType(
    {
        "high": ((880.0, 0.16),) * 3,
        "medium": ((660.0, 0.16),) * 2,
        "low": ((523.0, 0.16),),
        "asked": ((523.0, 0.09), (784.0, 0.14)),
        "not understood": ((440.0, 0.12), (330.0, 0.18)),
        "logged": ((988.0, 0.04),),
    }
)


def tone_of(facts: tuple[Fact, ...]) -> str:
    """The most urgent tone for these facts; "" for none."""
    raised = {fact.level for fact in facts if isinstance(fact, FindingRaised)}
    level = next((level for level in LEVELS if level in raised and level in TONES), "")
    if level == "high" or not facts:
        return level
    if any(isinstance(fact, EntryAsked) for fact in facts):
        return "asked"
    if any(isinstance(fact, NotUnderstoodHeard) for fact in facts):
        return "not understood"
    logged = any(isinstance(fact, EntryLogged | QuestionAnswered) for fact in facts)
    return level or ("logged" if logged else "")


def sound_of(tone: str) -> bytes:
    """A tone as 16-bit mono sound."""
    pause = np.zeros(round(PAUSE * RATE))
    parts = [part for pulse in TONES[tone] for part in (_pulse(*pulse), pause)]
    return bytes((np.concatenate(parts) * LOUDNESS * 32_767).astype("<i2").tobytes())


def _pulse(hertz: float, seconds: float) -> np.ndarray:
    at = np.arange(round(seconds * RATE)) / RATE
    edge = np.minimum(at, seconds - at) / FADE
    return np.sin(2 * np.pi * hertz * at) * np.clip(edge, 0, 1)


class Tones:
    """A view that sounds beside another. A tone that cannot be played is left out: the screen stays what counts."""

    def __init__(self, view: View, play: Play = play) -> None:
        self._view, self._play = view, play
        self.level, self.partial, self.checked = view.level, view.partial, view.checked
        self._quiet = threading.Event()
        self._quiet.set()
        self._waiting: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._run, name="tones", daemon=True).start()

    def state(self, state: State, why: str = "") -> None:
        """Shows it, and notes whether somebody speaks."""
        (self._quiet.clear if state == "hearing" else self._quiet.set)()
        self._view.state(state, why)

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """Shows it, then sounds."""
        self._view.heard(hearing, facts)
        self._sound(facts)

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Shows it, then sounds."""
        self._view.notify(facts)
        self._sound(facts)

    def failed(self, error: TamponadeError) -> None:
        """Shows it."""
        self._view.failed(error)

    def _sound(self, facts: tuple[Fact, ...]) -> None:
        tone = tone_of(facts)
        if tone:
            self._waiting.put(tone)

    def _run(self) -> None:
        with contextlib.suppress(EngineError):  # no loudspeaker
            while True:
                tone = self._waiting.get()
                if self._quiet.wait(WAITS):
                    self._play(sound_of(tone), RATE, threading.Event())
