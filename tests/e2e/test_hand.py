"""The true program and the hands beside it: another terminal, a full disk, a kill, and the start in a crisis."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from log.facts.events import EntryLogged, SavedLate
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import virtual_microphone

ROOT = Path(__file__).parents[2]
PROGRAM = (sys.executable, "-c", "from tui.cli import main; main()")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of one megabyte for the cases."""
    place = tmp_path / "small"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)]
    may = os.geteuid() == 0 and shutil.which("mount") is not None
    if not may or subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("only root may mount a small disk")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


@pytest.fixture
def environment(small_disk: Path) -> Iterator[Mapping[str, str]]:
    """A microphone, and the cases on the small disk."""
    with virtual_microphone() as one:
        yield {
            **one.environment,
            "TERM": "screen-256color",
            "PYTHONPATH": str(ROOT),
            "TAMPONADE_CASES": str(small_disk),
        }


@pytest.fixture
def room() -> Iterator[Terminal]:
    with terminal(f"hand-{os.getpid()}") as one:
        yield one


def fill(disk: Path) -> Path:
    """Nothing more fits on it."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(b"\0" * 4096):
                pass
        except OSError:
            return filler
    raise AssertionError("the disk took everything")


def test_many_hands_a_full_disk_a_kill_and_the_next_start(
    environment: Mapping[str, str], small_disk: Path, room: Terminal
) -> None:
    def other_terminal(*arguments: str, stdin: str = "") -> str:
        command = [*PROGRAM, *arguments]
        done = subprocess.run(command, env=environment, input=stdin, capture_output=True, text=True, check=True)
        return done.stdout

    def values() -> list[object]:
        return [fact.entry.value for fact in store.read(small_disk, "night").facts if isinstance(fact, EntryLogged)]

    room.run([*PROGRAM, "listen", "--case", "night"], environment)
    room.wait_for("LISTENING", 120)

    assert "Tube" in other_terminal("say", "tube in", "--case", "night")
    room.wait_for("tube in", 5)
    signed = ("--author", "nurse", "--reason", "of another bed")
    assert "STRUCK" in other_terminal("strike", "night", "1", *signed)
    assert "PUT BACK" in other_terminal("undo", "night", *signed)

    assert "logged" in other_terminal("say", "gastric in five zero", "--case", "night")
    filler = fill(small_disk)
    rates = [*range(60, 100)]  # the journal has some room of its own
    other_terminal("say", "--case", "night", stdin="".join(f"heart rate {rate}\n" for rate in rates))
    said = ["in", 50, *rates]
    room.wait_for("NOT SAVING", 5)
    filler.unlink()
    room.wait_without("NOT SAVING", 15)
    assert values() == said
    assert any(isinstance(fact, SavedLate) for fact in store.read(small_disk, "night").facts)

    os.kill(room.pid(), signal.SIGKILL)
    room.wait_for_end(10)
    room.run([*PROGRAM], environment)
    room.wait_for("tube in, case of", 120)
    room.press("Enter")
    room.wait_for("LISTENING", 120)
    room.press("C-c")
    room.wait_for("A tube is in.", 5)
    room.press("Enter")
    room.wait_for_end(20)
    assert not verify(small_disk / f"night{SUFFIX}").problems
