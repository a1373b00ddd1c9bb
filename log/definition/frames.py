"""Words and the entries they speak for. A frame is an entry with open places: kind, site, direction, number.

A group of words stands for one idea ("gastric" is also "stomach balloon"), a frame says which ideas it needs and
which others may be said beside them. What no frame explains is never logged: a frame can only be wrong by asking.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from typing import Annotated, ClassVar

from pydantic import Field, StringConstraints, field_validator

from log.basics.patterns import Bound, Grown, Identifier, Part

Ways = Annotated[str, StringConstraints(pattern=r"^[a-z#\[][a-z0-9#' |./\[\]-]*$")]
"""Ways to say an idea, with a bar between them: "up|inflated|blown up". `#` stands for any number; in brackets each of
the first stands with each of the second: "[no/nil] [mark/sore]"."""

Ideas = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_.|-]*$")]
"""Names of ideas, one of which is meant: "into|more"."""


class Frame(Grown):
    """One way in which an entry is meant, whatever the order of its words."""

    GROWN: ClassVar = ("also", "against", "moved")

    id: Identifier
    kind: Identifier
    needs: tuple[Ideas, ...] = Field(min_length=1)
    """One idea of each has to be said."""
    may: tuple[Ideas, ...] = ()
    """Ideas that may be said beside them; any other idea speaks against this frame."""
    against: tuple[Ideas, ...] | None = None
    """Ideas of which none may be said with it, even by a word that it needs or allows."""
    moved: bool | None = None
    """Whether its number is an amount that was moved: "down to fifty" is none, "down by fifty" is."""
    numbers: tuple[Identifier, ...] = ()
    """The slots that take its numbers, in the order in which they are usually said."""
    units: tuple[Identifier, ...] = ()
    """Further slots for its first number, told apart by the unit that is said; without a unit it is asked."""
    bare: bool = True
    """Whether the number may be said without its unit."""
    counted: bool = True
    """Whether it has to have its numbers; else they may be left out."""
    several: bool = True
    """Whether it is asked which of several numbers was meant; what is read again in a moment is not."""
    after: tuple[Identifier, ...] = ()
    """Kinds of which one was said just before in the same breath; alone it is nothing."""
    also: Identifier | None = None
    """The frame of a second entry that its words may hold besides: "sixty of dark blood"."""
    asks: bool = False
    """An utterance of this frame is asked, never logged: a word that matters is missing."""
    alone: bool = False
    """Whether nothing else may be said in its clause: what is asked of the log."""
    inherits: bool = True
    """Whether its site may be the one of the entry just before in the same breath."""
    site: str | None = None
    value: str | Bound = None
    detail: str | None = None
    """Fixed, or "<group>" for the member of a group that was said."""

    def groups(self) -> Iterator[tuple[str, str]]:
        """Field of the entry -> the group that fills it."""
        for name in ("site", "value", "detail"):
            text = getattr(self, name)
            if isinstance(text, str) and text.startswith("<") and text.endswith(">"):
                yield name, text[1:-1]


class Words(Part):
    """One idea, or a group of ideas of which one is said."""

    says: dict[Identifier, Ways | dict[str, Ways]] = Field(default_factory=dict)
    """Idea -> how it is said; or group -> its members, each with how it is said."""
    spellings: dict[str, str] = Field(default_factory=dict)
    """Other spellings of one word -> as it stands here."""
    things: tuple[Ideas, ...] = ()
    """Ideas that are things: "in", "on", "at" or "from" before one of them says where and turns nothing."""
    opposites: tuple[Ways, ...] = ()
    """Words of which one may never be read as another: states, directions, names that look alike."""
    frame: tuple[Frame, ...] = ()

    @field_validator("frame")
    @classmethod
    def _ids_are_unique(cls, frames: tuple[Frame, ...]) -> tuple[Frame, ...]:
        ids = [frame.id for frame in frames]
        for one in ids:
            if ids.count(one) > 1:
                raise ValueError(f'frame "{one}" stands twice')
        return frames


def ways(text: str) -> tuple[str, ...]:
    """The ways of saying in one string, without bars and brackets."""
    said = (way.strip() for way in text.split("|"))
    return tuple(way for each in said if each for way in (_each(each) if "[" in each else (each,)))


def _each(way: str) -> Iterator[str]:
    choices = (part.split("/") for part in re.split(r"[\[\]]", way))
    for words in product(*choices):
        yield " ".join("".join(words).split())
