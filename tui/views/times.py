"""Times as people type them."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from log.basics.errors import InputError

CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")


def moment(text: str, now: datetime) -> datetime:
    """A time as people type it: "03:10" is the last time it was so late, in the room's zone; or a whole RFC 3339 time.

    Raises InputError, also for a time of day that the change of the clocks left out, or that came twice.
    """
    clock = CLOCK.fullmatch(text)
    if clock:
        hour, minute, second = (int(part or 0) for part in clock.groups())
        return _last(text, now, hour, minute, second)
    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(f'"{text}" is not a time', "write 03:10, or 2026-10-04T03:10:00+02:00") from None
    return given if given.tzinfo is not None else _in_the_room(text, given)


NEAR = timedelta(hours=12)
"""Half a day: a time of day that is further back than it is ahead was likelier mistyped."""


def happened(text: str, now: datetime, opened: datetime) -> datetime:
    """The time at which something of a case happened, as `moment` reads it. Raises InputError, also for a time of day
    that was so long before the case that somebody may have meant another: then the day has to be said."""
    at = moment(text, now)
    if CLOCK.fullmatch(text) and at < opened and now - at > NEAR:
        day = at.isoformat(sep=" ", timespec="seconds")
        raise InputError(f'"{text}" was {day} last, long before the case', "if that is meant, write the day with it")
    return at


def shift_s(text: str) -> int:
    """Seconds by which a clock is corrected, typed as "+1:00" or "-0:30". Raises InputError."""
    read = re.fullmatch(r"([+-])(\d{1,6}):([0-5]\d)", text, re.ASCII)
    seconds = (int(read[2]) * 60 + int(read[3])) * 60 if read else 0
    if read is None or not 0 < seconds <= 10**9:
        raise InputError(f'"{text}" is not a shift', "+1:00 for a clock that was an hour slow, -1:00 for fast")
    return seconds if read[1] == "+" else -seconds


def _last(text: str, now: datetime, hour: int, minute: int, second: int) -> datetime:
    """The last time before now at which the clocks of the room read this."""
    if now.utcoffset() != now.astimezone().utcoffset():  # a time of another zone: there is only its offset
        today = now.replace(hour=hour, minute=minute, second=second, microsecond=0)
        return today if today <= now else today - timedelta(days=1)
    naive = now.replace(hour=hour, minute=minute, second=second, microsecond=0, tzinfo=None)
    today = _in_the_room(text, naive)
    return today if today <= now else _in_the_room(text, naive - timedelta(days=1))


def _in_the_room(text: str, naive: datetime) -> datetime:
    """A time of the machine's own zone, by the rules of that day."""
    first, second = naive.astimezone(), naive.replace(fold=1).astimezone()
    if first.utcoffset() == second.utcoffset():
        return first
    if first.astimezone(UTC).astimezone().replace(tzinfo=None) != naive:
        raise InputError(f'"{text}" was left out: the clocks went forward', "write the time before or after")
    both = " or ".join(one.isoformat(timespec="seconds") for one in (first, second))
    raise InputError(f'"{text}" came twice: the clocks went back', f"write which: {both}")
