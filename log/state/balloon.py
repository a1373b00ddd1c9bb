"""One balloon: what is in it, as far as the log knows. While a question about its air is open, everything that it may
hold is carried along, and never read as nought.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import chain

from log.basics.entry import Entry, Number

MOST_KEPT = 8
"""Possible volumes that are kept apart; of more only the least and the most."""


@dataclass(frozen=True, slots=True)
class Balloon:
    """One balloon."""

    volume: Number = 0
    """Millilitres in it according to the log; the least where that is not certain."""
    may_hold: tuple[Number, ...] = ()
    """Each volume (mL) that it may hold while a question is open, the least first; empty where it is certain."""
    pressure: Number | None = None
    """Last reading, mmHg."""
    may_read: tuple[Number, ...] = ()
    """Each pressure (mmHg) that it may have by an open question, the least first; empty where it is certain."""
    said_up: bool = False
    """Known to be up without a volume: said so, or by its pressure."""
    unmeasured: bool = False
    """Whether air of an unknown volume is in it besides what was said, until its whole volume is said."""
    read_at: Number | None = None
    """Millilitres that were in it, according to the log, when its pressure was read last."""
    readings: tuple[Number, ...] = ()
    """Its pressures (mmHg) since its air was last changed, the newest last."""
    since: datetime | None = None
    """When it went up; None while it is not up."""
    been_up: timedelta = timedelta(0)
    """Time it was up in this tube before it went down last."""

    @property
    def up(self) -> bool:
        """Whether there is anything in it, or may be, as far as the log knows."""
        return self.most > 0 or self.said_up

    @property
    def most(self) -> Number:
        """The most that it may hold, mL."""
        return self.may_hold[-1] if self.may_hold else self.volume

    @property
    def volumes(self) -> tuple[Number, ...]:
        """Each volume that it may hold; one where that is certain."""
        return self.may_hold or (self.volume,)

    @property
    def measured(self) -> Number:
        """Millilitres in it where that is known for certain; nought where not."""
        return 0 if self.unmeasured or self.may_hold else self.volume

    def holding(self, volumes: Sequence[Number]) -> Balloon:
        """With one of these volumes in it."""
        known = tuple(sorted(set(volumes)))
        kept = known if len(known) <= MOST_KEPT else (known[0], known[-1])
        readings = self.readings if kept == self.volumes else ()
        return replace(self, volume=kept[0], may_hold=kept if len(kept) > 1 else (), readings=readings)


FLAT = Balloon()


def filled_after(balloon: Balloon, entry: Entry) -> Balloon:
    """The balloon after one more entry about it."""
    number = entry.number
    match entry.kind:
        case "volume_in" if number is not None:
            return balloon.holding([volume + number for volume in balloon.volumes])
        case "volume_out" if number is not None:
            return _after_out(balloon, number)
        case "volume_total" if number is not None:
            return replace(balloon.holding([number]), unmeasured=False)
        case "pressure" if number is not None:
            readings = (*balloon.readings, number)
            return replace(balloon, pressure=number, may_read=(), read_at=balloon.volume, readings=readings)
        case "balloon" if entry.value == "down":
            return FLAT
        case "balloon":
            return replace(balloon, said_up=True, unmeasured=balloon.unmeasured or balloon.volume == 0)
        case _:
            return balloon


def _after_out(balloon: Balloon, number: Number) -> Balloon:
    left = balloon.holding([max(volume - number, 0) for volume in balloon.volumes])
    some_left = left.most > 0 or (balloon.said_up and balloon.volume == 0)  # of an unknown volume some is left
    return replace(
        left,
        said_up=balloon.said_up and some_left,
        unmeasured=balloon.unmeasured and some_left,
        pressure=balloon.pressure if some_left else None,
        may_read=balloon.may_read if some_left else (),
    )


def up_by_pressure(balloon: Balloon, entry: Entry) -> Balloon:
    """A balloon of which no air was logged: a pressure in the patient says that it is up, nought that it is not."""
    if entry.kind != "pressure" or entry.number is None or balloon.most > 0:
        return balloon
    return replace(balloon, said_up=entry.number > 0)


def one_of(before: Balloon, may_be: Sequence[Balloon]) -> Balloon:
    """The balloon while a question is open: it may be any of these. A pressure that was not read for certain leaves the
    one before, and says what it may be."""
    sure = all(one.pressure == may_be[0].pressure for one in may_be)
    read = may_be[0] if sure else before
    pressures = {number for one in may_be for number in (*one.may_read, one.pressure) if number is not None}
    return replace(
        before.holding([*chain.from_iterable(one.volumes for one in may_be)]),
        said_up=any(one.said_up for one in may_be),
        unmeasured=any(one.unmeasured for one in may_be),
        pressure=read.pressure,
        read_at=read.read_at,
        may_read=before.may_read if sure else tuple(sorted(pressures)),
    )
