"""A case that another program is writing, kept up with: the file is read again only when it changed, and then only
what is new in it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path

from log.basics.errors import InputError, TamponadeError
from log.facts.events import ClockCorrected
from log.facts.record import fold
from log.store import case as store
from log.store.chain import Link
from log.store.folder import find_case
from log.store.sqlite import read_link_at, reading
from log.summaries.whole import Whole, whole
from tui.serve.page import Sections, running, standing

PATIENCE = 1.5
"""Seconds for which a case that cannot be read is tried again before the page says so: a writer that just begins or
ends may be in the way. With the time until the next look it is less than what the browser takes for silence."""

TICK = 0.1
"""Seconds in which two writings may bear the same time, so that the second would not be seen by it."""

Stamp = tuple[tuple[int, int, int] | None, ...]
"""State of the file and of its journal: when it was written, how long it is, and which file it is."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The result of a look at the case."""

    sections: Sections
    trouble: str = ""
    """Why what is shown is no longer how the case stands."""


class Following:
    """One case, for all who look at it, each from a thread of its own. Raises InputError for what is no case."""

    def __init__(self, folder: Path, name: str) -> None:
        self.path = find_case(folder, name)
        self._looking = threading.Lock()
        self._stamp: Stamp | None = None
        self._read_at = 0.0
        self.case = self._whole()
        self._standing = standing(self.case)
        self._seen: Sections = {}
        self._good = time.monotonic()

    def look(self, now: datetime) -> Seen:
        """How things stand at this moment; or, when the case cannot be read, how they stood when it last could."""
        with self._looking:
            try:
                self._follow()
            except TamponadeError as error:
                lasting = not self._seen or time.monotonic() - self._good > PATIENCE
                return Seen(self._seen or self._standing, str(error) if lasting else "")
            self._good = time.monotonic()
            self._seen = {**self._standing, **running(self.case, now)}
            return Seen(self._seen)

    def _follow(self) -> None:
        stamp, at = self._stamped(), time.time()
        if stamp == self._stamp and not self._may_have_been_missed(stamp):
            return
        before = self.case
        self.case = self._grown() or self._whole()
        if self.case is not before:
            self._standing = standing(self.case)
        self._stamp, self._read_at = stamp, at

    def _stamped(self) -> Stamp:
        journal = self.path.with_name(f"{self.path.name}-wal")
        return _stamp(self.path, may_be_missing=False), _stamp(journal, may_be_missing=True)

    def _may_have_been_missed(self, stamp: Stamp) -> bool:
        """Whether the last reading came so soon after a writing that another one may bear the same time."""
        return any(part is not None and abs(self._read_at - part[0] / 1e9) < TICK for part in stamp)

    def _whole(self) -> Whole:
        return whole(store.read(self.path.parent, str(self.path)))

    def _grown(self) -> Whole | None:
        """The case with what was written since; None if what is there now is not what was known with more after it."""
        known = self.case.links[-1]
        with reading(self.path) as connection:
            last = connection.execute("SELECT max(seq) FROM facts").fetchone()[0] or 0
            if last < known.seq or read_link_at(self.path, connection, known.seq).text != known.text:
                return None
            links = [read_link_at(self.path, connection, seq) for seq in range(known.seq + 1, last + 1)]
        return _with(self.case, links) if links else self.case


def _with(case: Whole, links: Sequence[Link]) -> Whole | None:
    """The case with these facts after those it has; None if it has to be read anew."""
    if any(later.previous != earlier.sha256 for earlier, later in pairwise((case.links[-1], *links))):
        return None
    facts = [link.fact for link in links]
    if any(isinstance(fact, ClockCorrected) for fact in facts):  # that changes what was before
        return None
    try:
        record = fold(facts, case.record)
    except IndexError:
        return None
    return replace(
        case,
        record=record,
        course=case.course.follow(case.record, record, facts),
        links=(*case.links, *links),
        until=max(case.until, *(fact.logged_at for fact in facts)),
    )


def _stamp(path: Path, may_be_missing: bool) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except FileNotFoundError:
        if may_be_missing:
            return None
        raise InputError(f"{path}: the case is no longer there", "look where it is, and start again") from None
    except OSError as error:
        raise InputError(f"{path}: {error.strerror}", "check the disk") from None
    return found.st_mtime_ns, found.st_size, found.st_ino
