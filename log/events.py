"""Everything that can be a fact of a case. Facts are in the past tense and are never edited: a correction is another
fact, and the record is what all of them add up to.

Two times are kept apart: `said_at` is when it happened in the room, `logged_at` when it was written down.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, TypeAdapter

from log.procedure import Level
from log.spoken import Entry, Frozen


class FactBase(Frozen):
    """What every fact has."""

    logged_at: AwareDatetime


class Origin(Frozen):
    """Where the words came from."""

    by: Literal["voice", "typed"] = "voice"
    heard: str = ""
    """The words, as recognised or typed."""
    engine: str = ""
    confidence: float = Field(default=1.0, ge=0, le=1)


class CaseOpened(FactBase):
    """A case was begun; holds the whole definition that was in force."""

    fact: Literal["case_opened"] = "case_opened"
    case: str
    label: str = ""
    definition: str
    """Canonical JSON of the procedure definition with the local override applied."""
    definition_sha256: str
    override_approved_by: str | None = None
    override_approved_on: str | None = None
    software: str
    source: str
    """What is listened to: a file's name, or "typed"."""


class EntryLogged(FactBase):
    """An entry was said beyond doubt."""

    fact: Literal["entry_logged"] = "entry_logged"
    number: int
    entry: Entry
    said_at: AwareDatetime
    origin: Origin


class EntryAsked(FactBase):
    """Something was heard that needs an answer; until then it counts in no total."""

    fact: Literal["entry_asked"] = "entry_asked"
    number: int
    candidates: tuple[Entry, ...] = Field(min_length=1)
    reason: str
    said_at: AwareDatetime
    origin: Origin


class QuestionAnswered(FactBase):
    """The room said which of the candidates, or which other value, was meant."""

    fact: Literal["question_answered"] = "question_answered"
    number: int
    entry: Entry
    said_at: AwareDatetime
    origin: Origin


class EntryStruck(FactBase):
    """An entry or open question was struck through; the original stays readable."""

    fact: Literal["entry_struck"] = "entry_struck"
    number: int
    said_at: AwareDatetime
    reason: str
    origin: Origin


class EntryAmended(FactBase):
    """An entry was given another value; the original stays readable."""

    fact: Literal["entry_amended"] = "entry_amended"
    number: int
    entry: Entry
    said_at: AwareDatetime
    reason: str
    origin: Origin


class NotUnderstoodHeard(FactBase):
    """Something addressed to the log made no entry."""

    fact: Literal["not_understood_heard"] = "not_understood_heard"
    said_at: AwareDatetime
    reason: str
    nearest: tuple[str, ...] = ()
    origin: Origin


class FindingRaised(FactBase):
    """A rule had something to say."""

    fact: Literal["finding_raised"] = "finding_raised"
    rule: str
    number: int | None
    """The entry it stands beside, or None."""
    level: Level
    message: str
    source: str


class FindingSettled(FactBase):
    """A finding no longer holds: its entry was corrected or struck, or what was missing has been done."""

    fact: Literal["finding_settled"] = "finding_settled"
    rule: str
    number: int | None
    how: str


class CaptureGap(FactBase):
    """Time in which nothing could be heard."""

    fact: Literal["capture_gap"] = "capture_gap"
    began_at: AwareDatetime
    seconds: float = Field(ge=0)
    reason: str


class CaseClosed(FactBase):
    """Listening ended."""

    fact: Literal["case_closed"] = "case_closed"
    reason: str


Fact = Annotated[
    CaseOpened
    | EntryLogged
    | EntryAsked
    | QuestionAnswered
    | EntryStruck
    | EntryAmended
    | NotUnderstoodHeard
    | FindingRaised
    | FindingSettled
    | CaptureGap
    | CaseClosed,
    Field(discriminator="fact"),
]

_ADAPTER: TypeAdapter[Fact] = TypeAdapter(Fact)


def to_json(fact: Fact) -> str:
    """One line of JSON."""
    return _ADAPTER.dump_json(fact).decode()


def from_json(text: str | bytes) -> Fact:
    """The fact of one line of JSON; raises pydantic.ValidationError, never guesses."""
    return _ADAPTER.validate_json(text)


def moment(fact: Fact) -> datetime:
    """When it happened, as far as the fact knows."""
    said = getattr(fact, "said_at", None)
    return said if isinstance(said, datetime) else fact.logged_at
