"""Is anything lost when the program is killed? SIGKILL to all of it, engines included, at any moment of its life.

    python tests/bench/crash.py [--runs N] [--seed S] [--only KIND] [--out FOLDER]

After each kill: everything that was read back is in the case, at most one transaction more, the case verifies with its
sounds, it can be resumed, and the gap is a fact. The folder of a case that fails is kept. Linux only.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

import numpy as np
import soundfile

from log.basics.errors import InputError
from log.facts.events import CaptureGap, CaseClosed, IdentifiersGiven, IdentifiersRemoved
from log.facts.record import fold
from log.rules.definitions import load
from log.store import case as store
from log.store.folder import SUFFIX, case_names
from log.store.writing import beside
from tests.bench.killing import (
    MARK,
    PROGRAM,
    SAID,
    Ran,
    entries,
    facts_of,
    goes_on,
    is_forgotten,
    nothing_lost,
    run,
)
from tests.case_file import logged, opened

SHARE = {"say": 0.68, "replay": 0.12, "replay, paced": 0.03, "one engine": 0.03, "prune": 0.08, "identify": 0.06}
"""Of all runs."""
KILLS_A_CASE = 8
"""So many kills one after the other hit the same case."""


@dataclass
class Count:
    """What came of one kind of run."""

    runs: int = 0
    killed: int = 0
    acknowledged: int = 0
    more: int = 0
    """Written and not yet read back."""
    failed: list[str] = field(default_factory=list)
    notes: dict[str, int] = field(default_factory=dict)

    def note(self, what: str) -> None:
        """Counts something that is neither good nor bad."""
        self.notes[what] = self.notes.get(what, 0) + 1


class Killer:
    """Runs of every kind, in a folder of its own."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder = folder
        self.chance = random.Random(seed)
        self.counts = {kind: Count() for kind in SHARE}
        self.life: dict[str, float] = {}
        """How long a program of each kind lives if nobody kills it; measured unless it is given."""

    def many(self, kind: str, runs: int) -> None:
        """So many runs of a kind; a failure is kept and the others go on."""
        kinds: dict[str, Callable[[Path, Count], Ran | None]] = {
            "say": self._say,
            "replay": self._replay,
            "replay, paced": lambda place, count: self._replay(place, count, "--paced"),
            "one engine": self._one_engine,
            "prune": self._prune,
            "identify": self._identify,
        }
        count = self.counts[kind]
        for number in range(runs):
            place = self.folder / f"{kind.replace(', ', '-').replace(' ', '-')}-{number // KILLS_A_CASE}"
            place.mkdir(exist_ok=True)
            count.runs += 1
            try:
                ran = kinds[kind](place, count)
                count.killed += ran is not None and ran.killed
                if facts_of(place, "case"):
                    goes_on(place, "case", self.chance)
            except Exception as error:  # whatever it is, it is what we look for
                kept = place.with_name(f"{place.name}-run-{number}-FAILED")
                place.rename(kept)
                count.failed.append(f"{kept}: {type(error).__name__}: {error}")

    def _when(self, kind: str, whole: Callable[[], Ran]) -> float:
        """A moment of the program's life, from before it is loaded until it has ended."""
        if kind not in self.life:
            self.life[kind] = min(whole().seconds, whole().seconds)
        late = self.chance.random() < 0.7  # more than half of a life goes by in loading
        return self.chance.uniform(0.6 if late else 0.02, 1.02) * self.life[kind]

    def _say(self, place: Path, count: Count) -> Ran:
        def whole(at: Path, kill_after: float | None = None) -> Ran:
            return run(["say", "--cases", str(at), "--case", "case"], kill_after, SAID * 10)

        when = self._when("say", lambda: whole(self.folder / "life"))
        return self._checked(place, count, lambda: whole(place, when))

    def _replay(self, place: Path, count: Count, *options: str) -> Ran:
        def whole(at: Path, kill_after: float | None = None) -> Ran:
            return run(["replay", str(self._recording(8)), "--cases", str(at), "--case", "case", *options], kill_after)

        when = self._when(f"replay{options}", lambda: whole(self.folder / f"life{len(options)}"))
        return self._checked(place, count, lambda: whole(place, when))

    def _checked(self, place: Path, count: Count, killed: Callable[[], Ran]) -> Ran:
        before, before_it = facts_of(place, "case"), content(place)
        ran = killed()
        count.more += nothing_lost(before, ran, facts_of(place, "case"))
        count.acknowledged += len(ran.acknowledged)
        count.note(put_back(place, before_it))
        return ran

    def _one_engine(self, place: Path, count: Count) -> Ran | None:
        """The program lives on: the case is closed, and what the engine did not hear is heard again or a gap."""
        recording, before = self._recording(4), facts_of(place, "case")
        command = [*PROGRAM, "replay", str(recording), "--cases", str(place), "--case", "case"]
        with tempfile.TemporaryFile() as out:
            child = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT)
            timer = threading.Timer(self.chance.uniform(0.5, 7), self._kill_an_engine, (child.pid, count))
            timer.start()
            code = child.wait(timeout=180)
            timer.cancel()
            timer.join()
        after = facts_of(place, "case")
        new = after[len(before) :]
        if code == 5:  # it died before it was ready: nothing is begun
            assert not new, new
            count.note("not begun: the engine died while loading")
            return None
        assert code == 0, code
        assert isinstance(after[-1], CaseClosed)
        heard, gaps = len(entries(new)), sum(isinstance(f, CaptureGap) and "engine" in f.reason for f in new)
        assert heard + gaps >= 4, f"{heard} heard, {gaps} gaps"
        count.acknowledged += heard
        count.note("went on with a gap" if gaps else "went on, all heard")
        return None

    def _kill_an_engine(self, parent: int, count: Count) -> None:
        children = Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
        engines = [pid for pid in children if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()]
        if engines:
            os.kill(int(self.chance.choice(engines)), signal.SIGKILL)
            count.killed += 1
        else:
            count.note("no engine was there to kill")

    def _prune(self, place: Path, count: Count) -> Ran:
        """Sounds are there, or gone with a fact that says so; after the next opening nothing of them is in the file."""

        def whole(at: Path, kill_after: float | None = None) -> Ran:
            begin(at, sounds=150)
            return run(["cases", "--cases", str(at), "prune", "--older-than", "0", "--author", "crash run"], kill_after)

        when = self._when("prune", lambda: whole(self.folder / "life-prune"))
        ran = whole(place, when)
        goes_on(place, "case", self.chance)
        store.resume(place, "case").close()
        count.note("removed" if is_forgotten(place, "case") else "still there")
        return ran

    def _identify(self, place: Path, count: Count) -> Ran:
        """The block is the old one or the new one, never both and never none."""

        def whole(at: Path, kill_after: float | None = None) -> Ran:
            if "case" not in case_names(at):
                begin(at)
            return run(
                ["identify", "case", "--cases", str(at), "--place", f"Bay {self.chance.random()}", "--author", "crash"],
                kill_after,
            )

        when = self._when("identify", lambda: whole(self.folder / "life-identify"))
        ran = whole(place, when)
        given = [fact.sha256 for fact in facts_of(place, "case") if isinstance(fact, IdentifiersGiven)]
        gone = [f.sha256 for f in facts_of(place, "case") if isinstance(f, IdentifiersRemoved)]
        assert len(given) == len(gone) + bool(given), f"{len(given)} blocks given, {len(gone)} removed"
        count.note("replaced" if len(given) > 1 else "given" if given else "not given")
        return ran

    def _recording(self, times: int) -> Path:
        path = self.folder / f"said-{times}.flac"
        if not path.exists():
            samples, rate = soundfile.read(str(files("voice.sound") / "clip.flac"), dtype="int16")
            soundfile.write(path, np.tile(samples, times), rate)
        return path


def content(folder: Path) -> bytes:
    """The case's file alone; nothing if there is none."""
    path = folder / f"case{SUFFIX}"
    return path.read_bytes() if path.exists() else b""


def put_back(folder: Path, older: bytes) -> str:
    """What a copy of the file alone holds after a kill, and what becomes of an older one beside the journal of now.
    Both are states in which the case was."""
    whole = facts_of(folder, "case")
    if not whole:
        return "no case yet"
    journal = folder / f"case{SUFFIX}-wal"
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name) / f"case{SUFFIX}"
        copy.write_bytes(content(folder))
        try:
            alone = store.read(copy.parent, "case").facts
        except InputError:  # killed while the journal was being folded in: both together are whole
            return "the file alone is torn"
        assert alone == whole[: len(alone)], "the file alone is another case"
        if older and journal.exists():
            copy.write_bytes(older)
            shutil.copy(journal, copy.parent)
            with contextlib.suppress(InputError):  # says that the journal was set aside
                store.read(copy.parent, "case")
            again = store.read(copy.parent, "case").facts
            assert again == whole[: len(again)], "an older file and this journal make another case"
    return "the file alone has all" if alone == whole else "the file alone lacks the last 2 s"


def begin(folder: Path, sounds: int = 0) -> None:
    """A case anew, with so many sounds of 40 kB: removing them takes a while."""
    shutil.rmtree(folder, ignore_errors=True)
    kept = [beside("sound", MARK + os.urandom(40_000)) for _ in range(sounds)]
    said = [logged(number, 30 + number % 10, sound) for number, sound in enumerate(kept, start=1)]
    first = opened(definition=load("three-lumen").text).model_copy(update={"label": os.urandom(8).hex()})
    with store.create(folder, first) as case:
        if said:
            case.append(said, fold([first, *said]).summary, kept)


def report(counts: dict[str, Count], seed: int) -> str:
    """A table, and whatever failed."""
    rows = [
        f"seed {seed}",
        "| killed | runs | killed while running | read back before | written, not yet read back | failed | |",
        "|---|---|---|---|---|---|---|",
    ]
    for kind, c in counts.items():
        notes = "; ".join(f"{what}: {n}" for what, n in sorted(c.notes.items()))
        rows.append(f"| {kind} | {c.runs} | {c.killed} | {c.acknowledged} | {c.more} | {len(c.failed)} | {notes} |")
    return "\n".join([*rows, *(told for c in counts.values() for told in c.failed)])


def main() -> None:
    """Kills, checks, and prints what came of it; ends with 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=360)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--only", choices=SHARE)
    parser.add_argument("--out", type=Path, help="Folder for the cases; without it one that goes if all is well.")
    options = parser.parse_args()
    folder = options.out or Path(tempfile.mkdtemp(prefix="tamponade-crash-"))
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["TAMPONADE_KEY"] = str(folder / "key")
    killer = Killer(folder, options.seed)
    for kind, share in SHARE.items():
        if options.only in (None, kind):
            killer.many(kind, options.runs if options.only else round(options.runs * share))
    print(report(killer.counts, options.seed))
    if any(count.failed for count in killer.counts.values()):
        raise SystemExit(1)
    if options.out is None:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
