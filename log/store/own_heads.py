"""The memory of this machine, outside of the cases it wrote: where each ended, and whose keys it was told to
trust. A case alone cannot show that its end was cut off or that it went on from an old copy; against this it does.

One line a head, only ever added to, beside the key. It names a case by the fingerprint of its first fact, so that
a case of the same name in another folder is another case. It shows what somebody else did to a file, not what is done
by whoever may write here too: against that stands the fingerprint on a note that has left the machine.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import platformdirs
from pydantic import Field, ValidationError

from log.basics.entry import Frozen
from log.store.files import private_folder

SHA256 = r"^[0-9a-f]{64}$"


class Remembered(Frozen):
    """A head that this machine wrote, or a key that somebody here gave his word for."""

    opening: str = Field(pattern=SHA256)
    """SHA-256 of the case's first fact."""
    facts: int = Field(default=0, ge=0)
    """Number of facts; 0 where it is about a key."""
    sha256: str = ""
    """Of the last of them."""
    trusted: str = ""
    """A public key."""


def memory_path() -> Path:
    """Where it lies: the user's data folder."""
    return platformdirs.user_data_path("tamponade-log") / "own-heads.jsonl"


def remember(what: Remembered) -> None:
    """Adds one. A folder that cannot be written costs the memory and not the case: nothing is raised."""
    try:
        private_folder(memory_path().parent)
        handle = os.open(memory_path(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        with os.fdopen(handle, "ab") as file:
            file.write(what.model_dump_json(exclude_defaults=True).encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        return


def remembered(opening: str) -> tuple[Remembered, ...]:
    """All that is remembered of the case whose first fact has this fingerprint, oldest first: since it was begun here,
    if it was. A line that cannot be read, as the last may be after a power cut, is left out."""
    try:
        lines = memory_path().read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ()
    known = [found for line in lines if opening in line and (found := _read(line)) and found.opening == opening]
    begun = [place for place, one in enumerate(known) if one.facts == 1]
    return tuple(known[begun[-1] if begun else 0 :])


def trusted(known: Sequence[Remembered]) -> frozenset[str]:
    """The keys of other machines that are trusted for this case."""
    return frozenset(one.trusted for one in known if one.trusted)


def _read(line: str) -> Remembered | None:
    try:
        return Remembered.model_validate_json(line)
    except ValidationError:
        return None
