"""The state of the tube and its balloons at any moment: standing entries added up step by step.

A tube has a number: "tube out" ends everything that belonged to it, and what is next done to a tube is done to the next
one. Corrections change the past, so this always follows from the lines that stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from types import MappingProxyType

from log.basics.entry import Entry, Number
from log.basics.patterns import Pattern
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.facts.line import Line
from log.state.balloon import FLAT, Balloon, filled_after, up_by_pressure
from log.state.film import EMPTY_SINCE as EMPTY_SINCE
from log.state.film import (
    INSERTED_SINCE,
    OUT_SINCE,
    REQUESTS,
    SLIPPED,
    Anchor,
    Film,
    film_after_depth,
    film_after_slip,
    film_after_word,
)
from log.state.film import comparable as comparable
from log.state.film import moved_cm as moved_cm
from log.state.preparation import UNPREPARED, Prepared, prepared_after

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
    """What it may be by an open question; empty where it is certain."""
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


def after_entry(procedure: Procedure, s: TubeState, entry: Entry, at: datetime) -> TubeState:
    """The situation after one more entry, said at this time."""
    if s.withdrawn and _is_of_the_next(procedure, entry):
        s = next_tube(procedure, s)
    prepared = prepared_after(procedure.tube, s.prepared, entry, at, s.tube_in)
    after = _after(procedure, replace(s, prepared=prepared), entry)
    if after.withdrawn:
        return replace(after, balloons=s.balloons) if s.withdrawn else with_times(procedure.tube, s, after, at)
    goes_in = after.tube_in and not s.tube_in  # what was in a balloon outside the patient did not go down in it
    return after if goes_in else with_times(procedure.tube, s, after, at)


def of_a_tube(procedure: Procedure, kind: str) -> bool:
    """Whether entries of a kind are about one tube and end with it, rather than about the patient."""
    groups = ("test", "placing", "air", "pressure", "port")
    return kind != "airway" and procedure.traits(kind).group in groups


def _is_of_the_next(procedure: Procedure, entry: Entry) -> bool:
    """Whether an entry, said after a tube came out, is the first about the next one."""
    made_ready = entry.kind in ("leak_test", "manometry", "volume_in", "volume_total")
    return made_ready or (entry.kind, entry.value) in (("tube", "in"), ("balloon", "up"), ("companion", "marked"))


def next_tube(procedure: Procedure, s: TubeState) -> TubeState:
    """The situation once the next tube is spoken of: of the one before nothing is left but what the patient had."""
    latest = {key: entry for key, entry in s.latest.items() if not of_a_tube(procedure, key[0])}
    prepared = replace(s.prepared, leak_tests={}, outside={})
    return replace(s, number=s.number + 1, withdrawn=False, latest=latest, down={}, film=None, prepared=prepared)


def _withdrawn(s: TubeState) -> TubeState:
    """The situation once the tube is out: nothing that belonged to it counts any longer."""
    return replace(
        s,
        withdrawn=True,
        tube_in=False,
        balloons=dict.fromkeys(s.balloons, FLAT),
        film=replace(s.film, void=OUT_SINCE) if s.film is not None else None,
        depth=None,
        depth_may_be=(),
        mark=None,
        traction=None,
        clamped=frozenset(),
        emergency=None,
        held_at=None,
        latest=_without(s.latest, *POSITION),
    )


POSITION = ("xray", "position_check", "depth")
"""Kinds of entry that say where the tube lies."""


def _without(latest: Mapping[tuple[str, str | None], Entry], *kinds: str) -> Mapping[tuple[str, str | None], Entry]:
    return {key: entry for key, entry in latest.items() if key[0] not in kinds}


def _inserted(s: TubeState) -> TubeState:
    """The situation once the tube is in: a film from before vouches for nothing, and air from before was for a test."""
    read = s.film is not None and s.film.word not in REQUESTS
    film = replace(s.film, void=INSERTED_SINCE) if s.film is not None and read else s.film
    latest = _without(s.latest, "position_check", *(("xray",) if read else ()))
    inserted = replace(s, tube_in=True, down={}, held_at=None, film=film, latest=latest)
    return _inserted_again(inserted) if s.in_use else replace(inserted, balloons=dict.fromkeys(s.balloons, FLAT))


def _inserted_again(s: TubeState) -> TubeState:
    """Said of a tube that is in already: it was out meanwhile, or this is another. Nothing is known of its position."""
    return replace(s, mark=None, depth=None, depth_may_be=(), latest=_without(s.latest, *POSITION))


def with_times(tube: Tube, before: TubeState, after: TubeState, at: datetime) -> TubeState:
    """With the time at which a balloon went up or down in it; without its anchor a film and a mark no longer count."""
    if before.balloons is after.balloons:
        return after
    after = replace(
        after, balloons={site: _since(before.balloon(site), one, at) for site, one in after.balloons.items()}
    )
    went_down = [site for site in before.balloons if before.balloon(site).up and not after.balloon(site).up]
    down = {site: when for site, when in after.down.items() if not after.balloon(site).up}
    down |= dict.fromkeys(went_down, at)
    after = after if down == after.down else replace(after, down=down)
    return _unanchored(after) if tube.stomach in went_down else after


def _since(before: Balloon, after: Balloon, at: datetime) -> Balloon:
    """With the time at which it went up, and how long it was up before."""
    since = (before.since or at) if after.up else None
    up_until_now = at - before.since if before.since is not None and since is None else timedelta(0)
    been_up = before.been_up + up_until_now
    return after if (since, been_up) == (after.since, after.been_up) else replace(after, since=since, been_up=been_up)


def _unanchored(s: TubeState) -> TubeState:
    film = replace(s.film, void=EMPTY_SINCE) if s.film is not None and s.film.confirms else s.film
    lost = film is not s.film
    return replace(s, mark=None, film=film, latest=_without(s.latest, "xray", "position_check") if lost else s.latest)


def _after(procedure: Procedure, s: TubeState, entry: Entry) -> TubeState:
    tube = procedure.tube
    if not (entry.kind == "xray" and entry.value in REQUESTS and s.confirmed):
        s = replace(s, latest=_latest(tube, s, entry))
    match entry.kind:
        case "volume_in" | "volume_out" | "volume_total" | "pressure" | "balloon":
            filled = {site: filled_after(s.balloon(site), entry) for site in tube.meant(entry.site)}
            if s.tube_in and tube.oesophagus in filled:
                filled[tube.oesophagus] = up_by_pressure(filled[tube.oesophagus], entry)
            return replace(s, balloons={**s.balloons, **filled})
        case "tube" if entry.value == "in":
            return _inserted(s)
        case "tube" if entry.value == "out":
            return _withdrawn(s)
        case "emergency":
            return replace(s, emergency=None if entry.value == "over" else entry)
        case "depth":
            return _read_at(procedure, s, entry)
        case "traction" if entry.value == "off":
            return replace(s, traction=None, held_at=None)
        case "traction":
            weight_came_off = entry.value == "fixed" and s.traction is not None and s.traction.value != "fixed"
            held_at = s.depth if weight_came_off and s.mark is not None else s.held_at
            return replace(s, traction=entry, held_at=held_at)
        case "clamp":
            ports = frozenset(tube.meant(entry.site))
            return replace(s, clamped=s.clamped | ports if entry.value == "on" else s.clamped - ports)
        case "tap":
            return replace(s, clamped=_shut_by_taps(tube, s, entry))
        case "trouble" if entry.detail in SLIPPED:
            film = film_after_slip(s.film)
            return s if film is s.film else replace(s, film=film, latest=_without(s.latest, "xray", "position_check"))
        case "xray":
            return replace(s, film=film_after_word(s.film, str(entry.value), s.depth))
        case _ if entry.number is not None:
            return _added(procedure, s, entry, entry.number)
        case _:
            return s


def _read_at(procedure: Procedure, s: TubeState, entry: Entry) -> TubeState:
    """The situation after a depth was read: the first under traction is the mark, and a film may no longer vouch."""
    film = film_after_depth(s.film, entry, _anchor(procedure, s), _allowed_cm(procedure))
    moved = film is not None and s.film is not None and film.void != s.film.void
    mark = entry if s.traction is not None and s.mark is None else s.mark
    latest = _without(s.latest, "xray", "position_check") if moved else s.latest
    return replace(s, depth=entry, depth_may_be=(), mark=mark, held_at=None, film=film, latest=latest)


def _anchor(procedure: Procedure, s: TubeState) -> Anchor:
    anchor = s.balloon(procedure.tube.stomach)
    return Anchor(anchor.up, full=anchor.volume >= least_anchor(procedure), pulled=s.traction is not None)


def least_anchor(procedure: Procedure) -> Number:
    """The least that the balloon in the stomach has to hold to anchor the tube, mL; nought where no limit says it."""
    anchor = procedure.tube.stomach
    own = (limit for _, limit, of in procedure.held if (of.what, of.when, of.site) == ("total", "always", anchor))
    return max((limit.min for limit in own if limit.min is not None), default=0)


def _allowed_cm(procedure: Procedure) -> Number:
    """Distance that a tube may move before a film stops vouching for it."""
    allowed = (limit.max for _, limit, of in procedure.held if of.what == "moved" and of.unless is None)
    return min((most for most in allowed if most is not None), default=0)


def _shut_by_taps(tube: Tube, s: TubeState, entry: Entry) -> frozenset[str]:
    """A tap that is off to the patient shuts its port; one that is open leaves it shut where there is a clamp."""
    ports = frozenset(tube.meant(entry.site))
    if entry.value != "open":
        return s.clamped | ports
    held = frozenset(port for port in ports if (on := s.latest.get(("clamp", port))) is not None and on.value == "on")
    return s.clamped - (ports - held)


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
