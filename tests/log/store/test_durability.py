"""What was acknowledged stays: when the program is killed, the disk fills or turns read-only, the clock jumps, or two
programs want the same case. The many kills are in tests/bench/crash.py; here is a small share of them.
"""

from __future__ import annotations

import platform
import shutil
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from log.exports import FORMATS
from log.facts.events import CaptureGap, CaseResumed
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case, resume
from log.scribe.session import Session
from log.store import case as store
from log.store.verify import verify
from log.summaries.whole import whole
from tests.bench import killing
from tests.bench.crash import Killer
from tests.cases import BEGAN
from tests.log.store.in_a_small_disk import REFUSED
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import Phrases

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="finds the program's processes in /proc")
REPOSITORY = Path(__file__).parents[3]

DYING = """
import os, sys, sqlite3
from pathlib import Path
from log.store import sqlite
from log.store import case as store
from log.store.folder import case_names
from tests.case_file import opened
folder = Path(sys.argv[1])
class Dying(sqlite3.Connection):
    left = 0
    def execute(self, sql, *more):
        Dying.left -= 1
        if Dying.left == 0:
            os.kill(os.getpid(), 9)
        return super().execute(sql, *more)
    def executemany(self, sql, *more):
        self.execute("SELECT 1")
        return super().executemany(sql, *more)
real = sqlite3.connect
sqlite.sqlite3.connect = lambda *where, **how: real(*where, **how, factory=Dying)
for moment in range(1, 60):
    child = os.fork()
    if child == 0:
        Dying.left = moment
        store.create(folder, opened()).close()
        os._exit(0)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if case_names(folder):
        break
    assert code == -9, code
print(moment)
"""
"""Begins a case, and is killed before the first, the second ... thing it asks of SQLite, until the case is there."""


# ---- kills ---------------------------------------------------------------------------------------------------------


@LINUX
@pytest.mark.slow
@pytest.mark.parametrize(("kind", "runs"), [("say", 6), ("replay", 2), ("identify", 4)])
def test_nothing_acknowledged_is_lost_when_everything_is_killed(tmp_path: Path, kind: str, runs: int) -> None:
    killer = Killer(tmp_path, seed=8)
    killer.life = {"replay()": 4.5}  # seconds; the short lives of the others are measured, they differ by machine
    killer.many(kind, runs)
    count = killer.counts[kind]
    assert count.failed == []
    assert count.killed > 0
    assert count.acknowledged > 0 or kind != "say"


@LINUX
@pytest.mark.slow
def test_a_case_that_is_killed_while_it_is_begun_is_there_with_its_opening_or_not_at_all(tmp_path: Path) -> None:
    """The moments between the first file and the first fact are found one by one."""
    done = subprocess.run(
        [sys.executable, "-c", DYING, str(tmp_path)], cwd=REPOSITORY, capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert int(done.stdout) > 8, "it was killed at some moments"
    assert verify(tmp_path / "case.case").problems == ()
    store.resume(tmp_path, "case").close()
    assert not [path for path in tmp_path.iterdir() if "begun" in path.name]


# ---- disks ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def disk(tmp_path: Path) -> Path:
    """A folder to mount on; skips where nobody may."""
    place = tmp_path / "disk"
    place.mkdir(mode=0o700)
    if shutil.which("unshare") is None or mounted(place, "true").returncode != 0:
        pytest.skip("a file system of one's own is not permitted here (unshare -rm, mount -t tmpfs)")
    return place


def mounted(place: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """A command that finds a disk of 1 MB in this place; nobody else sees it."""
    mount = 'mount -t tmpfs -o size=1m,mode=700 tamponade "$0" && exec "$@"'
    return subprocess.run(
        ["unshare", "-rm", "sh", "-c", mount, str(place), *command],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=False,
    )


def program(name: str, place: Path) -> tuple[str, ...]:
    return (sys.executable, "-m", "tests.log.store.in_a_small_disk", name, str(place))


@pytest.mark.slow
def test_a_disk_that_fills_loses_nothing_and_goes_on_once_there_is_room(disk: Path) -> None:
    done = mounted(disk, *program("full", disk))
    assert (done.returncode, done.stderr) == (0, "")
    said = f"{disk}/case.case: the disk is full; what was acknowledged is safe - free some space and resume with --case"
    assert set(done.stdout.splitlines()) == {said}


@pytest.mark.slow
def test_a_disk_that_is_mounted_read_only_is_read_and_goes_on_once_it_can_be_written(disk: Path) -> None:
    done = mounted(disk, *program("read_only", disk))
    assert (done.returncode, done.stderr) == (0, "")
    assert "cannot be written" in done.stdout
    assert done.stdout.count("\n") == 1


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux" or platform.machine() not in REFUSED, reason="filters Linux system calls")
def test_a_disk_that_turns_read_only_in_the_middle_of_writing_loses_nothing(tmp_path: Path) -> None:
    """The kernel lets nobody mount a disk read-only while a file on it is open for writing; what a program sees when
    that happens after an error of the disk is refused writes."""
    command = program("turned_read_only", tmp_path)
    first = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, check=False)
    if first.returncode == 77:
        pytest.skip(first.stdout.strip())
    assert (first.returncode, first.stderr) == (0, "")
    told, last = first.stdout.splitlines()
    assert told.startswith(f"{tmp_path}/case.case: ")
    assert " - " in told
    assert len(store.read(tmp_path, "case").facts) == int(last) + 1
    assert verify(tmp_path / "case.case").problems == ()
    second = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, check=False)
    assert second.stdout.splitlines()[-1] == str(int(last) + 1)
    assert verify(tmp_path / "case.case").problems == ()


# ---- the clock -----------------------------------------------------------------------------------------------------


def left_alone(session: Session, phrases: Phrases, texts: tuple[str, ...]) -> None:
    """Some entries, and then the program is gone without closing the case."""
    for second, text in enumerate(texts, start=1):
        meaning = understand(phrases, text, Listening())
        session.take(meaning, float(second), second + 0.3, Origin(by="typed", heard=text))
    session.case.close()


HOUR, DAY = timedelta(hours=1), timedelta(days=1)
JUMPS = {
    "an hour back": (-HOUR,),
    "a day on": (DAY,),
    "back and forth": (-HOUR, DAY, -2 * DAY, HOUR, -HOUR),
    "not at all": (timedelta(seconds=30),),
    "a little": (timedelta(seconds=4, milliseconds=100),),
}


@pytest.mark.slow
@pytest.mark.parametrize("jumps", JUMPS.values(), ids=JUMPS)
def test_a_clock_that_jumps_is_said_and_counts_no_time_backwards(
    tmp_path: Path, phrases: Phrases, jumps: tuple[timedelta, ...]
) -> None:
    clock = BEGAN
    session = open_case(tmp_path, "case", load("three-lumen"), "microphone", Keeping(), now=clock)
    left_alone(session, phrases, killing.SAID[:4])
    for jump in jumps:
        last = store.read(tmp_path, "case").facts[-1].logged_at
        clock += jump
        session = resume(tmp_path, "case", "microphone", "operator", now=clock)
        resumed, gap = of_resuming(session)
        assert isinstance(resumed, CaseResumed)
        assert isinstance(gap, CaptureGap)
        back = max(0.0, (last - clock).total_seconds())
        assert resumed.clock_set_back_s == back
        assert gap.seconds == max(0.0, (clock - last).total_seconds())
        assert ("clock" in gap.reason) == (back > 0), gap.reason
        assert not back or f"{back:.0f} s" in gap.reason
        left_alone(session, phrases, killing.SAID[:2])
    assert verify(tmp_path / "case.case").problems == ()
    told = whole(store.read(tmp_path, "case"))
    numbers = [stage.line.number for stage in told.course.stages]
    assert numbers == sorted(numbers), "the sums follow the order in which it was said, whatever the clock reads"
    for name, written in FORMATS.items():
        assert name == "pdf" or written.write(told)  # what is on paper is set from the note


def of_resuming(session: Session) -> tuple[object, object]:
    """The last resuming and its gap; findings may follow."""
    facts = session.case.facts()
    place = max(place for place, fact in enumerate(facts) if isinstance(fact, CaseResumed))
    return facts[place], facts[place + 1]


# ---- two programs --------------------------------------------------------------------------------------------------


@LINUX
@pytest.mark.slow
def test_the_second_writer_is_refused_until_the_first_is_gone(tmp_path: Path) -> None:
    say = ["say", "--cases", str(tmp_path), "--case", "case"]
    with subprocess.Popen(
        [*killing.PROGRAM, *say], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as first:
        assert first.stdin is not None
        assert first.stdout is not None
        first.stdin.write("oesophageal pressure three five\n")
        first.stdin.flush()
        assert any("logged" in line for line in iter(first.stdout.readline, ""))
        second = killing.run(say, lines=["mark the time"])
        assert (second.code, second.printed) == (6, ())
        assert second.told == (
            f"tamponade: {tmp_path}/case.case: another program is writing this case - "
            "close it there, or read it with: tamponade show\n"
        )
        reader = killing.run(["show", "case", "--cases", str(tmp_path)])
        assert (reader.code, reader.told) == (0, "")
        assert "35 mmHg" in "".join(reader.printed)
        killing.kill(first.pid)
        first.wait()
    third = killing.run(say, lines=["mark the time"])
    assert (third.code, third.told) == (0, "")
    facts = killing.facts_of(tmp_path, "case")
    assert [type(fact) for fact in facts].count(CaptureGap) == 1
    assert len(killing.entries(facts)) == 2
