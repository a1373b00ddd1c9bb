"""How long the room waits: from the end of what was said to the read-back painted in a real terminal, and what
listening costs.

    python -m tests.bench.live [--rounds 1]

The demonstration, 73 utterances, is played through a virtual microphone (tests/e2e); the screen is read every 20 ms.
The end of each utterance is known from the demonstration's timeline; what the sound server adds, some hundredths of a
second, is part of the wait. The program notes when it reached each stage (`tests.bench.stamped`). Skips, and says so,
where tmux or the sound server is missing.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from bisect import bisect
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone
from voice.sound.endpoint import ENDS_SECONDS

ROOT = Path(__file__).parents[2]
LOOK_SECONDS = 0.02
LATEST = 5.0
"""Seconds after the end of an utterance in which what became of it is looked for."""

READ_BACK = slice(5, 30)
"""Lines of the screen with the read-back."""

SETTLING_SECONDS, IDLE_SECONDS = 5.0, 60.0


@dataclass(frozen=True, slots=True)
class Wait:
    """Seconds that went by between the end of an utterance and its read-back, by what they were spent on."""

    silence: float
    """Until it was sure that nobody speaks any more; with the way through the sound server."""
    decoding: float
    """Until the engines had heard it; they begin before the silence is over."""
    keeping: float
    """Until it was judged and on disk."""
    painting: float
    """Until it could be read."""

    @property
    def whole(self) -> float:
        """All of it."""
        return float(sum(astuple(self)))


def main() -> None:
    """Runs it and prints the tables."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--rounds", type=int, default=1)
    try:
        _measure(options.parse_args().rounds)
    except pytest.skip.Exception as missing:
        sys.exit(f"not measured: {missing}")


def _measure(rounds: int) -> None:
    waits: list[Wait] = []
    with tempfile.TemporaryDirectory() as name, virtual_microphone() as microphone:
        folder = Path(name)
        for number in range(rounds):
            with terminal(f"live-{os.getpid()}-{number}") as room:
                stages = folder / f"stages{number}"
                _start(room, microphone, folder, stages)
                if number == 0:
                    print(_idle(room.pid()), flush=True)
                waits += _round(room, microphone, folder, stages)
                if number == 0:
                    print(_memory("after the demonstration", room.pid()), flush=True)
    print(_table(waits))


def _start(room: Terminal, microphone: VirtualMicrophone, folder: Path, stages: Path) -> None:
    own = {"TAMPONADE_CASES": str(folder), "TAMPONADE_KEY": str(folder / "key"), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "tests.bench.stamped", str(stages), "listen", "--case", stages.name]
    room.run(command, {**microphone.environment, **own, "TERM": "screen-256color"})
    room.wait_for("LISTENING", 40)


# ---- how long one waits ---------------------------------------------------------------------------------------------


def _round(room: Terminal, microphone: VirtualMicrophone, folder: Path, stages: Path) -> list[Wait]:
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
        looked = time.monotonic()
        screen = "\n".join(room.screen().splitlines()[READ_BACK])
        if screen != shown:
            shown = screen
            painted.append(time.monotonic())
        time.sleep(max(0.0, LOOK_SECONDS - (time.monotonic() - looked)))
    lines = json.loads((files("tui.demo") / "timeline.json").read_text(encoding="utf-8"))
    return list(_waits([began + line["end"] for line in lines], _read(stages), painted))


def _play(microphone: VirtualMicrophone, path: Path) -> None:
    """The sound into the room; returns when it was played."""
    command = ["paplay", "--device=room", str(path)]
    subprocess.run(command, env=microphone.environment, check=True)


def _read(stages: Path) -> Mapping[str, list[float]]:
    found: dict[str, list[float]] = {"over": [], "known": [], "kept": []}
    for line in stages.read_text(encoding="utf-8").splitlines():
        stage, moment = line.split()
        found[stage].append(float(moment))
    return found


def _waits(ends: Sequence[float], stages: Mapping[str, list[float]], painted: Sequence[float]) -> list[Wait]:
    """Of everything that was kept: the last end of an utterance before its segment was over, and the first change of
    the read-back after it was on disk."""
    waits = []
    for kept in stages["kept"]:
        known = _last(stages["known"], kept)
        over = _last(stages["over"], known)
        end = _last(ends, over - ENDS_SECONDS / 2)
        shown = next((at for at in painted if at >= kept), None)
        if end is not None and shown is not None and shown - end < LATEST:
            waits.append(Wait(over - end, known - over, kept - known, shown - kept))
    return waits


def _last(moments: Sequence[float], before: float) -> float:
    return moments[max(bisect(moments, before) - 1, 0)]


def _table(waits: Sequence[Wait]) -> str:
    columns = {
        "end of speech to painted": [wait.whole for wait in waits],
        f"silence ({ENDS_SECONDS:g} s) and sound server": [wait.silence for wait in waits],
        "decoding after the silence": [wait.decoding for wait in waits],
        "judging, on disk": [wait.keeping for wait in waits],
        "painting": [wait.painting for wait in waits],
        "our own computing": [wait.decoding + wait.keeping + wait.painting for wait in waits],
    }
    rows = [f"{len(waits)} read-backs, ms{'':21}   p50   p95   longest"]
    for name, seconds in columns.items():
        p50, p95, longest = (1000 * float(np.quantile(seconds, q)) for q in (0.5, 0.95, 1.0))
        rows.append(f"{name:36} {p50:6.0f} {p95:5.0f} {longest:9.0f}")
    return "\n".join(rows)


# ---- what it costs --------------------------------------------------------------------------------------------------


def _idle(program: int) -> str:
    """Processor and memory of all processes while nobody speaks."""
    time.sleep(SETTLING_SECONDS)
    before, began = _ticks(program), time.monotonic()
    time.sleep(IDLE_SECONDS)
    used = (_ticks(program) - before) / os.sysconf("SC_CLK_TCK") / (time.monotonic() - began)
    return f"idle listening: {used:.1%} of one core over {IDLE_SECONDS:g} s\n{_memory('at the start', program)}"


def _memory(when: str, program: int) -> str:
    """Of each process, in MB: proportional set size (what processes share is divided among them) and resident set."""
    sizes = [(_name(pid), _kilobytes(pid, "Pss") / 1024, _kilobytes(pid, "Rss") / 1024) for pid in _family(program)]
    rows = [f"memory {when}, MB{'':12} PSS   RSS"]
    rows += [f"  {name:24} {pss:5.0f} {rss:5.0f}" for name, pss, rss in sizes]
    rows.append(f"  {'all':24} {sum(pss for _, pss, _ in sizes):5.0f} {sum(rss for _, _, rss in sizes):5.0f}")
    return "\n".join(rows)


def _family(program: int) -> list[int]:
    done = subprocess.run(["pgrep", "-P", str(program)], capture_output=True, text=True, check=False)
    children = [int(pid) for pid in done.stdout.split()]
    return [program, *(pid for child in children for pid in _family(child))]


def _name(pid: int) -> str:
    """What a process is for, told by the libraries it holds."""
    maps = Path(f"/proc/{pid}/maps").read_text(encoding="utf-8")
    held = {"libvosk": "vosk", "onnxruntime": "people", "pydantic_core": "the room"}
    return next((name for library, name in held.items() if library in maps), "Python's resource tracker")


def _ticks(program: int) -> int:
    fields = [
        Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split() for pid in _family(program)
    ]
    return sum(int(field[11]) + int(field[12]) for field in fields)


def _kilobytes(pid: int, what: str) -> int:
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    found = re.search(rf"^{what}:\s+(\d+) kB", rollup, flags=re.MULTILINE)
    return int(found[1]) if found else 0


if __name__ == "__main__":
    main()
