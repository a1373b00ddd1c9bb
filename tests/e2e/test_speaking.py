"""What is said aloud and what is played to the scribe really sounds, and the log is muted for its own voice."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from log.facts.events import CaptureGap, EntryLogged, Fact
from log.store import case as store
from log.store.folder import cases_folder
from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone

ROOT = Path(__file__).parents[2]
CLIP = ROOT / "voice" / "sound" / "clip.flac"
RATE = 16_000
CLIP_LOUD_SECONDS = 1.5
LOUD = 300
"""Of 32,767: the sink is silent but for what is played."""


@pytest.fixture
def microphone() -> Iterator[VirtualMicrophone]:
    if shutil.which("espeak-ng") is None:
        pytest.skip("nothing is spoken without espeak-ng: apt-get install espeak-ng")
    with virtual_microphone() as started:
        yield started


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Terminal]:
    with terminal(f"tamponade-{os.getpid()}-{tmp_path.name}") as opened:
        yield opened


@pytest.fixture
def said(tmp_path: Path) -> Path:
    """The shipped clip as a sound file: "gastric pressure twenty"."""
    sound, rate = soundfile.read(CLIP, dtype="int16")
    target = tmp_path / "said.wav"
    soundfile.write(target, sound, rate, subtype="PCM_16")
    return target


class Heard:
    """What came out of the loudspeaker while this lasted."""

    pcm = b""

    @property
    def loud_seconds(self) -> float:
        """How long something sounded."""
        sound = np.frombuffer(self.pcm[: len(self.pcm) // 960 * 960], "<i2").reshape(-1, 480)
        return float(np.sum(np.abs(sound.astype(np.int32)).max(axis=1) > LOUD)) * 0.03


@contextlib.contextmanager
def loudspeaker(microphone: VirtualMicrophone) -> Iterator[Heard]:
    """Records what is played into the room."""
    raw = ("--raw", f"--rate={RATE}", "--channels=1", "--format=s16le", "--latency-msec=20")
    heard = Heard()
    with tempfile.TemporaryFile() as file:  # a pipe that nobody empties holds two seconds
        recorder = subprocess.Popen(
            ["parec", "--device=room.monitor", *raw],
            env=microphone.environment,
            stdout=file,
            stderr=subprocess.DEVNULL,
        )
        time.sleep(0.5)
        try:
            yield heard
        finally:
            recorder.terminate()
            recorder.wait(timeout=10)
            file.seek(0)
            heard.pcm = file.read()


def start(room: Terminal, microphone: VirtualMicrophone, *options: str) -> None:
    """The program on the case "night", ready to hear."""
    program = [sys.executable, "-c", "from tui.cli import main; main()", "listen", "--case", "night", "--mode", "open"]
    environment = {**microphone.environment, "TERM": "screen-256color", "PYTHONPATH": str(ROOT)}
    room.run([*program, "--engine", "both", *options], environment)
    room.wait_for("LISTENING", 120)
    time.sleep(1)


def facts() -> tuple[Fact, ...]:
    return store.read(cases_folder(), "night").facts


def of(kind: type[Fact], seconds: float = 15) -> Fact:
    """The first fact of this kind, waited for."""
    deadline = time.monotonic() + seconds
    while not (found := [fact for fact in facts() if isinstance(fact, kind)]):
        assert time.monotonic() < deadline, f"no {kind.__name__}"
        time.sleep(0.1)
    return found[0]


def end(room: Terminal) -> None:
    room.press("q")
    room.wait_for("End listening", 5)
    room.press("Enter")
    room.wait_for_end(15)


def test_what_is_logged_is_said_aloud_and_not_heard(microphone: VirtualMicrophone, room: Terminal, said: Path) -> None:
    start(room, microphone, "--speak")
    microphone.play(said)
    with loudspeaker(microphone) as aloud:
        gap = of(CaptureGap)
        time.sleep(1)
    assert aloud.loud_seconds > 1.0
    assert isinstance(gap, CaptureGap)
    assert gap.reason == "muted while the read-back was spoken"
    assert gap.seconds > aloud.loud_seconds
    room.wait_for("LISTENING", 5)
    time.sleep(2)
    assert [type(fact) for fact in facts()].count(EntryLogged) == 1, "its own voice is no entry"
    end(room)


def test_p_plays_the_line_that_was_chosen(microphone: VirtualMicrophone, room: Terminal, said: Path) -> None:
    start(room, microphone)
    microphone.play(said)
    entry = of(EntryLogged)
    assert isinstance(entry, EntryLogged) and entry.origin.sound is not None
    time.sleep(2)
    with loudspeaker(microphone) as played:
        room.press("p")
        gap = of(CaptureGap)
        time.sleep(1)
    assert isinstance(gap, CaptureGap)
    assert gap.reason == "muted while a line was played"
    assert CLIP_LOUD_SECONDS / 2 < played.loud_seconds < CLIP_LOUD_SECONDS + 0.3
    assert gap.seconds > played.loud_seconds
    time.sleep(2)
    assert [type(fact) for fact in facts()].count(EntryLogged) == 1, "what is played back is no entry"
    end(room)
