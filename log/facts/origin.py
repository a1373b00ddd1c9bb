"""When something happened, and where its words came from: who said or typed them, what heard them, in which sound."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, AwareDatetime, Field

from log.basics.entry import Frozen


def _of_our_age(moment: datetime) -> datetime:
    if not 1990 <= moment.year <= 2200:
        raise ValueError("no such time")
    return moment


Moment = Annotated[AwareDatetime, AfterValidator(_of_our_age)]
"""A time with its offset; far from the ends of the calendar, so that one can always be calculated from another."""


Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class Sound(Frozen):
    """The stretch of sound in which something was heard, kept beside the facts as FLAC."""

    sha256: Sha256
    """SHA-256 of the FLAC file."""
    seconds: float = Field(ge=0, le=1e6)


class Origin(Frozen):
    """Where the words came from, and from whom."""

    by: Literal["voice", "typed"] = "voice"
    author: str = ""
    """Who said or typed it: a role, or a name where the site wants names."""
    heard: str = ""
    """The words, as recognised or typed."""
    engine: str = ""
    confidence: float = Field(default=1.0, ge=0, le=1)
    sound: Sound | None = None
    """None if nothing was to be kept, or it was typed."""


KeepSound = Literal["all", "utterances", "none"]
"""The sound that stays with a case: all speech; what was logged, asked or not understood; nothing."""

WayOfSaying = Literal["lead word", "push to talk", "open"]
"""The way to address the log: the lead word before it, the talk key, or nothing more."""
