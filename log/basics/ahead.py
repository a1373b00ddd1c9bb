"""Times ahead, for reminders: a file may hold a moment or an interval that leads beyond the last year there is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

LAST = datetime(9999, 12, 30, tzinfo=UTC)
"""No reminder is later; a day is left so that every zone can show it."""


def later(moment: datetime, hours: float) -> datetime:
    """So many hours after a moment, in its zone, or LAST."""
    ahead = timedelta(hours=hours)
    return moment + ahead if LAST - moment > ahead else max(moment, LAST)
