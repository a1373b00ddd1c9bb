"""How long the room waits: from the end of what was said to the read-back painted in a real terminal, and what idle
listening costs.

    python -m tests.bench.live [--rounds 1]

The demonstration is played through a virtual microphone (see tests/e2e); the screen is read every 20 ms. The end of
each utterance is known from the demonstration's timeline; the sound server adds some hundredths of a second.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from importlib.resources import as_file, files
from pathlib import Path

import soundfile

from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone

ROOT = Path(__file__).parents[2]
LOOK_SECONDS = 0.02
SOONEST, LATEST = 0.05, 2.5
"""Seconds after the end of an utterance in which its read-back is looked for."""

SHOWN = re.compile(r"│\s+(\d+) · ")
IDLE_SECONDS = 30


def main() -> None:
    """Runs it and prints the tables."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--rounds", type=int, default=1)
    rounds = options.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder, virtual_microphone() as microphone:
        waits: list[float] = []
        for number in range(rounds):
            with terminal(f"live-{os.getpid()}-{number}") as room:
                _start(room, microphone, Path(folder), f"case{number}")
                if number == 0:
                    print(_idle(room.pid()))
                waits += _round(room, microphone, Path(folder))
    waits.sort()
    print(f"{len(waits)} read-backs: p50 {1000 * statistics.median(waits):.0f} ms, ", end="")
    print(f"p95 {1000 * waits[int(0.95 * (len(waits) - 1))]:.0f} ms, longest {1000 * waits[-1]:.0f} ms")


def _start(room: Terminal, microphone: VirtualMicrophone, folder: Path, case: str) -> None:
    own = {"TAMPONADE_CASES": str(folder), "TAMPONADE_KEY": str(folder / "key"), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", "from tui.cli import main; main()", "listen", "--case", case]
    room.run(command, {**microphone.environment, **own, "TERM": "screen-256color"})
    room.wait_for("LISTENING", 40)


def _round(room: Terminal, microphone: VirtualMicrophone, folder: Path) -> list[float]:
    ends = [line["end"] for line in json.loads((files("tui.demo") / "timeline.json").read_text(encoding="utf-8"))]
    with as_file(files("tui.demo") / "demo.opus") as path:
        sound, rate = soundfile.read(path)
    target = folder / "demo.wav"
    soundfile.write(target, sound, rate, subtype="PCM_16")
    player = threading.Thread(target=_play, args=(microphone, target))
    painted: list[float] = []
    shown = ""
    began = time.monotonic()
    player.start()
    while player.is_alive():
        found = SHOWN.search(room.screen())
        if found and found.group(0) + _standing(room) != shown:
            shown = found.group(0) + _standing(room)
            painted.append(time.monotonic() - began)
        time.sleep(LOOK_SECONDS)
    waits = (next((at - end for at in painted if SOONEST < at - end < LATEST), None) for end in ends)
    return [wait for wait in waits if wait is not None]


def _standing(room: Terminal) -> str:
    return "".join(word for word in ("STANDS", "ASKED", "CONFIRMED", "STRUCK", "AMENDED") if word in room.screen())


def _play(microphone: VirtualMicrophone, path: Path) -> None:
    command = ["paplay", "--device=room", str(path)]
    subprocess.run(command, env=microphone.environment, check=True)


def _idle(program: int) -> str:
    """Processor and memory of all processes while nobody speaks."""
    time.sleep(5)
    before, began = _ticks(program), time.monotonic()
    time.sleep(IDLE_SECONDS)
    used = (_ticks(program) - before) / os.sysconf("SC_CLK_TCK") / (time.monotonic() - began)
    kilobytes = sum(_memory(pid) for pid in _family(program))
    return f"idle listening: {used:.1%} of one core, {kilobytes / 1024:.0f} MB (proportional set size) in all processes"


def _family(program: int) -> list[int]:
    done = subprocess.run(["pgrep", "-P", str(program)], capture_output=True, text=True, check=False)
    children = [int(pid) for pid in done.stdout.split()]
    return [program, *(pid for child in children for pid in _family(child))]


def _ticks(program: int) -> int:
    fields = [
        Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split() for pid in _family(program)
    ]
    return sum(int(field[11]) + int(field[12]) for field in fields)


def _memory(pid: int) -> int:
    """Kilobytes; what processes share is divided among them."""
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    found = re.search(r"^Pss:\s+(\d+) kB", rollup, flags=re.MULTILINE)
    return int(found[1]) if found else 0


if __name__ == "__main__":
    main()
