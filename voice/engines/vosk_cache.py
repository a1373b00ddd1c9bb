"""Folders that can be made again at any time, kept from one start of the program to the next.

A folder appears under its key when it is complete, so that two programs starting at once both work and an interrupted
one leaves nothing half done. Where nothing can be kept, it is made for this run only.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import platformdirs

from log.basics.errors import EngineError
from log.store.files import private_folder

CACHE_VARIABLE = "TAMPONADE_CACHE"
"""Environment variable: the folder for what can be made again at any time."""

KEPT = 12
"""Folders kept, the most recently used ones."""

_DRAFT, _TEMPORARY = ".making-", "tamponade-strict-"
_LEFT_BEHIND_SECONDS = 86_400
"""A draft of this age belongs to a program that was killed."""

Fill = Callable[[Path], None]
Complete = Callable[[Path], bool]


def cache_dir(override: Path | None = None) -> Path:
    """The folder that holds the kept ones; it need not exist yet."""
    named = os.environ.get(CACHE_VARIABLE)
    root = override or (Path(named).expanduser() if named else platformdirs.user_cache_path("tamponade-log"))
    return root / "strict"


def kept_folder(key: str, fill: Fill, complete: Complete, cache: Path | None = None) -> Path:
    """The folder of this key, made by `fill` unless a complete one is there. Raises EngineError.

    `fill` writes into an empty folder; its OSError means that there is no place. `complete` says whether a folder
    holds all that `fill` writes: cleaning programs delete single files.
    """
    directory = cache_dir(cache)
    try:
        folder = _kept(directory, key, fill, complete)
    except OSError:
        return _for_this_run(fill)
    _prune(directory)
    return folder


def _kept(directory: Path, key: str, fill: Fill, complete: Complete) -> Path:
    folder = directory / key
    if not complete(folder):
        private_folder(directory)
        draft = Path(tempfile.mkdtemp(prefix=_DRAFT, dir=directory))
        try:
            fill(draft)
            _settle(draft)
            _put(draft, folder, complete)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
    with contextlib.suppress(OSError):  # a folder that others filled can be read, and that is enough
        os.utime(folder)
    return folder


def _settle(folder: Path) -> None:
    """Everything on disk: after a power failure a name without its content would be taken for complete."""
    if os.name == "posix":  # elsewhere only files open for writing can be brought to disk
        for path in folder.rglob("*"):
            if path.is_file():
                with path.open("rb") as file:
                    os.fsync(file.fileno())


def _put(draft: Path, folder: Path, complete: Complete) -> None:
    """Gives the draft its name, unless another program was faster."""
    if folder.exists() and not complete(folder):  # moved away first: one cannot be put over the other
        folder.rename(draft.with_name(f"{draft.name}-broken"))
    try:
        draft.rename(folder)
    except OSError:
        if not complete(folder):
            raise


def _for_this_run(fill: Fill) -> Path:
    try:
        place = Path(tempfile.gettempdir())
        _sweep(place, _TEMPORARY)
        folder = Path(tempfile.mkdtemp(prefix=f"{_TEMPORARY}{os.getpid()}-", dir=place))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
        fill(folder)
    except OSError as error:
        raise EngineError(
            f"no room for the strict models ({error.strerror or error})",
            f"make room on the disk, or name a folder in {CACHE_VARIABLE}",
        ) from None
    return folder


def forget_those_of(process: int) -> None:
    """Deletes what a process that has ended made for its run only: one that is ended from outside tidies nothing up."""
    for left in Path(tempfile.gettempdir()).glob(f"{_TEMPORARY}{process}-*"):
        shutil.rmtree(left, ignore_errors=True)


def _prune(directory: Path) -> None:
    """Deletes what was not used for long, and what killed programs left behind."""
    _sweep(directory, _DRAFT)
    with contextlib.suppress(OSError):  # another program is tidying up as well
        folders = [place for place in directory.iterdir() if not place.name.startswith(_DRAFT)]
        for old in sorted(folders, key=_last_used, reverse=True)[KEPT:]:
            shutil.rmtree(old, ignore_errors=True)


def _sweep(directory: Path, prefix: str) -> None:
    with contextlib.suppress(OSError):
        for left in directory.glob(f"{prefix}*"):
            if "-broken" in left.name or _last_used(left) < time.time() - _LEFT_BEHIND_SECONDS:
                shutil.rmtree(left, ignore_errors=True)


def _last_used(folder: Path) -> float:
    return folder.stat().st_mtime
