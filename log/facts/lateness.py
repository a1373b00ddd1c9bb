"""When an entry counts as a late one: it was written down well after it happened, or somebody entered it as such."""

from __future__ import annotations

from datetime import datetime, timedelta

from log.facts.record import Line

LATE_AFTER = timedelta(minutes=5)
"""From here on a line is marked as a late entry. Late entries have to be marked as such (CMS Program Integrity
Manual, chapter 3, 3.3.2.5); how late is late is our choice: no published figure was found."""


def first_said_at(line: Line) -> datetime:
    """When it was taken to have happened as it was written down, before anybody gave it another time."""
    return next((change.moved_from for change in line.changes if change.moved_from), line.said_at)


def late_by(line: Line) -> timedelta | None:
    """How long after it happened a late entry was written down; None for what is none."""
    delay = line.logged_at - first_said_at(line)
    return delay if line.late_reason or delay >= LATE_AFTER else None
