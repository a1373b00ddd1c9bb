"""The true program in a true terminal with a microphone: it hears the demonstration's voices, the microphone is pulled
out, an engine is killed, the whole program is killed, and the case is resumed.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
import pytest
import soundfile

from log.exports.note import as_note
from log.facts.events import CaptureGap, CaseClosed, CaseResumed, Fact
from log.facts.line import Line
from log.facts.record import fold
from log.store import case as store
from log.store.folder import cases_folder
from log.store.verify import verify
from log.summaries.whole import whole
from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone

ROOT = Path(__file__).parents[2]
STRETCH = (45.7, 55.0)
"""Seconds of the demonstration: "log gastric in fifty five zero", "... pressure one three", "... in two five"."""

FIRST_WORD = 1.0
"""Seconds from the start of the stretch to its first word."""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three entries of the demonstration as a sound file."""
    with as_file(files("tui.demo") / "demo.opus") as path:
        sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    cut = sound[round(STRETCH[0] * rate) : round(STRETCH[1] * rate), 0]
    target = tmp_path_factory.mktemp("said") / "said.wav"
    soundfile.write(target, np.concatenate([cut, np.zeros(rate, np.float32)]), rate, subtype="PCM_16")
    return target


@pytest.fixture
def microphone() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as started:
        yield started


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Terminal]:
    with terminal(f"tamponade-{os.getpid()}-{tmp_path.name}") as opened:
        yield opened


def start(room: Terminal, microphone: VirtualMicrophone) -> None:
    """The program on the case "night", ready to hear."""
    command = [sys.executable, "-c", "from tui.cli import main; main()", "listen", "--case", "night"]
    room.run(command, {**microphone.environment, "TERM": "screen-256color", "PYTHONPATH": str(ROOT)})
    room.wait_for("LISTENING", 120)
    time.sleep(1)


def facts() -> tuple[Fact, ...]:
    return store.read(cases_folder(), "night").facts


def lines() -> list[Line]:
    return list(fold(facts()).lines)


def wait_for_lines(count: int, seconds: float = 15) -> list[Line]:
    deadline = time.monotonic() + seconds
    while len(found := lines()) < count:
        assert time.monotonic() < deadline, f"{len(found)} of {count} lines came"
        time.sleep(0.2)
    return found


def engines(program: int) -> list[int]:
    """The processes of the speech engines."""
    done = subprocess.run(
        ["pgrep", "-P", str(program), "-f", "spawn_main"], capture_output=True, text=True, check=False
    )
    return [int(pid) for pid in done.stdout.split()]


def test_a_room_is_heard_through_everything_that_goes_wrong(
    microphone: VirtualMicrophone, room: Terminal, said: Path
) -> None:
    start(room, microphone)

    played_at = time.time()
    microphone.play(said)
    heard = wait_for_lines(2)
    first = heard[0]
    assert (first.entry.kind, first.entry.site, first.entry.number) == ("volume_in", "gastric", 50)
    assert first.said_at.timestamp() == pytest.approx(played_at + FIRST_WORD, abs=0.7), "the time it was said"
    assert first.origin.sound is not None
    screen = room.wait_for("gastric volume in 50 mL", 5)
    assert "Not a medical device" in screen

    microphone.pull()
    room.wait_for("NO SOUND", 3)
    time.sleep(2)
    microphone.put_back()
    room.wait_for("LISTENING", 15)
    (gap,) = (fact for fact in facts() if isinstance(fact, CaptureGap))
    assert 1.5 < gap.seconds < 12

    before = len(lines())
    victims = engines(room.pid())
    assert victims
    os.kill(victims[0], signal.SIGKILL)
    microphone.play(said)
    wait_for_lines(before + 2, 30)

    room.press("?")
    room.wait_for("How to speak to the log", 5)
    room.press("Escape")
    before = len(lines())
    acknowledged = facts()
    os.kill(room.pid(), signal.SIGKILL)
    room.wait_for_end(10)
    room.close()
    assert facts()[: len(acknowledged)] == acknowledged

    start(room, microphone)
    resumed = [fact for fact in facts() if isinstance(fact, CaseResumed)]
    assert len(resumed) == 1
    assert "without closing the case" in [fact for fact in facts() if isinstance(fact, CaptureGap)][-1].reason
    microphone.play(said)
    wait_for_lines(before + 2)
    room.press("q")
    room.wait_for("End listening", 5)
    room.press("Enter")
    room.wait_for_end(15)
    closed = facts()[-1]
    assert isinstance(closed, CaseClosed)
    kept = store.read(cases_folder(), "night")
    assert (verify(kept.path).problems, verify(kept.path).sounds_missing) == ((), ())
    note = as_note(whole(kept))
    assert "gastric volume in 50 mL" in note
    assert note.count("without closing the case") == 2, "in the story where it was, and in the list of gaps"


def test_a_terminal_that_is_closed_leaves_a_closed_case(microphone: VirtualMicrophone, room: Terminal) -> None:
    start(room, microphone)
    os.kill(room.pid(), signal.SIGHUP)
    room.wait_for_end(15)
    closed = facts()[-1]
    assert isinstance(closed, CaseClosed)
    assert closed.reason == "the terminal was closed"
