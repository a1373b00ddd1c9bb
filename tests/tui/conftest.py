"""The program as people run it, in this process or in one of its own."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tui.cli import main
from voice.meaning.ears import Ears
from voice.sound.segment import SAMPLE_RATE

PROGRAM = "from tui.cli import main; main()"


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command came to."""

    code: int
    out: str
    err: str

    def refused(self, code: int, *told: str) -> None:
        """One line for people, no traceback, and the documented exit code."""
        assert self.code == code, self
        assert self.err.startswith("tamponade: "), self.err
        assert self.err.count("\n") == 1, self.err
        assert " - " in self.err, f"no remedy: {self.err}"
        for text in told:
            assert text in self.err

    def done(self) -> str:
        """Its output, if all went well."""
        assert (self.code, self.err) == (0, ""), self
        return self.out


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The program in this process, with everything `main` does around a command."""

    def ran(*arguments: object, stdin: str = "") -> Ran:
        with monkeypatch.context() as patch:
            patch.setattr(sys, "argv", ["tamponade", *map(str, arguments)])
            patch.setattr(sys, "stdin", io.StringIO(stdin))
            patch.setenv("COLUMNS", "140")
            capsys.readouterr()
            code = 0
            try:
                main()
            except SystemExit as end:
                code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        return Ran(code, *capsys.readouterr())

    return ran


def alone(*arguments: object, program: str = PROGRAM) -> Ran:
    """The program in a process of its own."""
    command = [sys.executable, "-c", program, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    return Ran(done.returncode, done.stdout, done.stderr)


class Borrowed:
    """Engines that are not ended with the command that used them."""

    notes: tuple[str, ...] = ()

    def __init__(self, ears: Ears) -> None:
        self.ears = ears

    def __enter__(self) -> Ears:
        return self.ears

    def __exit__(self, *_: object) -> None:
        """They go on for the next test."""


@pytest.fixture
def ears_at_hand(both: Ears, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr("voice.meaning.ears.Ears", lambda phrases, lead_word, *_: Borrowed(both))
    yield


def recording(path: Path, clip_pcm: bytes, times: int = 1) -> Path:
    """The clip once or several times, with a second of silence around each."""
    silence = bytes(2 * SAMPLE_RATE)
    sound = np.frombuffer(silence + (clip_pcm + silence) * times, "<i2")
    soundfile.write(path, sound, SAMPLE_RATE, subtype="PCM_16")
    return path


@pytest.fixture
def no_shipped_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if the program came without a speech model."""
    monkeypatch.setattr("voice.engines.models.shipped_model", lambda: None)
