"""Times as people type them."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from log.basics.errors import InputError


def moment(text: str, now: datetime) -> datetime:
    """A time as people type it: "03:10" is the last time it was so late, in the room's zone; or a whole RFC 3339 time.

    Raises InputError.
    """
    clock = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?", text)
    if clock:
        hour, minute, second = (int(part or 0) for part in clock.groups())
        today = now.replace(hour=hour, minute=minute, second=second, microsecond=0)
        return today if today <= now else today - timedelta(days=1)
    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f'"{text}" is not a time', "write 03:10, or 2026-10-04T03:10:00+02:00") from None
    return given if given.tzinfo is not None else given.astimezone()
