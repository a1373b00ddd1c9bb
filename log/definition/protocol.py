"""What a definition says of the tube and of placing it, beyond limits and orders: the steps of the protocol, which
position checks take each other back, how pressures are compared, and what the companion tube shows.
"""

from __future__ import annotations

from pydantic import Field

from log.basics.patterns import Identifier, Part, Pattern, Sourced


class Tube(Part):
    """What is known of the tube."""

    lumens: int = Field(ge=1, le=6)
    balloons: tuple[Identifier, ...]
    note: str = ""


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
    """Only what is logged until that milestone is reached counts: a balloon let down later was not flat before."""
    only_if: tuple[Pattern, ...] = ()
    """It is part of this case only while the log says one of these."""
    undone: tuple[Pattern, ...] = ()
    """What takes it back."""
    prompted: bool = True
    """Whether the room is reminded of it; what is not begins by itself, as a removal does."""
    say: str
    """An example of how it is said."""


class Position(Part):
    """One way of looking where the tube lies, as it is logged when it speaks for the stomach and when against it."""

    passed: str
    failed: str


class Manometry(Sourced):
    """How a pressure in the patient is compared with the one that was read outside at the same volume."""

    interpolate: bool
    """Whether a straight line between the two neighbouring volumes may stand for a volume that was not read."""


class Companion(Sourced):
    """The marks on the tube that is laid beside one that cannot drain the oesophagus."""

    above_cm: float = Field(gt=0, le=20)
    """How far above its balloon each mark lies."""
    note: str
    """Where the sources differ."""
