"""The state of the tube and its balloons at any moment: standing entries added up step by step.

Corrections change the past, so this always follows from the lines that stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from types import MappingProxyType

from log.basics.entry import Entry, Number
from log.basics.patterns import Pattern
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.facts.line import Line
from log.state.preparation import UNPREPARED, Prepared, prepared_after


@dataclass(frozen=True, slots=True)
class Balloon:
    """One balloon."""

    volume: Number = 0
    """Millilitres in it according to the log."""
    pressure: Number | None = None
    """Last reading, mmHg."""
    said_up: bool = False
    """Known to be up without a volume: said so, or by its pressure."""
    unmeasured: bool = False
    """Whether air of an unknown volume is in it besides what was said, until its whole volume is said."""
    read_at: Number | None = None
    """Millilitres that were in it, according to the log, when its pressure was read last."""

    @property
    def up(self) -> bool:
        """Whether there is anything in it, as far as the log knows."""
        return self.volume > 0 or self.said_up


FLAT = Balloon()

NO_BALLOONS: Mapping[str, Balloon] = MappingProxyType({})


MOVED_SINCE = "tube moved since"

Given = tuple[str, str, str]
"""Kind, name and unit of a blood product or fluid; "" where one was not said."""


@dataclass(frozen=True, slots=True)
class TubeState:
    """The tube and what hangs on it."""

    balloons: Mapping[str, Balloon] = field(default_factory=lambda: NO_BALLOONS)
    tube_in: bool = False
    depth: Entry | None = None
    """Last depth said."""
    mark: Entry | None = None
    """First depth said after traction was put on: movement is measured from here."""
    traction: Entry | None = None
    """Traction in force; None when off."""
    xray: str | None = None
    """Last word on the X-ray; `MOVED_SINCE` once a film that was wrong shows a place where the tube no longer is."""
    by_port: Mapping[tuple[str, str], Number] = field(default_factory=dict)
    """Aspirate, lavage in and lavage back, mL by kind of entry and port; "" is "port not said"."""
    emergency: Entry | None = None
    """The emergency that was called and is not over: nobody said so, and the tube is not out."""
    clamped: frozenset[str] = frozenset()
    """Ports with a clamp on."""
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


def after_entry(procedure: Procedure, s: TubeState, entry: Entry, at: datetime) -> TubeState:
    """The situation after one more entry, said at this time."""
    prepared = prepared_after(procedure.tube, s.prepared, entry, at, s.tube_in)
    return _with_balloons_down(s, _after(procedure, replace(s, prepared=prepared), entry), at)


def _with_balloons_down(before: TubeState, after: TubeState, at: datetime) -> TubeState:
    """With the time at which a balloon went down in it."""
    if before.balloons is after.balloons:
        return after
    down = {site: when for site, when in after.down.items() if not after.balloon(site).up}
    down |= {site: at for site in before.balloons if before.balloon(site).up and not after.balloon(site).up}
    return after if down == after.down else replace(after, down=down)


def _after(procedure: Procedure, s: TubeState, entry: Entry) -> TubeState:
    tube = procedure.tube
    if not (entry.kind == "xray" and entry.value in ("requested", "taken") and s.xray == "confirmed"):
        s = replace(s, latest=_latest(tube, s, entry))
    match entry.kind:
        case "volume_in" | "volume_out" | "volume_total" | "pressure" | "balloon":
            filled = {site: _filled(s.balloon(site), entry) for site in tube.meant(entry.site)}
            if s.tube_in and tube.oesophagus in filled:
                filled[tube.oesophagus] = _up_by_pressure(filled[tube.oesophagus], entry)
            return replace(s, balloons={**s.balloons, **filled})
        case "tube" if entry.value == "in":
            return replace(s, tube_in=True, down={}, held_at=None)
        case "tube" if entry.value == "out":
            balloons = NO_BALLOONS if s.emergency is not None else s.balloons  # what was cut holds no air
            return replace(s, tube_in=False, emergency=None, held_at=None, balloons=balloons)
        case "emergency":
            return replace(s, emergency=None if entry.value == "over" else entry)
        case "depth":
            marked = entry if s.traction is not None and s.mark is None else s.mark
            return replace(s, depth=entry, mark=marked, held_at=None, xray=_film_after_depth(tube, s, entry))
        case "traction" if entry.value == "off":
            return replace(s, traction=None, mark=None, held_at=None)
        case "traction":
            weight_came_off = entry.value == "fixed" and s.traction is not None and s.traction.value != "fixed"
            held_at = s.depth if weight_came_off and s.mark is not None else s.held_at
            return replace(s, traction=entry, held_at=held_at)
        case "clamp":
            ports = frozenset(tube.meant(entry.site))
            return replace(s, clamped=s.clamped | ports if entry.value == "on" else s.clamped - ports)
        case "xray" if entry.value in ("confirmed", "not_confirmed") or s.xray != "confirmed":
            return replace(s, xray=str(entry.value))  # a further film does not revoke what one has confirmed
        case _ if entry.number is not None:
            return _added(procedure, s, entry, entry.number)
        case _:
            return s


def _added(procedure: Procedure, s: TubeState, entry: Entry, number: Number) -> TubeState:
    match procedure.traits(entry.kind).total:
        case "by-port":
            port = (entry.kind, entry.site or "")
            return replace(s, by_port={**s.by_port, port: s.by_port.get(port, 0) + number})
        case "by-name":
            what = given_of(entry)
            return replace(s, given={**s.given, what: s.given.get(what, 0) + number})
        case "none":
            return s


def comparable(one: Entry, other: Entry) -> bool:
    """Whether two depths were read at the same place. A place that was not said does not hide a movement."""
    return one.site is None or other.site is None or one.site == other.site


def moved_cm(first: Entry, last: Entry) -> Number | None:
    """Centimetres from one depth to another, further in above nought; None where the two cannot be compared."""
    if first.number is None or last.number is None or not comparable(first, last):
        return None
    return round(last.number - first.number, 6)  # without the dust of binary fractions


def _film_after_depth(tube: Tube, s: TubeState, entry: Entry) -> str | None:
    """A wrong film is about the place it was taken at: with the balloon in the stomach down and another mark than
    before, the tube lies elsewhere, and its new place needs a film of its own. Where the two cannot be compared the
    film stands."""
    elsewhere = s.depth is not None and comparable(s.depth, entry) and s.depth.number != entry.number
    left = s.xray == "not_confirmed" and elsewhere and not s.balloon(tube.stomach).up
    return MOVED_SINCE if left else s.xray


def given_of(entry: Entry) -> Given:
    """Under what a blood product or fluid is added up: amounts in different units are never one sum."""
    return entry.kind, entry.detail or "", entry.unit or ""


def _latest(tube: Tube, s: TubeState, entry: Entry) -> Mapping[tuple[str, str | None], Entry]:
    """With this entry last, for each balloon that it is about."""
    latest = dict(s.latest)
    for site in tube.meant(entry.site) or (None,):
        latest.pop((entry.kind, site), None)
        latest[entry.kind, site] = entry
    return latest


def _up_by_pressure(balloon: Balloon, entry: Entry) -> Balloon:
    """The balloon in the oesophagus is filled by pressure: a reading in the patient says that it is up, nought that it
    is not."""
    if entry.kind != "pressure" or entry.number is None or balloon.volume > 0:
        return balloon
    return replace(balloon, said_up=entry.number > 0)


def _filled(balloon: Balloon, entry: Entry) -> Balloon:
    number = entry.number
    match entry.kind:
        case "volume_in" if number is not None:
            return replace(balloon, volume=balloon.volume + number)
        case "volume_out" if number is not None:
            left = max(balloon.volume - number, 0)
            some_left = left > 0 or (balloon.said_up and balloon.volume == 0)  # of an unknown volume some is left
            return replace(
                balloon,
                volume=left,
                said_up=balloon.said_up and some_left,
                unmeasured=balloon.unmeasured and some_left,
                pressure=balloon.pressure if some_left else None,
            )
        case "volume_total" if number is not None:
            return replace(balloon, volume=number, unmeasured=False)
        case "pressure" if number is not None:
            return replace(balloon, pressure=number, read_at=balloon.volume)
        case "balloon" if entry.value == "down":
            return Balloon()
        case "balloon":
            return replace(balloon, said_up=True, unmeasured=balloon.unmeasured or balloon.volume == 0)
        case _:
            return balloon
