"""The tube and its placement in a definition, beyond limits and orders: the steps of the protocol, which position
checks take each other back, how pressures are compared, what the companion tube shows, and what is done when the tube
blocks the airway.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from pydantic import Field

from log.basics.patterns import Grown, Identifier, Part, Pattern, Sourced


class Tube(Grown):
    """A note on the tube."""

    GROWN: ClassVar = ("in_stomach", "in_oesophagus")

    lumens: int = Field(ge=1, le=6)
    balloons: tuple[Identifier, ...] = Field(min_length=1)
    in_stomach: Identifier | None = None
    """The balloon that anchors the tube in the stomach; "gastric" where there is one and nothing else is said."""
    in_oesophagus: Identifier | None = None
    """The balloon that presses on the oesophagus; "oesophageal" where there is one and nothing else is said."""
    note: str = ""

    @property
    def stomach(self) -> str | None:
        """The balloon in the stomach; None for a tube that has none there."""
        return self.in_stomach or self._called("gastric")

    @property
    def oesophagus(self) -> str | None:
        """The balloon in the oesophagus; None for a tube that has none there."""
        return self.in_oesophagus or self._called("oesophageal")

    def _called(self, name: str) -> str | None:
        return name if name in self.balloons else None

    def meant(self, site: str | None) -> tuple[str, ...]:
        """The balloons that a site means: "both" is each of them, none is none."""
        if site == "both":
            return self.balloons
        return () if site is None else (site,)


class Milestone(Sourced):
    """A step of the protocol that the log can know of."""

    id: Identifier
    title: str
    done: tuple[Pattern, ...] = Field(min_length=1)
    """One of these has to have been logged."""
    every: bool = False
    """Whether not one but each of `done` has to be the last word on its balloon: both balloons down, not one."""
    keeps: Identifier | None = None
    """A limit that the volume in the balloon must not lie below before it counts as done."""
    after: tuple[Identifier, ...] = ()
    """Milestones that come before it."""
    since: Identifier | None = None
    """Only what is logged once that milestone is reached counts: a mark read before traction says nothing."""
    before: Identifier | None = None
    """Only what is logged until that milestone is reached counts: a balloon deflated later was not flat before."""
    only_if: tuple[Pattern, ...] = ()
    """It is part of this case only while the log says one of these."""
    undone: tuple[Pattern, ...] = ()
    """Entries that take it back."""
    prompted: bool = True
    """Whether the room is reminded of it; what is not begins by itself, as a removal does."""
    say: str
    """An example of how it is said."""


def ancestors(milestones: Sequence[Milestone], name: str) -> frozenset[str]:
    """All that has to come before it, near and far; itself only if the definition runs in a circle."""
    before = {milestone.id: milestone.after for milestone in milestones}
    found: set[str] = set()
    looked_at = [*before.get(name, ())]
    while looked_at:
        one = looked_at.pop()
        if one not in found:
            found.add(one)
            looked_at += before.get(one, ())
    return frozenset(found)


class Position(Part):
    """One way of looking where the tube lies, as it is logged when it speaks for the stomach and when against it."""

    passed: str
    failed: str


class Manometry(Sourced):
    """A pressure in the patient is compared with the one that was read outside at the same volume."""

    interpolate: bool
    """Whether a straight line between the two neighbouring volumes may stand for a volume that was not read."""


class Companion(Sourced):
    """The marks on the tube that is laid beside one that cannot drain the oesophagus."""

    above_cm: float | None = Field(default=None, gt=0, le=20)
    """Distance of each mark above its balloon; None where the definition gives none."""
    note: str
    """Where the sources differ."""


class EmergencyStep(Sourced):
    """One thing to do, in the order in which it is done."""

    text: str


class Emergency(Part):
    """Steps by the value of the entry that called it: "airway" or "cut"."""

    airway: tuple[EmergencyStep, ...] = Field(min_length=1)
    cut: tuple[EmergencyStep, ...] = Field(min_length=1)
    airway_title: str = "AIRWAY"
    cut_title: str = "CUT"

    def steps(self, value: str) -> tuple[EmergencyStep, ...]:
        """The steps; for a value that is neither, those for the airway."""
        return self.cut if value == "cut" else self.airway

    def title(self, value: str) -> str:
        """The heading above the steps."""
        return self.cut_title if value == "cut" else self.airway_title
