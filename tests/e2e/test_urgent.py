"""The true program on a virtual microphone: somebody calls, and the page is up; somebody reads, and sees it."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from log.facts.events import EntryLogged
from log.store import case as store
from log.store.folder import SUFFIX, cases_folder
from log.store.verify import verify
from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone
from tests.tui.speech import spoken
from voice.check.voice_check import prompts
from voice.phrases.phrases import Phrases

ROOT = Path(__file__).parents[2]


@pytest.fixture
def microphone() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as one:
        yield one


@pytest.fixture
def room() -> Iterator[Terminal]:
    with terminal(f"urgent-{os.getpid()}") as one:
        yield one


def start(room: Terminal, microphone: VirtualMicrophone, *arguments: str, columns: int = 120, rows: int = 40) -> None:
    program = [sys.executable, "-c", "from tui.cli import main; main()", *arguments]
    environment = {**microphone.environment, "TERM": "screen-256color", "PYTHONPATH": str(ROOT)}
    room.run(program, environment, columns, rows)


@pytest.mark.parametrize(("columns", "rows"), [(120, 40), (80, 24)])
def test_a_call_is_on_the_screen_within_seconds_and_over_when_it_is_said(
    microphone: VirtualMicrophone, room: Terminal, room_model: Path, tmp_path: Path, columns: int, rows: int
) -> None:
    call = spoken(tmp_path / "call.wav", ["cut the tube"], pause=0.2)
    over = spoken(tmp_path / "over.wav", ["log emergency over"], pause=0.2)
    start(room, microphone, "listen", "--case", "night", "--mode", "lead", columns=columns, rows=rows)
    room.wait_for("LISTENING", 120)
    time.sleep(1)
    microphone.play(call)
    page = room.wait_for("Cut all lumens in one cut", 10)
    assert "EMERGENCY 00:0" in page and "SCISSORS" in page and "gastric empty" in page
    room.press("q")
    time.sleep(0.5)
    assert "End listening" not in room.screen()
    microphone.play(over)
    room.wait_for("! EMERGENCY", 15)
    room.press("q")
    room.wait_for("End listening", 5)
    room.press("Enter")
    room.wait_for_end(15)
    folder = cases_folder()
    values = [f.entry.value for f in store.read(folder, "night").facts if isinstance(f, EntryLogged)]
    assert values == ["cut", "over"]
    assert not verify(folder / f"night{SUFFIX}").problems


def test_phrases_are_read_from_the_screen_and_reported(
    microphone: VirtualMicrophone, room: Terminal, room_model: Path, tmp_path: Path, phrases: Phrases
) -> None:
    asked = prompts(phrases, 3, "log", 4)
    clips = [spoken(tmp_path / f"{number}.wav", [one.text], pause=0.3) for number, one in enumerate(asked)]
    command = "from tui.cli import main; main()' voice-check --seed 3 --phrases 4; sleep 30"
    environment = {**microphone.environment, "TERM": "screen-256color", "PYTHONPATH": str(ROOT)}
    room.run(["sh", "-c", f"{sys.executable} -c '{command}"], environment, 100, 40)
    for number, clip in enumerate(clips, start=1):
        room.wait_for(f"{number} of 4: read this", 120)
        assert asked[number - 1].text in room.screen()
        time.sleep(2.5 if number == 1 else 0.3)  # the noise of the room is measured before anybody speaks
        microphone.play(clip)
    end = room.wait_for("Nothing is kept", 20)
    assert "of 4 phrases: " in end and "speech over noise" in end
    right = int(end.split("of 4 phrases: ")[1].split(" right")[0])
    assert right >= 3, end
