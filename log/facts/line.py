"""One line of the log with its corrections. A corrected or struck line keeps what it said before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from log.basics.entry import Entry
from log.facts.origin import Origin

LATE_AFTER = timedelta(minutes=5)
"""From here on a line is marked as a late entry. Late entries have to be marked as such (CMS Program Integrity
Manual, chapter 3, 3.3.2.5); how late is late is our choice: no published figure was found."""

Status = Literal["stands", "asked", "struck"]


@dataclass(frozen=True, slots=True)
class Change:
    """One correction of a line; the value before it is kept."""

    what: Literal["answered", "amended", "struck", "restored", "undone"]
    before: Entry
    after: Entry
    at: datetime
    """When the correction was said or typed."""
    reason: str
    origin: Origin
    moved_from: datetime | None = None
    """When the entry was thought to have happened, if the correction gave it another time."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the log, as it stands now."""

    number: int
    status: Status
    entry: Entry
    """Its present value; for an open question the likeliest candidate."""
    said_at: datetime
    """When it happened."""
    logged_at: datetime
    """When it was first written down."""
    origin: Origin
    candidates: tuple[Entry, ...] = ()
    reason: str = ""
    """Why it was asked."""
    changes: tuple[Change, ...] = ()
    late_reason: str = ""
    """Why it was written down afterwards."""

    @property
    def original(self) -> Entry:
        """The entry as it was logged first."""
        return self.changes[0].before if self.changes else self.entry

    @property
    def holding(self) -> tuple[Change, ...]:
        """The changes that nobody took back, in order."""
        holding: tuple[Change, ...] = ()
        for change in self.changes:
            holding = holding[:-1] if change.what in ("restored", "undone") else (*holding, change)
        return holding

    @property
    def status_before(self) -> Status:
        """How it stood before the newest change that holds."""
        left = self.holding[:-1]
        if left and left[-1].what == "struck":
            return "struck"
        answered = any(change.what != "struck" for change in left)
        return "asked" if self.candidates and not answered else "stands"

    @property
    def never_answered(self) -> bool:
        """Whether it is a question of which nobody has said yet, or says any more, what was meant."""
        return bool(self.candidates) and all(change.what == "struck" for change in self.holding)

    @property
    def first_said_at(self) -> datetime:
        """When it was taken to have happened before anybody gave it another time."""
        return next((change.moved_from for change in self.changes if change.moved_from), self.said_at)

    @property
    def late_by(self) -> timedelta | None:
        """Delay between the event and the writing of a late entry; None for what is none."""
        delay = self.logged_at - self.first_said_at
        return delay if self.late_reason or delay >= LATE_AFTER else None
