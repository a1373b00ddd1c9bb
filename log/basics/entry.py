"""The meaning of words: entries, a question, or nothing that can be logged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

LARGEST = 1_000_000
"""Beyond anything that can be said, so that no sum of what comes from a file can run over."""

Number = int | float
Value = Annotated[int, Field(ge=-LARGEST, le=LARGEST)] | Annotated[float, Field(ge=-LARGEST, le=LARGEST)] | str | None


QUERIES = frozenset({"repeat", "status", "how_long", "next"})
"""Kinds that ask the log something and write nothing into it."""

DENIED = "denied"
"""Value of an `undo` that answers "no" to the open question."""


class Frozen(BaseModel):
    """Base of everything that is written down: never edited, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Entry(Frozen):
    """One structured thing said. Kinds, sites and values are those of the definition."""

    kind: str
    site: str | None = None
    value: Annotated[Value, Field(union_mode="smart")] = None
    unit: str | None = None
    """Unit in the room's writing: mL, mmHg, cm, kg."""
    detail: str | None = None
    """Further detail: "fluid bag", "air over the stomach"; the name of a drug."""
    second: Annotated[Number | None, Field(ge=0, le=LARGEST)] = None
    """A number said beside the value: the volume at which a pressure was read, the lower blood pressure."""
    second_unit: str | None = None
    """Its unit in the room's writing."""

    @property
    def number(self) -> Number | None:
        """The value if it is a number."""
        return self.value if isinstance(self.value, int | float) else None


InDoubt = Literal["value", "second", "both"]
"""The number of an entry that has to be said again."""


def in_doubt(candidates: Sequence[Entry]) -> InDoubt:
    """The number that a bare number could answer: the only one it has, or the one in which the candidates differ.
    "both" where a bare number could mean either; then nothing less than the whole entry will do.
    """
    values = {entry.number for entry in candidates}
    seconds = {entry.second for entry in candidates}
    if seconds == {None}:
        return "value"
    if values == {None}:
        return "second"
    if len(values) == len(seconds) == 1 or (len(values) > 1 and len(seconds) > 1):
        return "both"
    return "value" if len(values) > 1 else "second"


Why = Literal[
    "sound alike",
    "digits disagree",
    "indistinct",
    "two readings",
    "out of range",
    "other unit",
    "numbers run together",
    "word missing",
    "not explained",
    "several numbers",
    "unsure",
]
"""Why something is asked: code decides by this and never by the text beside it."""


class Question(Frozen):
    """Something was said that could be one of several things, or that does not fit; the room has to answer."""

    candidates: tuple[Entry, ...] = Field(min_length=1)
    """Possible entries, likeliest first; one candidate is a yes-or-no question."""
    why: Why
    """The first reason where there are several."""
    text: str
    """Every reason, for people to read."""


class Understood(Frozen):
    """Entries and questions in the order in which they were said in one breath."""

    outcome: Literal["understood"] = "understood"
    items: tuple[Entry | Question, ...]


class NotUnderstood(Frozen):
    """Words that make no entry."""

    outcome: Literal["not understood"] = "not understood"
    heard: str
    nearest: tuple[str, ...] = ()
    """Phrases that come closest, as they would have to be said."""
    why: str = "nothing recognised"
    """The obstacle, in words for people: "sounds like a question", or the words that nobody explains."""


Meaning = Understood | NotUnderstood


def likeliest(item: Entry | Question) -> Entry:
    """The entry, or the first of those that it could be."""
    return item.candidates[0] if isinstance(item, Question) else item


def entries(meaning: Meaning) -> tuple[Entry, ...]:
    """The likeliest entry of each item; none where nothing was understood."""
    return tuple(map(likeliest, meaning.items)) if isinstance(meaning, Understood) else ()
