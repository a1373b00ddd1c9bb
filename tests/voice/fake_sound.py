"""A sound card that does what it is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from log.basics.errors import EngineError
from voice.sound.portaudio import Heard
from voice.sound.segment import SAMPLE_RATE

BLOCK = 0.03
"""Seconds."""


class Clock:
    """The machine's clock, set by hand; seconds."""

    def __init__(self, now: float = 1000.0) -> None:
        self.now = now

    def __call__(self) -> float:
        return self.now


@dataclass(eq=False)
class FakeStream:
    """One opening of the microphone."""

    heard: Heard
    ended: Callable[[], None]
    rate: int = SAMPLE_RATE
    channels: int = 1
    name: str = "fake microphone"
    active: bool = True

    def say(self, sound: np.ndarray, overflowed: bool = False) -> None:
        """One block; mono float sound goes to every channel."""
        assert self.active, "a closed stream says nothing"
        samples = np.rint(np.repeat(sound, self.channels) * 32767).astype("<i2")
        self.heard(samples.tobytes(), self.rate, self.channels, overflowed)

    def end(self) -> None:
        """As when the device is pulled or the callback raises."""
        self.active = False
        self.ended()

    def close(self) -> None:
        """As PortAudio does, it tells its end even when it was asked to end."""
        if self.active:
            self.end()


@dataclass
class FakeSound:
    """Stands for `open_input`. What it does at each opening can be said beforehand."""

    rate: int = SAMPLE_RATE
    channels: int = 1
    at_opening: Callable[[FakeStream], None] = lambda stream: None
    missing: int = 0
    """How many attempts fail from now on."""
    streams: list[FakeStream] = field(default_factory=list)
    attempts: int = 0

    def open(self, device: str | None, heard: Heard, ended: Callable[[], None]) -> FakeStream:
        """Raises EngineError while the microphone is missing."""
        self.attempts += 1
        if self.missing > 0:
            self.missing -= 1
            raise EngineError("there is no microphone", "plug one in")
        stream = FakeStream(heard, ended, self.rate, self.channels)
        self.streams.append(stream)
        self.at_opening(stream)
        return stream


def spoken(clock: Clock, stream: FakeStream, seconds: float, level: float = 0.25, first: int = 0) -> None:
    """Blocks of a 440 Hz tone, each when it is over; `first`: how many samples of the tone went before."""
    length = round(stream.rate * BLOCK)
    for place in range(round(seconds / BLOCK)):
        clock.now += BLOCK
        moments = (first + place * length + np.arange(length)) / stream.rate
        stream.say(level * np.sin(2 * np.pi * 440.0 * moments))
