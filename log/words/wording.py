"""Times, amounts and heard words as they are put on paper, the same in every format."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta, timezone
from types import MappingProxyType
from typing import Literal

from log.basics.entry import Entry, Number
from log.basics.patterns import Level
from log.basics.units import STANDARD_GRAVITY
from log.definition.procedure import Procedure
from log.facts.events import ClockCorrected, ListeningChanged, SavedLate
from log.facts.line import Line
from log.facts.origin import Origin
from log.words.entry_text import as_entry_text, unit_of

NO_DATE = timezone(timedelta(0), "since the log was opened")
"""The zone of times from which the date was taken: they count from the opening of the log."""

WHEN: Mapping[Literal["overdue", "due", "next"], str] = MappingProxyType(
    {"overdue": "OVERDUE", "due": "DUE NOW", "next": "next"}
)
"""The urgency of a check of the watch in a word."""

SIGNS: Mapping[Level, str] = MappingProxyType({"high": "!!!", "medium": "!!", "low": "!", "information": "i"})
"""Beside the word, so that a priority is seen without being read."""


def figure(value: Number) -> str:
    """A number without the dust of binary fractions: 0.5, 250."""
    return f"{value:.10g}"


def shown(entry: Entry) -> str:
    """The value of an entry: number with unit, or the word."""
    value = figure(entry.value) if isinstance(entry.value, int | float) else entry.value
    if entry.second is None:
        return " ".join(word for word in (value, unit_of(entry)) if word)
    second = figure(entry.second)
    if entry.unit == entry.second_unit:
        return " ".join(word for word in (f"{value}/{second}", entry.unit) if word)
    return " ".join(word for word in (value, entry.unit, "at", second, entry.second_unit) if word)


def named_amount(procedure: Procedure, entry: Entry) -> str:
    """The value with the name of what was given: "fentanyl · 50 microgram"; of any other entry as `shown`."""
    name = entry.detail if procedure.traits(entry.kind).group == "given" else None
    return " · ".join(part for part in (name, shown(entry)) if part)


def sentence(procedure: Procedure, entry: Entry) -> str:
    """An entry in plain words; a place that is no balloon comes last: "tube depth 52 cm at the lips"."""
    if entry.site is None or entry.site in (*procedure.tube.balloons, "both"):
        return as_entry_text(procedure, entry)
    return f"{as_entry_text(procedure, entry.model_copy(update={'site': None}))} at the {entry.site}"


def candidates(procedure: Procedure, line: Line) -> str:
    """The candidates of an asked line: "gastric volume in 15 mL or gastric volume in 50 mL?"."""
    return " or ".join(sentence(procedure, entry) for entry in line.candidates) + "?"


def heard(origin: Origin) -> str:
    """The author and the way it came in: 'operator, voice 93 %: "gastric in fifty"'."""
    return f"{origin.author}, {heard_as(origin)}" if origin.author else heard_as(origin)


def heard_as(origin: Origin) -> str:
    """The way it came in: 'typed: "gastric in fifty"'."""
    how = "typed" if origin.by == "typed" else f"voice {origin.confidence:.0%}".replace("%", " %")
    return f'{how}: "{origin.heard}"' if origin.heard else how


def priority(level: Level) -> str:
    """ "high priority"; `information` is none."""
    return level if level == "information" else f"{level} priority"


def many(number: int, noun: str) -> str:
    """ "1 sound", "2 sounds"."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def cited(procedure: Procedure, source: str) -> list[str]:
    """The keys of the definition's sources that a finding cites, in its order."""
    found = {key: source.find(f"{key}: {text}") for key, text in procedure.sources.items()}
    return sorted((key for key, place in found.items() if place >= 0), key=lambda key: found[key])


def citation(procedure: Procedure, source: str) -> str:
    """The source of a finding in short: "[published: P1, P5]". The keys have to be spelled out once elsewhere."""
    keys = cited(procedure, source)
    tag = source[1:].partition("]")[0]
    return f"[{tag}: {', '.join(keys)}]" if keys else source


def newtons(kilograms: Number) -> str:
    """The pull of a hanging mass."""
    return f"{kilograms * STANDARD_GRAVITY:.1f} N"


def without_date(opened: datetime, moment: datetime) -> datetime:
    """A time that only says how long after the opening of the log it was, and in which year the log was opened."""
    return _beginning(opened.year) + (moment - opened)


def is_without_date(moment: datetime) -> bool:
    """True for such a time."""
    return moment.tzinfo is NO_DATE


def _beginning(year: int) -> datetime:
    """Counted from the middle of the year, so that what is entered for before the opening stays in that year."""
    return datetime(year, 7, 1, tzinfo=NO_DATE)


def _since_opening(moment: datetime) -> timedelta:
    return moment - _beginning(moment.year)


def stamp(moment: datetime) -> str:
    """Date, time and offset as RFC 3339 writes them, with a space for the T, in the zone in which it was logged; of a
    time without date the time since the log was opened: +0:04:10."""
    if is_without_date(moment):
        past = elapsed(_beginning(moment.year), moment)
        return past if past.startswith("-") else f"+{past}"
    return moment.isoformat(sep=" ", timespec="seconds")


def stamp_beside(moment: datetime, beside: datetime) -> str:
    """The time alone if it is the same day and zone as the time it stands beside."""
    if is_without_date(moment):
        return stamp(moment)
    same = moment.utcoffset() == beside.utcoffset() and moment.date() == beside.date()
    return f"{moment:%H:%M:%S}" if same else stamp(moment)


def room_time(moment: datetime, opened: datetime) -> str:
    """The time of day in the room, with month and day if it is another day than that of the opening; in full where the
    clocks were changed since; of a time without date the time since the log was opened."""
    if is_without_date(moment) or moment.utcoffset() != opened.utcoffset():
        return stamp(moment)
    return f"{moment:%H:%M:%S}" if moment.date() == opened.date() else f"{moment:%m-%d %H:%M:%S}"


def clock(moment: datetime, now: datetime) -> str:
    """The time of day in the zone of `now`, with month and day if it is another day; of a time without date the time
    since the log was opened."""
    if is_without_date(moment):
        return stamp(moment)
    there = in_the_zone_of(moment, now)
    return f"{there:%H:%M}" if there.date() == now.date() else f"{there:%m-%d %H:%M}"


def in_the_zone_of(moment: datetime, now: datetime) -> datetime:
    """A time as the clocks show it where `now` was read: by the rules of this machine's zone if it is that zone, for
    summer time may begin or end in between; else with the same offset."""
    here = now.astimezone().utcoffset() == now.utcoffset()
    return moment.astimezone() if here else moment.astimezone(now.tzinfo)


def away(moment: datetime, now: datetime, ahead: bool) -> str:
    """The distance from now in hours and minutes: "in 0:20", or "0:10 ago" if it is not ahead."""
    far = hours(abs(moment - now))
    return f"in {far}" if ahead else f"{far} ago"


def hours(span: timedelta) -> str:
    """Hours and whole minutes: 1:20."""
    minutes = int(span / timedelta(minutes=1))
    return f"{minutes // 60}:{minutes % 60:02}"


def rfc3339(moment: datetime) -> str:
    """For machines: RFC 3339 with milliseconds; of a time without date, the ISO 8601 duration since the opening."""
    return duration(moment) if is_without_date(moment) else moment.isoformat(timespec="milliseconds")


def iso(moment: datetime | None) -> str | None:
    """For JSON: RFC 3339; None stays None."""
    return None if moment is None else moment.isoformat()


def duration(moment: datetime) -> str:
    """ISO 8601 duration from the opening of the log to a time without date: PT250.000S."""
    seconds = _since_opening(moment).total_seconds()
    return f"{'-' if seconds < 0 else ''}PT{abs(seconds):.3f}S"


def elapsed(since: datetime, moment: datetime) -> str:
    """Hours, minutes and seconds from one time to another: 0:04:10."""
    return span(moment - since)


def span(time: timedelta) -> str:
    """Hours, minutes and seconds: 0:04:10."""
    total = math.floor(abs(time.total_seconds()))
    sign = "-" if time < timedelta(0) and total else ""
    return f"{sign}{total // 3600}:{total // 60 % 60:02}:{total % 60:02}"


def shift(by_s: int) -> str:
    """By how much a clock was corrected, as it is typed: +1:00, -0:30."""
    sign = "-" if by_s < 0 else "+"
    return f"{sign}{hours(timedelta(seconds=abs(by_s)))}"


def clock_correction(fact: ClockCorrected) -> str:
    """ "clock corrected: times of facts 1 to 34 moved by +1:00"."""
    by = f" by {shift(fact.by_s)}" if fact.by_s else ""
    return f"clock corrected: times of facts 1 to {fact.moves} moved{by}"


def clock_moved(fact: ClockCorrected) -> str:
    """For readers: "times recorded before 2026-10-04 15:05:00+02:00 moved by +1:00 (scribe: clock in winter time)"."""
    by = f" by {shift(fact.by_s)}" if fact.by_s else ""
    who = f"{fact.author}: {fact.reason}" if fact.author else fact.reason
    return f"times recorded before {stamp(fact.logged_at)} moved{by} ({who})"


def listed(texts: Iterable[str], otherwise: str = "") -> str:
    """The texts in one cell."""
    return "; ".join(text for text in texts if text) or otherwise


def saved_late(late: SavedLate) -> str:
    """For how long the disk took nothing: "the disk took nothing for 12.0 s: 3 facts waited in memory"."""
    return f"the disk took nothing for {late.seconds:.1f} s, {many(late.facts, 'fact')} waited in memory"


def way(changed: ListeningChanged) -> str:
    """The way of saying entries from then on."""
    return f'{changed.mode} "{changed.lead_word}"' if changed.lead_word else changed.mode
