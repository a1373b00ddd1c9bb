"""The open places of a phrase: a number with its unit, or one of a few named things."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from log.basics.patterns import Part

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9 _-]*$")]
"""The logged form of a choice."""

PART_NAME = re.compile(r"<([a-z][a-z0-9_-]*)>")
"""A part in a template."""


class NumberSlot(Part):
    """A number that is said, with its unit."""

    type: Literal["number"]
    unit: str | None
    """UCUM code of the unit that is logged, None for a bare number."""
    said: tuple[float, float]
    """Lowest and highest value that can be heard at all, in the unit that is said."""
    plausible: tuple[float, float] | None = None
    """Lowest and highest value that is believable in the room; outside it the entry is logged with a finding."""
    halves: bool = False
    """Whether "and a half" and "point five" are numbers here."""
    units: str = ""
    """Template of the words for the unit."""
    factor: float = Field(default=1.0, gt=0, le=1000)
    """Logged value = said value x factor (grams said, kilograms logged)."""
    gives: Literal["value", "second"] = "value"
    """The number of the entry that it fills."""

    @model_validator(mode="after")
    def _ranges_run_upwards(self) -> NumberSlot:
        for name, pair in (("said", self.said), ("plausible", self.plausible)):
            if pair is not None and not pair[0] <= pair[1]:
                raise ValueError(f"{name} runs from {pair[0]:g} down to {pair[1]:g}")
        if not 0 <= self.said[0] <= self.said[1] <= 999:
            raise ValueError("said must lie within 0 to 999: that is what can be spoken")
        return self


class ChoiceSlot(Part):
    """One of a few named things that is said: a site, a place."""

    type: Literal["choice"]
    gives: Literal["site", "value", "detail"]
    """The field of the entry that the choice fills."""
    values: dict[Name, str]
    """Logged value -> template of how it is said."""


Slot = Annotated[NumberSlot | ChoiceSlot, Field(discriminator="type")]


@lru_cache(maxsize=1024)
def slot_names(template: str) -> tuple[str, ...]:
    """Names in braces, in order: "{site} pressure {pressure!}" -> ("site", "pressure")."""
    return tuple(re.findall(r"\{([a-z][a-z0-9_-]*)!?\}", template))


def part_names(template: str) -> tuple[str, ...]:
    """Names in angle brackets, in order."""
    return tuple(PART_NAME.findall(template))
