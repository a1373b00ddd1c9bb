"""The watch as one screen of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from datetime import datetime

from log.basics.patterns import Level
from log.definition.procedure import Procedure
from log.exports.handover_night import bundle_in_short
from log.summaries.night import Night
from log.watch.due import BalloonHours, Watch
from log.watch.item import Item
from log.watch.leak import Trend
from log.watch.step_down import Progress
from log.words.totals import volumes_in_words
from log.words.wording import SIGNS, WHEN, away, clock, figure, hours
from tui.views.one_screen import in_short

WIDTH = 80
LEAD = 13
"""Columns of the word that a line begins with."""


def page(
    procedure: Procedure, name: str, found: Watch, standing: Mapping[Level, int], beside: Night | None = None
) -> Iterator[str]:
    """The screen, line by line. `standing`: how many findings of which priority stand. `beside`: the bundle of the
    night."""
    yield from _wrapped("", f"{name} at {found.now.isoformat(sep=' ', timespec='minutes')}, according to the log")
    if not found.placed:
        yield from _wrapped("", "According to the log, no tube is in: there is nothing to watch.")
    for item in found.items:
        yield from _item(item, found.now)
    if found.placed:
        for lead, text in state(found):
            yield from _line(lead, text)
        if beside is not None:
            yield from _line("bundle", bundle_in_short(beside, found.now))
        if standing:
            counts = ", ".join(f"{number} {level}" for level, number in standing.items())
            yield from _line("findings", f"{counts} stand: tamponade show {name}")
    yield from _wrapped("! ", in_short(procedure.cautions))


def _item(item: Item, now: datetime) -> Iterator[str]:
    sign, far = SIGNS[item.level], away(item.due_at, now, ahead=item.when == "next")
    lead = f"{WHEN[item.when]:<8}{far:>9} {clock(item.due_at, now):>11} {sign:<3} "
    yield from _wrapped(lead, item.title)


def state(found: Watch) -> Iterator[tuple[str, str]]:
    """Hours up of each balloon, the step-down, leaks and remarks: what it is about, and how it stands."""
    for balloon in found.balloons:
        yield balloon.site, _balloon(balloon, found.now)
    if found.step_down is not None and found.step_down.state != "not up":
        yield "step-down", _step_down(found.step_down, found.now)
    for one in trends(found):
        yield "leak", _trend(one, found.now)
    for remark in found.remarks:
        yield "note", remark


def trends(found: Watch) -> Iterator[Trend]:
    """Those that are shown: of a balloon that was read, or is held by its pressure."""
    return (one for one in found.trends if one.readings or one.held)


def _balloon(balloon: BalloonHours, now: datetime) -> str:
    if balloon.since is None:
        return "not up"
    volume = volumes_in_words(balloon.may_hold or (balloon.volume,), up=True).removeprefix("up, ")
    pressure = f"last {figure(balloon.pressure)} mmHg" if balloon.pressure is not None else "no pressure"
    again = f", {hours(balloon.in_all)} in all" if balloon.in_all > now - balloon.since else ""
    return f"up {hours(now - balloon.since)} since {clock(balloon.since, now)}{again}; {volume}; {pressure}"


def _step_down(progress: Progress, now: datetime) -> str:
    if progress.since is None:
        return f"not begun: {progress.state}"
    done = [f"{figure(one.mmhg)} at {clock(one.at, now)}{' (early)' if one.early else ''}" for one in progress.done]
    coming = [f"{figure(one.mmhg)} at {clock(one.due_at, now)}" for one in progress.coming]
    parts = [
        f"from {figure(progress.start_mmhg or 0)} mmHg at {clock(progress.since, now)}",
        f"done {', '.join(done)}" if done else "",
        f"to come {', '.join(coming)}" if coming else "nothing to come",
    ]
    return "; ".join(part for part in parts if part)


def _trend(trend: Trend, now: datetime) -> str:
    row = [trend.site]
    if trend.slope is not None:
        one = trend.slope
        row.append(f"{one.per_hour:+.1f} mmHg/h ({one.low:+.1f} to {one.high:+.1f}; {len(trend.readings)} readings)")
    if trend.doubt:
        row.append(trend.doubt)
    if trend.leaving is not None:
        leaving = trend.leaving
        side = "below" if leaving.side == "low" else "above"
        at, earliest, latest = (clock(t, now) for t in (leaving.at, leaving.earliest, leaving.latest))
        row.append(f"{side} {leaving.bound:g} mmHg about {at} ({earliest} to {latest}) if it goes on")
    return f"{row[0]} {'; '.join(row[1:])}"


def _line(lead: str, text: str) -> list[str]:
    return _wrapped(f"{lead:<{LEAD}}", text)


def _wrapped(lead: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)) or [lead]
