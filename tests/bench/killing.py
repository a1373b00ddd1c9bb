"""Kills the program with everything it started, and looks at what is left of the case."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseResumed,
    EntryAsked,
    EntryLogged,
    Fact,
    NotUnderstoodHeard,
    SoundsRemoved,
)
from log.facts.origin import Origin
from log.scribe.opening import resume
from log.store import case as store
from log.store.folder import SUFFIX, case_names
from log.store.verify import verify
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import compile_phrases

PROGRAM = (sys.executable, "-c", "from tui.cli import main; main()")
SAID = (
    "oesophageal pressure three five",
    "gastric in five zero",
    "gastric in fifty",
    "nothing that anybody could understand",
    "gastric five zero mils out",
    "tube at five two at the lips",
    "gastric aspirate four zero zero of blood",
)
"""Each makes one line of the log, or one that was not understood."""

MARK = b"the voice of somebody who is to be forgotten"
"""In every sound of a case that is pruned: it must be nowhere in the file afterwards."""


@dataclass(frozen=True, slots=True)
class Ran:
    """A program that ended or was ended."""

    printed: tuple[str, ...]
    """Whole lines."""
    told: str
    """On standard error."""
    code: int
    seconds: float

    @property
    def killed(self) -> bool:
        """Whether it was still running."""
        return self.code == -signal.SIGKILL

    @property
    def acknowledged(self) -> list[tuple[str, int, float | None]]:
        """What it said is on disk: what became of it, number of the line, value. Not understood: number 0."""
        found: list[tuple[str, int, float | None]] = []
        for line in self.printed:
            if entry := re.match(r"\s*\d+:\d\d\s+(logged|ASKED)\s+(\d+)\s(?:.*?(-?[\d.]+) (?:mL|mmHg|cm|kg) ·)?", line):
                found.append((entry[1].lower(), int(entry[2]), float(entry[3]) if entry[3] else None))
            elif re.match(r"\s*\d+:\d\d\s+not understood: ", line):
                found.append(("not understood", 0, None))
        return found


def run(
    arguments: Iterable[str], kill_after: float | None = None, lines: Iterable[str] = (), pace: float = 0.015
) -> Ran:
    """The program, fed with lines, and after so many seconds SIGKILL to it and everything it started."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.monotonic()
        child = subprocess.Popen(
            [*PROGRAM, *arguments], bufsize=0, stdin=subprocess.PIPE, stdout=out, stderr=err, start_new_session=True
        )
        threading.Thread(target=_feed, args=(child, lines, pace), daemon=True).start()
        try:
            child.wait(kill_after)
        except subprocess.TimeoutExpired:
            kill(child.pid)
        code = child.wait()
        seconds = time.monotonic() - began
        out.seek(0)
        err.seek(0)
        *printed, _torn = out.read().decode(errors="replace").split("\n")
        return Ran(tuple(printed), err.read().decode(errors="replace"), code, seconds)


def kill(leader: int) -> None:
    """Ends a program and everything it started, without a chance to tidy up, and waits for the last of them."""
    os.killpg(leader, signal.SIGKILL)
    for _ in range(500):
        if not _alive(leader):
            return
        time.sleep(0.01)
    raise AssertionError(f"something of {leader} outlives SIGKILL")


def _alive(group: int) -> bool:
    """Whether somebody of the group still runs; the leader, not yet waited for, counts as dead."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, _, of = stat.read_text().rpartition(")")[2].split()[:3]
            if int(of) == group and state not in "ZX":
                return True
    return False


def _feed(child: subprocess.Popen[bytes], lines: Iterable[str], pace: float) -> None:
    assert child.stdin is not None
    with contextlib.suppress(BrokenPipeError), child.stdin as keyboard:
        for line in lines:
            keyboard.write(f"{line}\n".encode())
            time.sleep(pace)


def entries(facts: Iterable[Fact]) -> list[tuple[str, int, float | None]]:
    """What the case holds, in the words of the read-back."""
    found: list[tuple[str, int, float | None]] = []
    for fact in facts:
        if isinstance(fact, EntryLogged):
            found.append(("logged", fact.number, fact.entry.number))
        elif isinstance(fact, EntryAsked):
            found.append(("asked", fact.number, fact.candidates[0].number))
        elif isinstance(fact, NotUnderstoodHeard):
            found.append(("not understood", 0, None))
    return found


def facts_of(folder: Path, name: str) -> tuple[Fact, ...]:
    """The facts of a case that verifies; none if there is no case."""
    if name not in case_names(folder):
        return ()
    report = verify(folder / f"{name}{SUFFIX}")
    assert not report.problems, report.problems
    assert not report.sounds_missing, f"missing: {report.sounds_missing}"
    return store.read(folder, name).facts


def nothing_lost(before: tuple[Fact, ...], ran: Ran, after: tuple[Fact, ...]) -> int:
    """Everything acknowledged is there, and at most one transaction that was not: its number."""
    assert after[: len(before)] == before, "what was there has changed"
    new = entries(after[len(before) :])
    said = ran.acknowledged
    assert new[: len(said)] == said, f"acknowledged: {said}, there: {new}"
    assert len(new) - len(said) in (0, 1), f"{len(new) - len(said)} entries more than acknowledged"
    return len(new) - len(said)


def goes_on(folder: Path, name: str, chance: Random) -> None:
    """The case can be resumed, and says for how long nothing was heard and why."""
    before = facts_of(folder, name)
    session = resume(folder, name, "typed", "crash run")
    closed = isinstance(before[-1], CaseClosed)
    resumed, *more = session.case.facts()[len(before) :]
    gaps = [fact for fact in more if isinstance(fact, CaptureGap)]
    assert isinstance(resumed, CaseResumed)
    assert len(gaps) == (0 if closed else 1), f"{len(gaps)} gaps"
    assert all(gap.seconds >= 0 and "without closing" in gap.reason for gap in gaps)
    meaning = understand(compile_phrases(session.procedure), SAID[0], Listening())
    session.take(meaning, 0.0, 0.0, Origin(by="typed", heard=SAID[0]))
    if chance.random() < 0.5:
        session.close(0.1, "end of typing")
    else:
        session.case.close()
    after = facts_of(folder, name)
    assert after[: len(before)] == before
    assert len(entries(after)) == len(entries(before)) + 1


def is_forgotten(folder: Path, name: str) -> bool:
    """Whether the sounds were removed; then nothing of them is left in any file of the case."""
    gone = any(isinstance(fact, SoundsRemoved) for fact in facts_of(folder, name))
    left = [path for path in folder.glob(f"{name}{SUFFIX}*") if MARK in path.read_bytes()]
    assert bool(left) != gone, f"removed: {gone}, and still in {left}"
    return gone
