"""Reminders as a calendar file, for a ward that keeps its reminders elsewhere.

Each time is an event of its own: many calendars know no repetition within a day. No label and no name of the case is
in it, for calendars travel.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from hashlib import sha256

from log.basics.ahead import later
from log.basics.errors import InputError
from log.definition.procedure import Procedure
from log.watch.due import Watch
from log.watch.item import Item
from log.words.wording import figure

MOST_TIMES = 48
"""Reminders of one check: two days of an hourly one."""
SHOWN_FOR = timedelta(minutes=5)
"""So that an event can be seen in a calendar; it means nothing."""


def calendar(procedure: Procedure, opening: str, found: Watch) -> bytes:
    """An iCalendar file (RFC 5545), times in UTC, a reminder at each; the same for the same case and moment.
    `opening`: the fingerprint of the case's first fact, which nobody can guess as he can a name.

    Raises InputError where the extra is not installed.
    """
    try:
        from icalendar import Alarm, Calendar, Event
    except ImportError:
        raise InputError("a calendar file needs icalendar", "pip install 'tamponade-log[calendar]'") from None
    whole = Calendar()
    whole.add("prodid", "-//tamponade-log//watch//EN")
    whole.add("version", "2.0")
    for number, item, at in _times(procedure.tube.oesophagus, found):
        event = Event()
        start = at.astimezone(UTC).replace(microsecond=0)
        event.add("uid", _uid(opening, item, number))
        event.add("dtstamp", found.now.astimezone(UTC).replace(microsecond=0))
        event.add("sequence", max(int(found.now.timestamp()) // 60, 0))  # a later file goes before an earlier one
        event.add("dtstart", start)
        event.add("dtend", start + SHOWN_FOR)
        event.add("summary", f"Tube watch: {item.title}")
        event.add("description", _description(procedure, found, item, at))
        event.add("class", "PRIVATE")
        event.add("transp", "TRANSPARENT")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("trigger", timedelta(0))
        alarm.add("description", f"Tube watch: {item.title}")
        event.add_component(alarm)
        whole.add_component(event)
    written = whole.to_ical()
    assert isinstance(written, bytes)
    return written


def _uid(opening: str, item: Item, number: int) -> str:
    """The same for the same reminder of a case, so that a newer file moves it and doubles nothing."""
    known = "\n".join((opening, item.id, str(number)))
    return f"{sha256(known.encode()).hexdigest()[:32]}@tamponade-log"


def _times(site: str | None, found: Watch) -> Iterator[tuple[int, Item, datetime]]:
    """Each item at its time, or now if that is past; what comes again until the last moment of the clocks."""
    ends = [item.due_at for item in found.items if item.every_h is None]
    last = max(ends, default=found.now)
    for item in found.items:
        at = max(item.due_at, found.now)
        yield 0, item, at
        for number in range(1, MOST_TIMES if item.every_h else 0):
            at = later(at, item.every_h or 0)
            if at > last:
                break
            yield number, item, at
    yield from _further_steps(site, found)


def _further_steps(site: str | None, found: Watch) -> Iterator[tuple[int, Item, datetime]]:
    """The steps down of this balloon after the next one, if each is done on time."""
    first = next((item for item in found.items if item.id == "step-down"), None)
    if first is not None and found.step_down is not None:
        for number, step in enumerate(found.step_down.coming[1:], start=1):
            title = f"{site} pressure down to {figure(step.mmhg)} mmHg, if the step before was on time"
            at = max(step.due_at, found.now)
            yield number, Item(first.id, title, step.due_at, "next", first.source, first.level), at


def _description(procedure: Procedure, found: Watch, item: Item, at: datetime) -> str:
    past = item.due_at < at == found.now
    overdue = "" if not past else f"Due since {item.due_at.astimezone(UTC):%Y-%m-%d %H:%M} UTC. "
    stood = f"As the log stood at {found.now.astimezone(UTC):%Y-%m-%d %H:%M} UTC; write it anew when more is logged."
    return "\n".join((f"{overdue}{stood}", f"Source: {item.source}", *procedure.cautions))
