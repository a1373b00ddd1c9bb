"""The room in plain lines, as a process of its own: what it says, and what is left of the case however it ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from log.facts.events import CaptureGap, CaseClosed, CaseOpened, EntryLogged, Fact
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.tui.conftest import PROGRAM, Run, recording

pytestmark = pytest.mark.slow

NAME = "bay-4"


def command(cases: Path, audio: Path) -> list[str]:
    """The program listening to a recording."""
    arguments = ["listen", "--plain", "--audio", audio, "--cases", cases, "--case", NAME]
    arguments += ["--mode", "open", "--engine", "both"]
    return [sys.executable, "-c", PROGRAM, *map(str, arguments)]


@contextmanager
def running(cases: Path, audio: Path) -> Iterator[subprocess.Popen[str]]:
    """The same, until it listens."""
    environment = os.environ | {"COLUMNS": "140"}
    child = subprocess.Popen(
        command(cases, audio), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    )
    try:
        assert child.stdout is not None
        while line := child.stdout.readline():
            if line.startswith("-- listening"):
                break
        else:
            pytest.fail(child.communicate()[1])
        yield child
    finally:
        child.kill()
        child.communicate()


def facts(cases: Path) -> tuple[Fact, ...]:
    """What is on disk, which has to verify."""
    assert not verify(cases / f"{NAME}{SUFFIX}").problems
    return store.read(cases, NAME).facts


def test_cautions_come_first_then_each_entry_then_how_things_stand(tmp_path: Path, clip: Path) -> None:
    done = subprocess.run(command(tmp_path, clip), capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    places = [
        done.stdout.index(words)
        for words in (
            "Not a medical device",
            "-- listening",
            "Pressure (gastric)",
            "-- stopped (end of the recording)",
            "As it stands",
            f"case {NAME} is closed",
        )
    ]
    assert places == sorted(places)
    assert "20 mmHg · two-zero" in done.stdout
    *_, entry, closed = (fact for fact in facts(tmp_path) if not fact.fact.startswith("finding_"))
    assert isinstance(entry, EntryLogged)
    assert entry.entry.value == 20
    assert isinstance(closed, CaseClosed)
    assert closed.reason == "end of the recording"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_ended_from_outside_the_case_is_closed(how: signal.Signals, tmp_path: Path, clip_pcm: bytes) -> None:
    with running(tmp_path, recording(tmp_path / "long.wav", clip_pcm, times=8)) as child:
        time.sleep(1.0)
        child.send_signal(how)
        out, errors = child.communicate(timeout=20)
    assert (child.returncode, errors) == (0, "")
    assert f"case {NAME} is closed" in out
    closed = facts(tmp_path)[-1]
    assert isinstance(closed, CaseClosed)
    assert closed.reason == "ended by the operator"


def test_killed_nothing_that_was_shown_is_lost_and_the_case_goes_on_with_a_gap(
    tmp_path: Path, clip_pcm: bytes, run: Run
) -> None:
    with running(tmp_path, recording(tmp_path / "long.wav", clip_pcm, times=8)) as child:
        assert child.stdout is not None
        while "Pressure (gastric)" not in (line := child.stdout.readline()):
            assert line, "ended without an entry"
        child.kill()
        child.wait()
    left = facts(tmp_path)
    assert isinstance(left[0], CaseOpened)
    assert any(isinstance(fact, EntryLogged) for fact in left)
    assert not any(isinstance(fact, CaseClosed) for fact in left)
    run("say", "--cases", tmp_path, "--case", NAME, "tube passed").done()
    after = facts(tmp_path)
    assert after[: len(left)] == left
    (gap,) = (fact for fact in after[len(left) :] if isinstance(fact, CaptureGap))
    assert gap.reason.startswith("the program had ended without closing the case")
    assert gap.seconds >= 0
