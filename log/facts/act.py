"""Acts on the record, by hand or by word of mouth, that can be taken back: in the order in which they were done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from log.facts.events import (
    AcknowledgementUndone,
    ChangeUndone,
    DifferenceReviewed,
    EntryAmended,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    FindingAcknowledged,
    QuestionAnswered,
    ReviewUndone,
)


@dataclass(frozen=True, slots=True)
class Act:
    """Something that was done, and what it was done to."""

    what: Literal["struck", "amended", "answered", "entered late", "acknowledged", "left", "confirmed"]
    number: int | None
    """The line it was done to, or that the finding stands beside; None for a review that changed no line."""
    at: datetime
    """When it was written down."""
    rule: str = ""
    """Rule and message of the finding that was acknowledged."""
    message: str = ""
    difference: int | None = None
    """The difference of the second hearing that was reviewed by it."""


def acts_after(acts: tuple[Act, ...], fact: Fact) -> tuple[Act, ...]:
    """The acts that can be taken back after one more fact; the same object if that has not changed."""
    match fact:
        case EntryStruck():
            return (*acts, Act("struck", fact.number, fact.logged_at))
        case EntryAmended():
            return (*acts, Act("amended", fact.number, fact.logged_at))
        case QuestionAnswered() if fact.origin.by == "typed":
            return (*acts, Act("answered", fact.number, fact.logged_at))
        case EntryLogged() if fact.late_reason:
            return (*acts, Act("entered late", fact.number, fact.logged_at))
        case FindingAcknowledged():
            return (*acts, Act("acknowledged", fact.number, fact.logged_at, fact.rule, fact.message))
        case DifferenceReviewed():
            return _reviewed(acts, fact)
        case ReviewUndone():
            return tuple(act for act in acts if act.difference != fact.difference)
        case EntryRestored() | ChangeUndone():
            return _without_newest(acts, fact.number)
        case AcknowledgementUndone():
            return _without_newest(acts, fact.number, fact.rule, fact.message)
        case _:
            return acts


def _reviewed(acts: tuple[Act, ...], fact: DifferenceReviewed) -> tuple[Act, ...]:
    """A review that changed a line is one act with that change."""
    if fact.taken and not fact.text and acts and acts[-1].number == fact.number:
        return (*acts[:-1], replace(acts[-1], difference=fact.difference))
    what: Literal["confirmed", "left"] = "confirmed" if fact.taken else "left"
    return (*acts, Act(what, None, fact.logged_at, difference=fact.difference))


def _without_newest(acts: tuple[Act, ...], number: int | None, rule: str = "", message: str = "") -> tuple[Act, ...]:
    """Without the newest act on this line, or on this finding."""
    for place in range(len(acts) - 1, -1, -1):
        act = acts[place]
        if (act.number, act.rule, act.message) == (number, rule, message) and act.what not in ("left", "confirmed"):
            return (*acts[:place], *acts[place + 1 :])
    return acts
