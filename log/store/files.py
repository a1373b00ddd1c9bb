"""Files that only their owner can read: what is said at a bedside is nobody else's business."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def private_folder(folder: Path) -> None:
    """Makes a folder, and those above it that are missing, for its owner alone. An existing one stays as it is."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    for place in reversed(missing):
        place.mkdir(mode=0o700, exist_ok=True)


def write_private(path: Path, content: bytes) -> None:
    """Writes a file for its owner alone: either all of it is there afterwards, or what was there before."""
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # made with mode 0600
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise


def rename_durably(draft: Path, path: Path) -> None:
    """Gives a file that is on disk its name; when this returns, the name is on disk too."""
    draft.rename(path)
    if os.name == "posix":  # elsewhere a folder cannot be opened
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
