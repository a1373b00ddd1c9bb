"""The next events to play: a function of scenario, record and the time, so that a run can be repeated."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice

from log.basics.entry import Entry
from log.basics.patterns import Pattern
from log.facts.events import SimulationPlayed
from log.facts.record import Record
from log.rehearsal.patient import condition
from log.rehearsal.scenario import Event, Scenario, Shown, Trigger
from log.rules import means
from log.rules.course import Course
from log.state.tube import Step

Instance = tuple[datetime, Event, int | None]
"""When an event is due, and the line it comes after where it comes after each."""


def next_due(scenario: Scenario, course: Course, record: Record, now: datetime) -> SimulationPlayed | None:
    """The fact of the first event that is due and was not played; None if there is none, or the rehearsal is over.

    `course` is that of `record`. Nothing is played as if it had happened before what it may follow from was known.
    """
    if over(scenario, record):
        return None
    played = {(fact.event, fact.because) for fact in record.played}
    due = [
        (moment, event, because)
        for moment, event, because in _instances(scenario, course, record)
        if moment <= now and (event.id, because) not in played
    ]
    if not due:
        return None
    moment, event, because = min(due, key=lambda one: one[0])  # of two at a time the first in the file
    moment = min(max(moment, _known(record)), now)
    patient = condition(scenario, course, record.played, moment)
    return SimulationPlayed(
        logged_at=now,
        event=event.id,
        because=because,
        said_at=moment,
        told=patient.told(event.tell),
        hidden=event.hidden,
        shows=tuple(_entry(shown, patient.value(shown.value)) for shown in event.shows),
        speed=event.speed,
    )


def over(scenario: Scenario, record: Record) -> bool:
    """Whether the event that ends it was played."""
    return any((event := scenario.event_named(fact.event)) is not None and event.ends for fact in record.played)


def first_played(record: Record, name: str) -> datetime | None:
    """When an event was played first."""
    return next((fact.said_at for fact in record.played if fact.event == name), None)


def matching(course: Course, patterns: tuple[Pattern, ...], since: datetime | None = None) -> Iterator[Step]:
    """The standing lines that one of the patterns means, said since a moment, in the order in which they were said."""
    for step in course.steps:
        if (since is None or step.line.said_at >= since) and any(means(pattern, step) for pattern in patterns):
            yield step


def _known(record: Record) -> datetime:
    """When the last of what an event can follow from was known: a line, its answer or correction, an event."""
    assert record.opened is not None
    written = (line.logged_at for line in record.lines)
    changed = (change.at for line in record.lines for change in line.changes)
    return max((record.opened.logged_at, *written, *changed, *(fact.said_at for fact in record.played)))


def _entry(shown: Shown, value: float | str) -> Entry:
    number = int(value) if isinstance(value, float) and value.is_integer() else value
    return Entry(kind=shown.kind, site=shown.site, value=number, unit=shown.unit)


def _instances(scenario: Scenario, course: Course, record: Record) -> Iterator[Instance]:
    """Every event whose time is known, whether it is past or not."""
    assert record.opened is not None
    for event in scenario.event:
        since = None if event.since is None else first_played(record, event.since)
        if event.since is not None and since is None:
            continue
        if event.unless_event is not None and first_played(record, event.unless_event) is not None:
            continue
        if event.unless and any(matching(course, event.unless, since)):
            continue
        delay = timedelta(seconds=event.delay)
        if event.at is not None:
            yield record.opened.logged_at + timedelta(seconds=event.at) + delay, event, None
        elif event.after is not None:
            for base, because in _bases(event.after, event.each, course, record, since):
                yield base + delay, event, because


def _bases(
    after: Trigger, each: bool, course: Course, record: Record, since: datetime | None
) -> Iterator[tuple[datetime, int | None]]:
    """The moments that a trigger names."""
    if after.entry is not None:
        for step in islice(matching(course, (after.entry,), since), None if each else 1):
            yield step.line.said_at, step.line.number if each else None
        return
    if after.milestone is not None:
        reached = course.end.reached.get(after.milestone)
    else:
        reached = first_played(record, after.event or "")
    if reached is not None and (since is None or reached >= since):
        yield reached, None
