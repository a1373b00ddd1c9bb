"""The state of the tube after one more entry, written as transitions: a tube goes in or comes out, a balloon goes up or
down, a depth is read, a film or a mark no longer counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from log.basics.entry import Entry, Number
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.state.balloon import FLAT, Balloon, filled_after, up_by_pressure
from log.state.film import (
    EMPTY_SINCE,
    INSERTED_SINCE,
    MOVED_SINCE,
    OUT_SINCE,
    REQUESTS,
    SLIPPED,
    Anchor,
    film_after_depth,
    film_after_slip,
    film_after_word,
)
from log.state.preparation import prepared_after
from log.state.tube import TubeState, given_of


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
            if s.tube_in:
                filled = {site: up_by_pressure(one, entry) for site, one in filled.items()}
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
            return _filmed(s, str(entry.value))
        case _ if entry.number is not None:
            return _added(procedure, s, entry, entry.number)
        case _:
            return s


def _filmed(s: TubeState, word: str) -> TubeState:
    """The situation after a word on the film. One that confirms a tube which had moved since the last gives movement a
    new beginning: the mark that was read last."""
    film = film_after_word(s.film, word, s.depth)
    found_again = film.confirms and s.film is not None and s.film.void == MOVED_SINCE
    return replace(s, film=film, mark=s.depth if found_again and s.mark is not None else s.mark)


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


def _latest(tube: Tube, s: TubeState, entry: Entry) -> Mapping[tuple[str, str | None], Entry]:
    """With this entry last, for each balloon that it is about."""
    latest = dict(s.latest)
    for site in tube.meant(entry.site) or (None,):
        latest.pop((entry.kind, site), None)
        latest[entry.kind, site] = entry
    return latest
