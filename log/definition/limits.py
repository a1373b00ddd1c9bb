"""Limits: a bound, the number of the log that is held against it, and what to do beyond it.

`of` says which number that is, so that a new number with a limit is a table of the definition and no code. Everything
that compares (findings, screens, charts, debriefing, hand-over) reads `of`; nothing asks for a limit by its name.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from log.basics.patterns import Backed, Bound, Grown, Identifier, Pattern, Sourced

What = Literal["said", "total", "moved", "rise"]
"""The kind of number. `said`: the number of the entry. `total`: millilitres in the balloon, of `volume_in`. `moved`:
centimetres between a depth and the first one that was read under traction. `rise`: a pressure in the patient less the
one that was read outside at the same volume."""

When = Literal["always", "before the x-ray", "first air", "further air", "balloon up", "first reading"]
"""When it counts. `before the x-ray`: until one confirms the position. `first air`: as it was said last when the first
air goes into the balloon in the stomach. `further air`: into a balloon that has some. `balloon up`: while the balloon
is. `first reading`: the first since the balloon was flat, in the patient."""

NEEDED_KIND: Mapping[What | When, str] = MappingProxyType(
    {
        "total": "volume_in",
        "moved": "depth",
        "rise": "pressure",
        "further air": "volume_in",
        "balloon up": "pressure",
        "first reading": "pressure",
    }
)
"""The one kind of entry that such a number can be of."""


class Of(Grown):
    """The number of the log that a limit holds."""

    GROWN: ClassVar = ("instead_of",)

    kind: Identifier
    """The kind of entry that says it."""
    site: Identifier | None = None
    """Only at this balloon, port or place; without it at any."""
    detail: str | None = None
    """Only with this detail: one vital sign of several."""
    what: What = "said"
    """The number that was said, or one that follows from it."""
    when: When = "always"
    """In which circumstances it counts."""
    unless: Identifier | None = None
    """Nothing is said where this limit is broken by the same line: one number is not reported twice."""
    instead_of: Identifier | None = None
    """Where this one is broken, nothing is said of that limit."""

    def __str__(self) -> str:
        said = " ".join(part for part in (self.site, self.kind.replace("_", " "), self.detail) if part)
        what = {
            "said": said,
            "total": f"what is in the {self.site} balloon",
            "moved": "movement of the mark since traction",
            "rise": f"{said} less that outside",
        }[self.what]
        return what if self.when == "always" else f"{what}, {self.when}"


class SiteSets(Sourced):
    """Shown to whoever sets a limit for which no value is shipped, with its standing."""

    wants: tuple[Literal["min", "max"], ...] = Field(min_length=1)
    """The bounds without which it is not set."""
    message: str


class Limit(Grown, Backed):
    """A number the record is checked against."""

    GROWN: ClassVar = ("site_sets", "of", "low_until")

    about: str
    """The limited number, in words for the finding."""
    unit: str
    of: Of | None = None
    """The number it holds. The limits of `ORIGINAL` need not say it."""
    min: Bound = None
    """The lowest value that keeps it."""
    max: Bound = None
    """The highest value that keeps it."""
    low_until: Pattern | None = None
    """The lower bound counts no more once this was the last word on it: bleeding has stopped."""
    advice: str
    """Advice, in words for the finding."""
    site_sets: SiteSets | None = None
    """No bound is shipped, and no case begins until a site sets it."""

    @model_validator(mode="after")
    def _has_a_bound(self) -> Limit:
        if self.site_sets is not None and (self.min is not None or self.max is not None):
            raise ValueError("has a bound, but says that the site sets it: take out site_sets or the bound")
        if self.site_sets is None and self.min is None and self.max is None:
            raise ValueError("has neither min nor max")
        if self.min is not None and self.max is not None and self.min > self.max:
            raise ValueError(f"min {self.min:g} is above max {self.max:g}")
        return self

    def broken_by(self, value: float) -> Literal["above", "below"] | None:
        """The side of the limit on which `value` lies; a value equal to a bound keeps it."""
        if self.max is not None and value > self.max:
            return "above"
        if self.min is not None and value < self.min:
            return "below"
        return None

    @property
    def bounds(self) -> str:
        """The bounds as the room reads them."""
        if self.site_sets is not None:
            return "not set: your site has to"
        return in_words(self.min, self.max, self.unit)


def in_words(low: float | None, high: float | None, unit: str) -> str:
    """Bounds as the room reads them: "at most 45 mmHg"."""
    if low is None:
        return f"at most {high:g} {unit}"
    if high is None:
        return f"at least {low:g} {unit}"
    return f"{low:g} to {high:g} {unit}"


ORIGINAL: Mapping[str, Of] = MappingProxyType(
    {
        "first_gastric_volume": Of(kind="volume_in", site="gastric", what="total", when="before the x-ray"),
        "gastric_volume": Of(kind="volume_in", site="gastric", what="total"),
        "oesophageal_pressure": Of(
            kind="pressure", site="oesophageal", when="balloon up", unless="oesophageal_ceiling"
        ),
        "oesophageal_ceiling": Of(kind="pressure", site="oesophageal"),
        "insertion_depth": Of(kind="depth", when="first air"),
        "traction_mass": Of(kind="traction"),
        "mark_migration": Of(kind="depth", what="moved"),
        "head_up": Of(kind="head_up"),
        "gastric_pressure_rise": Of(kind="pressure", site="gastric", what="rise"),
        "gastric_step": Of(kind="volume_in", site="gastric", when="further air"),
        "oesophageal_start": Of(
            kind="pressure", site="oesophageal", when="first reading", unless="oesophageal_ceiling"
        ),
    }
)
"""The numbers that the limits of every definition hold. A definition file without one of them is refused, unless its
tube lacks the balloon.

Never changed: in old cases, where a limit has no `of`, its name says it. For that reason it is not written
either where it is just this, so that fingerprints stay as they were and older versions read what newer ones write."""

ADDED_LATER = frozenset({"head_up", "gastric_pressure_rise", "gastric_step", "oesophageal_start"})
"""A case that was begun without them is kept by what it was begun with."""
