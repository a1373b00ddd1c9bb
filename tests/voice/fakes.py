"""Engines that do what they are told. A child process has to import them, so they are no part of a test module."""

from __future__ import annotations

import os
import signal
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from log.basics.errors import EngineError
from voice.engines.protocol import Utterance, Word
from voice.sound.segment import Segment

REFUSAL = EngineError("there is no model", "add one")


@dataclass(frozen=True, slots=True)
class FakeSpec:
    """An engine that starts, or does not."""

    start: Literal["well", "refused", "failed", "dead"] = "well"
    name: str = "fake"
    recipe: bytes = b""

    def build(self) -> FakeEngine:
        """Called in the child process."""
        if self.start == "refused":
            raise REFUSAL
        if self.start == "failed":
            raise ZeroDivisionError("division by zero")
        if self.start == "dead":
            os._exit(7)
        return FakeEngine(self.name)


class FakeEngine:
    """Hears the name of the grammar, and can be told to fail in every way."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.asked = 0

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """One word."""
        self.asked += 1
        return Utterance((Word(grammar, segment.start, segment.end),), self.name, segment.start, segment.end)

    def count(self) -> int:
        """How many segments this process has heard."""
        return self.asked

    def imported(self, module: str) -> bool:
        """Whether this process holds a module."""
        return module in sys.modules

    def nap(self, seconds: float, segment: Segment | None = None) -> str:
        """Answers late."""
        time.sleep(seconds)
        return "awake"

    def nap_until(self, awake: Path) -> str:
        """Answers once this file is there."""
        while not awake.exists():
            time.sleep(0.01)
        return "awake"

    def refuse(self) -> None:
        """Fails as the program expects engines to fail."""
        raise REFUSAL

    def fail(self) -> None:
        """Fails as nobody expects."""
        raise ZeroDivisionError("division by zero")

    def die(self) -> None:
        """Dies as from a fault in native code, or for want of memory."""
        os.kill(os.getpid(), signal.SIGKILL)

    def hang(self) -> None:
        """Never answers."""
        time.sleep(600)
