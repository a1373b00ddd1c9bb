"""What is played to the scribe: one sound at a time, with the log muted around each, and a failure reported."""

from __future__ import annotations

import threading
import time

import numpy as np

from log.basics.errors import EngineError, InputError
from tui.live.playing import Playing
from voice.sound.audio import flac

SOUND = flac(np.zeros(1600, "<i2").tobytes())


class Heard:
    """What came of it, in order."""

    def __init__(self, failure: EngineError | None = None, holds: bool = False) -> None:
        self.told: list[str] = []
        self._failure, self._holds = failure, holds
        self.playing = Playing(
            lambda: self.told.append("begin"),
            lambda: self.told.append("end"),
            lambda error: self.told.append(str(error)),
            self._play,
        )

    def _play(self, pcm: bytes, rate: int, stop: threading.Event) -> None:
        if self._failure is not None:
            raise self._failure
        self.told.append(f"{len(pcm)} bytes")
        if self._holds:
            self._holds = False
            assert stop.wait(10)

    def wait_for(self, count: int) -> list[str]:
        deadline = time.monotonic() + 10
        while len(self.told) < count:
            assert time.monotonic() < deadline, self.told
            time.sleep(0.01)
        return self.told


def test_the_log_is_notified_before_and_after() -> None:
    heard = Heard()
    heard.playing(SOUND)
    assert heard.wait_for(3) == ["begin", "3200 bytes", "end"]


def test_the_next_one_ends_the_one_before() -> None:
    heard = Heard(holds=True)
    heard.playing(SOUND)
    heard.wait_for(2)
    heard.playing(SOUND)
    assert heard.wait_for(6) == ["begin", "3200 bytes", "end"] * 2


def test_what_cannot_be_played_is_reported_and_the_log_hears_again() -> None:
    heard = Heard(EngineError("the loudspeaker cannot be used", "plug one in"))
    heard.playing(SOUND)
    assert heard.wait_for(3) == ["begin", "the loudspeaker cannot be used - plug one in", "end"]


def test_a_sound_that_is_none_is_reported() -> None:
    heard = Heard()
    heard.playing(b"no sound")
    assert heard.wait_for(3)[1].startswith(str(InputError("the sound of this line cannot be read")))
