"""Facts that the disk has not taken: they wait in memory, and in a file elsewhere, until there is room for them.

The file lies in the user's runtime folder, which is usually in memory, or else in the cache folder: wherever something
can still be written. It holds facts and sounds as they would stand in the case; what is encrypted there waits in
memory alone.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import platformdirs

from log.facts.events import Fact, from_plain, to_plain
from log.store import encryption
from log.store.files import private_folder, write_private
from log.store.writing import Beside


@dataclass(frozen=True, slots=True)
class Waiting:
    """The facts that wait, in order."""

    began_at: datetime
    """When the disk first refused something."""
    why: str
    facts: tuple[Fact, ...] = ()
    beside: tuple[Beside, ...] = ()

    def followed_by(self, facts: tuple[Fact, ...], beside: tuple[Beside, ...]) -> Waiting:
        """With more behind it."""
        return Waiting(self.began_at, self.why, (*self.facts, *facts), (*self.beside, *beside))


def keep_elsewhere(case: Path, after: str, waiting: Waiting) -> Path | None:
    """Writes all that waits where there is room; None if there is nowhere, or the case is encrypted. `after`: the
    fingerprint of the last fact on disk."""
    with contextlib.suppress(OSError):
        if encryption.is_encrypted(case):
            return None
    content = json.dumps(
        {
            "after": after,
            "began_at": waiting.began_at.isoformat(),
            "why": waiting.why,
            "facts": [to_plain(fact) for fact in waiting.facts],
            "beside": [[one.sha256, one.kind, base64.b64encode(one.content).decode()] for one in waiting.beside],
        }
    ).encode()
    for place in _places(case):
        with contextlib.suppress(OSError):
            private_folder(place.parent)
            write_private(place, content)
            return place
    return None


def kept_elsewhere(case: Path, after: str) -> Waiting | None:
    """Facts waiting for this case when the program ended, if it goes on from this last fact; a file that cannot be read
    is left where it is."""
    for place in _places(case):
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
            found = json.loads(place.read_bytes())
            if found["after"] == after:
                beside = (Beside(sha, kind, base64.b64decode(content)) for sha, kind, content in found["beside"])
                facts = tuple(map(from_plain, found["facts"]))
                return Waiting(datetime.fromisoformat(found["began_at"]), str(found["why"]), facts, tuple(beside))
    return None


def forget_elsewhere(case: Path) -> None:
    """Deletes the file: all of it is in the case now."""
    for place in _places(case):
        with contextlib.suppress(OSError):
            place.unlink()


def _places(case: Path) -> Iterator[Path]:
    """One file for each case, wherever it lies."""
    name = f"{case.stem}-{hashlib.sha256(str(case.resolve()).encode()).hexdigest()[:12]}.unsaved"
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    if runtime:
        yield Path(runtime) / "tamponade-log" / name
    yield platformdirs.user_cache_path("tamponade-log") / "unsaved" / name
