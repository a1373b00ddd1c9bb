"""Files from outside that are broken or mean harm: each has to end in success or in one line that says what to do.

    python tests/bench/fuzz.py [--inputs 100000] [--seed 0] [--only TARGET] [--out FOLDER]

Every input follows from seed, target and number. Failing inputs are written to a folder, cut down where that is quick.
Each target runs in a process of its own with a bound on its memory: one that dies or hangs where no signal reaches it
is a failure too, and the next input goes on in a new one.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

from tests.bench.fuzzing import casefiles, definitions, facts, journals, media, typed
from tests.bench.fuzzing.mutation import Given, Target
from tests.bench.fuzzing.running import judged, minimised

TARGETS: Sequence[Target] = (
    *definitions.TARGETS,
    *facts.TARGETS,
    *media.TARGETS,
    *casefiles.TARGETS,
    *journals.TARGETS,
    *typed.TARGETS,
)
MEMORY = 3 * 1024**3
"""Address space of a process; without an input it has less than one."""
HUNG_S = 300.0
"""For which nothing is heard of a process before it is taken for hung: it may wait for nothing in the end, and take no
processor; and other work may keep the machine from it."""
KEPT = 3
"""Inputs written for each way to fail."""


@dataclass(slots=True)
class Tally:
    """What came of a target."""

    inputs: int = 0
    accepted: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    slowest: int = 0
    failures: Counter[str] = field(default_factory=Counter)


def given(target: Target, seed: int, number: int) -> Given:
    """The input of this number."""
    return target.make(random.Random(f"{seed} {target.name} {number}"))


def main() -> None:
    """Runs the targets and prints a table; ends with 1 if anything failed."""
    options = _options()
    options.out.mkdir(parents=True, exist_ok=True)
    chosen = [target for target in TARGETS if options.only in ("", target.name)]
    shares = sum(target.share for target in chosen)
    print(
        "| target | inputs | refused with error | accepted | slowest ms (input) | failures | s |\n" + "|---" * 7 + "|"
    )
    tallies = []
    for target in chosen:
        began = time.monotonic()
        tally = run(target, options.seed, -(-options.inputs * target.share // shares), options.out)
        tallies.append(tally)
        took, failed = time.monotonic() - began, tally.failures.total()
        print(
            f"| {target.name} | {tally.inputs} | {tally.refused} | {tally.accepted} |"
            f" {tally.slowest_s * 1000:.0f} ({tally.slowest}) | {failed} | {took:.0f} |",
            flush=True,
        )
    print(f"\n{sum(tally.inputs for tally in tallies)} inputs, seed {options.seed}")
    for target, tally in zip(chosen, tallies, strict=True):
        for failure, count in tally.failures.most_common():
            print(f"{target.name}: {count} x {failure}")
    if any(tally.failures for tally in tallies):
        sys.exit(f"failing inputs are in {options.out}")


def run(target: Target, seed: int, inputs: int, out: Path) -> Tally:
    """All inputs of a target, in as many processes as it takes."""
    tally, number = Tally(), 0
    while number < inputs:
        ours, theirs = multiprocessing.Pipe(duplex=False)
        worker = multiprocessing.get_context("fork").Process(
            target=_work, args=(target, seed, range(number, inputs), out, theirs), daemon=True
        )
        worker.start()
        theirs.close()
        try:
            while number < inputs:
                if not ours.poll(HUNG_S):
                    raise EOFError
                number = _count(tally, *ours.recv())
        except EOFError:
            worker.kill()
            worker.join()
            _count(tally, number, "", 0.0, f"the process died or hung ({worker.exitcode})")
            _keep(out, target, number, given(target, seed, number), f"died {worker.exitcode}")
            number += 1
        worker.join()
    return tally


def _count(tally: Tally, number: int, outcome: str, seconds: float, failure: str) -> int:
    tally.inputs += 1
    tally.accepted += outcome == "accepted"
    tally.refused += outcome == "refused"
    if failure:
        tally.failures[failure] += 1
    if seconds > tally.slowest_s:
        tally.slowest_s, tally.slowest = seconds, number
    return number + 1


def _work(target: Target, seed: int, numbers: range, out: Path, told: Connection) -> None:
    """The inputs of these numbers, in a process of their own."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    seen: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:
        scratch = Path(folder) / "scratch"
        os.environ |= {
            "TAMPONADE_KEY": f"{folder}/key",
            "HOME": folder,
            "XDG_CONFIG_HOME": folder,
            "XDG_DATA_HOME": folder,
        }
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)  # decoders write there
        for number in numbers:
            one = given(target, seed, number)
            began = time.process_time()
            outcome = judged(target, one, scratch)
            seconds = time.process_time() - began
            if outcome.failure:
                seen[outcome.failure] += 1
                if seen[outcome.failure] <= KEPT:
                    _keep(out, target, number, one, outcome.detail)
                if seen[outcome.failure] == 1 and "TooLong" not in outcome.failure:
                    smallest = minimised(target, one, outcome.failure, scratch)
                    _keep(out, target, number, smallest, outcome.failure, "smallest-")
            kind = "" if outcome.failure else "accepted" if outcome.accepted else "refused"
            told.send((number, kind, seconds, outcome.failure))


def _keep(out: Path, target: Target, number: int, one: Given, detail: str, prefix: str = "") -> None:
    name = f"{prefix}{target.name.replace(' ', '-')}-{number}"
    (out / f"{name}{Path(one.name).suffix}").write_bytes(one.content)
    (out / f"{name}.txt").write_text(f"{one.name}\n{detail}\n", encoding="utf-8", errors="backslashreplace")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--inputs", type=int, default=100_000, help="in all, spread by what they cost")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", choices=["", *(target.name for target in TARGETS)], default="", metavar="TARGET")
    parser.add_argument("--out", type=Path, default=Path(tempfile.gettempdir()) / "tamponade-fuzz", metavar="FOLDER")
    return parser.parse_args()


if __name__ == "__main__":
    main()
