"""One program at a time writes a case: a lock beside its file, which the system releases when the program dies."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from log.basics.errors import StoreError


@contextmanager
def locked(path: Path) -> Iterator[FileLock]:
    """Nobody else writes this case in the meantime, nor afterwards as long as a Case that was opened here is open."""
    lock = FileLock(f"{path}.lock", timeout=0, mode=0o600, thread_local=False)  # a room's other thread closes the case
    try:
        lock.acquire()
    except Timeout:
        if not Path(lock.lock_file).exists():  # nobody holds it: it could not even be made
            raise StoreError(
                f"{path.parent}: this folder cannot be written", "choose another with --cases DIR"
            ) from None
        raise StoreError(
            f"{path}: another program is writing this case", "close it there, or read it with: tamponade show"
        ) from None
    try:
        yield lock
    finally:
        lock.release()
