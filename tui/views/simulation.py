"""The mark and the events of a rehearsal: that it is one, how fast its clock runs, and what was played last. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from log.basics.visible import visible
from log.facts.record import Record
from log.facts.simulation import in_words, marked, speed_of
from log.words.wording import elapsed


def banner(record: Record) -> str:
    """The line that stands above everything; "" for a case with a patient."""
    mark = marked(record.opened)
    faster = in_words(speed_of(record))
    return f"{mark}{f'  TIME: {faster}' if faster else ''}" if mark else ""


AT_ONCE = 30.0
"""Seconds of the room: nobody has read the event before in less."""


def newest(record: Record) -> tuple[str, ...]:
    """The last event shown, and the one before it if that came only just before: where there is little room."""
    shown = [fact for fact in record.played if not fact.hidden][-2:]
    close = len(shown) == 2 and (shown[1].said_at - shown[0].said_at).total_seconds() < AT_ONCE * speed_of(record)
    return tuple(latest(record, 2 if close else 1))


def latest(record: Record, most: int) -> Iterator[str]:
    """The last events shown to the team, the newest first, each with the time since the opening."""
    shown = (fact for fact in reversed(tuple(record.played)) if not fact.hidden)
    for fact in islice(shown, most):
        assert record.opened is not None
        yield f"{elapsed(record.opened.logged_at, fact.said_at)} {visible(fact.told)}"
