"""Acts on the record, by hand or by word of mouth, that can be taken back: in the order in which they were done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from log.facts.events import (
    AcknowledgementUndone,
    ChangeUndone,
    EntryAmended,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    FindingAcknowledged,
    QuestionAnswered,
)


@dataclass(frozen=True, slots=True)
class Act:
    """Something that was done, and what it was done to."""

    what: Literal["struck", "amended", "answered", "entered late", "acknowledged"]
    number: int | None
    """The line it was done to, or that the finding stands beside."""
    at: datetime
    """When it was written down."""
    rule: str = ""
    """Rule and message of the finding that was acknowledged."""
    message: str = ""


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
        case EntryRestored() | ChangeUndone():
            return _without_newest(acts, fact.number)
        case AcknowledgementUndone():
            return _without_newest(acts, fact.number, fact.rule, fact.message)
        case _:
            return acts


def _without_newest(acts: tuple[Act, ...], number: int | None, rule: str = "", message: str = "") -> tuple[Act, ...]:
    """Without the newest act on this line, or on this finding."""
    for place in range(len(acts) - 1, -1, -1):
        act = acts[place]
        if (act.number, act.rule, act.message) == (number, rule, message):
            return (*acts[:place], *acts[place + 1 :])
    return acts
