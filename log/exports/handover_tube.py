"""How the tube lies, in the words of the hand-over: its times, balloons, traction and mark."""

from __future__ import annotations

from datetime import datetime

from log.definition.procedure import Procedure
from log.facts.line import Line
from log.state.episode import Episode
from log.state.tube import TubeState
from log.summaries.handover import BalloonNow, Handover, MarkNow
from log.words.totals import depth_in_words, filling, may_read
from log.words.wording import away, clock, figure, hours, newtons, shown


def tube_in_words(tube: Episode, now: datetime) -> str:
    """ "tube 2: in 14:05, out 16:30"."""
    went_in = f"in {clock(tube.inserted.said_at, now)}" if tube.inserted else "not in yet"
    came_out = f", out {clock(tube.removed.said_at, now)}" if tube.removed else ""
    return f"tube {tube.number}: {went_in}{came_out}"


def when(moment: datetime, now: datetime) -> str:
    """ "14:05 (1:20 ago)"."""
    return f"{clock(moment, now)} ({away(min(moment, now), now, ahead=False)})"


def balloon_in_words(one: BalloonNow, now: datetime) -> str:
    trouble = f"; {_failed(one.trouble, now)}" if one.trouble else ""
    if one.since is None:
        read = f"; but {shown(one.reading.entry)} at {when(one.reading.said_at, now)}" if one.reading else ""
        return f"not up{read}{trouble}"
    said = [f"UP {hours(now - one.since)} since {clock(one.since, now)}", filling(one.balloon)]
    if one.balloon.unmeasured and one.balloon.volume:
        said.append("and air of unknown volume")
    if one.put_in or one.taken_out:
        said.append(f"(in {figure(one.put_in)}, out {figure(one.taken_out)} mL{_not_the_sum(one)})")
    pressure = f"{shown(one.reading.entry)} at {when(one.reading.said_at, now)}" if one.reading else "no pressure read"
    pressure += f"; not confirmed: {doubt}" if (doubt := may_read(one.balloon)) else ""
    return f"{' '.join((said[0] + ';', *said[1:]))}; {pressure}{trouble}"


def _not_the_sum(one: BalloonNow) -> str:
    """Why what was put in and taken out does not come to what is in it."""
    known = bool(one.balloon.measured)
    return (
        " in all, emptied or restated in between" if known and one.put_in - one.taken_out != one.balloon.volume else ""
    )


def _failed(line: Line, now: datetime) -> str:
    return f"{(line.entry.detail or '').upper()}, said {when(line.said_at, now)}"


def traction_in_words(found: Handover) -> str:
    line = found.traction
    if line is None:
        return "off or not logged"
    entry = line.entry
    force = f", {newtons(entry.number)}" if entry.number is not None else ", mass not said"
    if entry.value == "fixed":
        force = ", no weight"
    since = f"; on since {clock(found.traction_since, found.now)}" if found.traction_since else ""
    kind = entry.detail or ("" if entry.value == "fixed" else "kind not said")
    pull = ", ".join(part for part in (shown(entry), kind) if part)
    return f"{pull}{force}, said {when(line.said_at, found.now)}{since}"


def mark_in_words(procedure: Procedure, found: Handover) -> str:
    mark, now = found.mark, found.now
    if mark is None:
        depth = f"; depth {_depth(found.depth)} at {when(found.depth.said_at, now)}" if found.depth else ""
        return f"not read under traction{depth}"
    first = f"{_depth(mark.first)} at {clock(mark.first.said_at, now)}"
    if mark.last.number == mark.first.number:
        return f"{first}, not read again since ({hours(now - mark.first.said_at)})"
    return f"{_depth(mark.last)} at {when(mark.last.said_at, now)}; {_moved(procedure, mark)} since {first}"


def may_lie(situation: TubeState) -> str:
    depths = " or ".join(depth_in_words(one) for one in situation.depth_may_be)
    return f"; not confirmed: {depths}?" if depths else ""


def _moved(procedure: Procedure, mark: MarkNow) -> str:
    moved = mark.moved_cm
    if moved is None:
        return "not comparable"
    bound = "".join(
        f" (limit {limit.bounds})" for _, limit, of in procedure.held if of.what == "moved" and of.unless is None
    )
    side = "in" if moved > 0 else "out"
    return f"{f'{figure(abs(moved))} cm further {side}' if moved else 'not moved'}{bound}"


def _depth(line: Line) -> str:
    return depth_in_words(line.entry)
