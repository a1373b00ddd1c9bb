"""The state of the tube and its balloons at any moment: standing entries added up step by step.

A tube has a number: "tube out" ends everything that belonged to it, and what is next done to a tube is done to the next
one. Corrections change the past, so this always follows from the lines that stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from log.basics.entry import Entry, Number
from log.basics.patterns import Pattern
from log.facts.line import Line
from log.state.balloon import FLAT, Balloon
from log.state.film import Film
from log.state.preparation import UNPREPARED, Prepared

NO_BALLOONS: Mapping[str, Balloon] = MappingProxyType({})


Given = tuple[str, str, str]
"""Kind, name and unit of a blood product or fluid; "" where one was not said."""


@dataclass(frozen=True, slots=True)
class TubeState:
    """The tube and what hangs on it."""

    number: int = 1
    """Number of the tube in the case: the one that is in, is being made ready, or came out last."""
    withdrawn: bool = False
    """Whether it came out, and nothing is logged of the next."""
    balloons: Mapping[str, Balloon] = field(default_factory=lambda: NO_BALLOONS)
    tube_in: bool = False
    depth: Entry | None = None
    """Last depth said."""
    depth_may_be: tuple[Entry, ...] = ()
    """The states that an open question leaves possible; empty where it is certain."""
    mark: Entry | None = None
    """First depth said after traction was put on: movement is measured from here, also when the traction is hung anew,
    for as long as the anchor stays up in the same place."""
    traction: Entry | None = None
    """Traction in force; None when off."""
    film: Film | None = None
    """The last X-ray of this tube, and whether it still vouches for the position."""
    by_port: Mapping[tuple[str, str], Number] = field(default_factory=dict)
    """Aspirate, lavage in and lavage back, mL by kind of entry and port; "" is "port not said"."""
    emergency: Entry | None = None
    """The emergency that was called and is not over: nobody said so, and the tube is not out."""
    clamped: frozenset[str] = frozenset()
    """Ports with a clamp on, or a tap that is off to the patient."""
    down: Mapping[str, datetime] = field(default_factory=dict)
    """When a balloon that was up went down; those that are up again are not in it."""
    held_at: Entry | None = None
    """The mark that was read last before the weight came off a tube now fixed at the lips, until it is read again."""
    prepared: Prepared = UNPREPARED
    """Kit, tests and position checks."""
    given: Mapping[Given, Number] = field(default_factory=dict)
    """Total of each blood product and fluid, in its own unit."""
    latest: Mapping[tuple[str, str | None], Entry] = field(default_factory=dict)
    """Last entry of each kind and site, the newest last."""

    @property
    def xray(self) -> str | None:
        """Last word on the X-ray, or why it no longer counts."""
        return self.film.in_words if self.film is not None else None

    @property
    def confirmed(self) -> bool:
        """Whether an X-ray vouches for the position of the tube as it lies now."""
        return self.film is not None and self.film.confirms

    @property
    def let_down(self) -> bool:
        """Whether a balloon went down that a film had shown in its place."""
        return bool(self.down) and self.film is not None and self.film.confirmed_once

    @property
    def in_use(self) -> bool:
        """Whether anything was done with the tube since it went in."""
        filled = any(balloon.up for balloon in self.balloons.values())
        return self.tube_in and (filled or self.traction is not None or self.film is not None or bool(self.down))

    def at_port(self, kind: str, port: str | None = None) -> Number:
        """Millilitres of a kind at a port ("" is "port not said"), or at all of them."""
        return sum(number for (one, site), number in self.by_port.items() if one == kind and port in (None, site))

    def balloon(self, site: str | None) -> Balloon:
        """This balloon; flat if nothing was said of it, or the tube has none there."""
        return self.balloons.get(site, FLAT) if site is not None else FLAT

    def last(self, kind: str) -> Entry | None:
        """The last entry of a kind, wherever it was."""
        return next((self.latest[key] for key in reversed([*self.latest]) if key[0] == kind), None)


@dataclass(frozen=True, slots=True)
class Step:
    """One standing line with the situation before and after it."""

    line: Line
    before: TubeState
    after: TubeState

    @property
    def entry(self) -> Entry:
        """The entry of the line."""
        return self.line.entry


def matches(pattern: Pattern, entry: Entry) -> bool:
    """Whether an entry is one that a definition's pattern means; "both" balloons are each of them."""
    if entry.kind != pattern.kind:
        return False
    if pattern.site is not None and entry.site not in (pattern.site, "both"):
        return False
    return pattern.has(entry.value) and pattern.detail in (None, entry.detail)


def given_of(entry: Entry) -> Given:
    """Under what a blood product or fluid is added up: amounts in different units are never one sum."""
    return entry.kind, entry.detail or "", entry.unit or ""
