"""The JSON that other programs measure by: one event for each thing heard. Keep it stable."""

from __future__ import annotations

from typing import TypedDict

from log.basics.entry import QUERIES, Entry, Meaning, NotUnderstood, Number, Question, Value

ANSWERS = ("confirm", "number", "which")
"""Kinds that only answer a question; the event they answer says so itself."""


class _Always(TypedDict):
    kind: str
    site: str | None
    value: Value
    unit: str | None
    confidence: float
    pending: bool
    t: float


class Event(_Always, total=False):
    """One event; `t` is the second at which it was committed, or asked while it is pending. The rest stands only where
    it was said: a name, a second number and its unit."""

    detail: str
    second: Number
    second_unit: str | None


def events(meaning: Meaning, confidence: float, t: float, queries: bool = False) -> list[Event]:
    """The events of one utterance in order; an asked one is pending and shows its likeliest candidate.

    `queries`: also what only asks the log something; else that is no event."""
    if isinstance(meaning, NotUnderstood):
        return []
    likeliest = [(item.candidates[0], True) if isinstance(item, Question) else (item, False) for item in meaning.items]
    return [event(entry, confidence, asked, t) for entry, asked in likeliest if queries or entry.kind not in QUERIES]


def event(entry: Entry, confidence: float, pending: bool, t: float) -> Event:
    """One entry as an event."""
    said = Event(
        kind=entry.kind,
        site=entry.site,
        value=entry.value,
        unit=entry.unit,
        confidence=round(confidence, 3),
        pending=pending,
        t=round(t, 3),
    )
    if entry.detail is not None:
        said["detail"] = entry.detail
    if entry.second is not None:
        said["second"], said["second_unit"] = entry.second, entry.second_unit
    return said
