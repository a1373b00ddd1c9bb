"""Runs one input in an empty folder within a bound on its processor time, and judges what became of it.

Good is success, or a TamponadeError in one line that names the file and has a remedy. Everything else is a failure:
another exception, a hang, a file left of what was refused, anything written outside the folder.
"""

from __future__ import annotations

import os
import shutil
import signal
import time
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from unittest.mock import patch

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from tests.bench.fuzzing.mutation import Given, Target

LIMIT_S = 10.0
"""Of processor: what else runs on the machine makes no input slow."""
ROOT = str(Path(__file__).resolve().parents[3])


class TooLong(BaseException):
    """An input that takes longer than anybody would wait. No `except Exception` may catch it."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of an input."""

    accepted: bool
    failure: str = ""
    """What went wrong and where, the same for the same fault; "" if nothing did."""
    detail: str = ""


def judged(target: Target, given: Given, scratch: Path, limit: float = LIMIT_S) -> Outcome:
    """Puts an input into a folder of its own and uses it, on a machine that remembers nothing."""
    own = scratch.with_name(f"{scratch.name}-own")
    for place in (scratch, own):
        shutil.rmtree(place, ignore_errors=True)
    inside, folder = scratch / "given", scratch / "folder"
    inside.mkdir(parents=True)
    folder.mkdir()
    path = inside / given.name
    path.write_bytes(given.content)
    try:
        with patch.dict(os.environ, XDG_DATA_HOME=str(own)), at_most(limit), warnings.catch_warnings():
            warnings.simplefilter("error")  # one would be a line on somebody's screen
            target.use(path, folder)
        outcome = Outcome(True)
    except TamponadeError as error:
        outcome = _refusal(error, path)
    except (Exception, TooLong) as error:
        return Outcome(False, fault(error), "".join(traceback.format_exception(error)[-12:]))
    left = sorted(str(p.relative_to(scratch)) for p in scratch.rglob("*") if not p.is_dir())
    known = {f"given/{given.name}", *(f"given/{given.name}{ending}" for ending in target.beside)}
    strange = [name for name in left if name not in known and not (outcome.accepted and name.startswith("folder/"))]
    if strange and not outcome.failure:
        return Outcome(outcome.accepted, "a file is left where none should be", str(strange[:5])[:500])
    return outcome


def _refusal(error: TamponadeError, path: Path) -> Outcome:
    text = str(error).replace(path.name, "FILE")  # its name is the user's own; the command line shows it visibly
    if text != visible(text) or not error.remedy:
        return Outcome(False, f"{fault(error)}: not one plain line with a remedy", repr(text)[:500])
    if not any(word in text for word in ("FILE", "case ", "as a case", "for a case", "a model's name")):
        return Outcome(False, f"{fault(error)}: does not name the file", repr(text)[:500])
    if len(text) > 2000:
        return Outcome(False, f"{fault(error)}: a line of {len(text)} characters", repr(text)[:500])
    return Outcome(False)


def fault(error: BaseException) -> str:
    """What it is and the last line of ours that it came through."""
    ours = [
        f
        for f in traceback.extract_tb(error.__traceback__)
        if f.filename.startswith(ROOT) and "bench" not in f.filename
    ]
    ours = [f for f in ours if ".venv" not in f.filename]
    where = f"{Path(ours[-1].filename).relative_to(ROOT)}:{ours[-1].name}" if ours else "the bench"
    kind = f"{type(error).__name__} {error}"[:90] if isinstance(error, AssertionError) else type(error).__name__
    return f"{kind} in {where}"


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Raises TooLong in what takes more of the processor."""

    def late(_signal: int, _frame: FrameType | None) -> None:
        raise TooLong(f"longer than {seconds:g} s of processor")

    before = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, seconds, 0.5)  # again and again: what is being cleaned up may hang as well
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def minimised(target: Target, given: Given, failure: str, scratch: Path, tries: int = 300) -> Given:
    """The input with everything cut out that the failure does not need."""
    content, size, until = given.content, max(1, len(given.content) // 2), time.monotonic() + 10
    while size and tries > 0:
        start = 0
        while start < len(content) and tries > 0 and time.monotonic() < until:
            shorter = Given(given.name, content[:start] + content[start + size :])
            tries -= 1
            with suppress(TooLong):
                if judged(target, shorter, scratch, 3.0).failure == failure:
                    content = shorter.content
                    continue
            start += size
        size //= 2
    return Given(given.name, content)
