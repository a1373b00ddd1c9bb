"""Letting the oesophageal pressure down once bleeding is controlled: which step is due when, and which were done.

The definition gives size, interval and floor. The clock of the next step starts with the step before it, so that a step
that came late is not followed too soon; air put in, a pressure back at the step before, or bleeding begins it anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from log.basics.ahead import later
from log.basics.entry import Number
from log.definition.watch_plan import StepDown
from log.rules import means
from log.state.tube import Step as Line

MOST = 100
"""Steps; more come only of a pressure that no manometer reads."""

State = Literal["not up", "bleeding not controlled", "no reading", "running", "finished"]


@dataclass(frozen=True, slots=True)
class Target:
    """A step and when it is due."""

    mmhg: float
    due_at: datetime


@dataclass(frozen=True, slots=True)
class Done:
    """A step that a reading shows."""

    mmhg: float
    due_at: datetime
    at: datetime

    @property
    def early(self) -> bool:
        """Whether the pressure was there before the definition would have it."""
        return self.at < self.due_at


@dataclass(frozen=True, slots=True)
class Progress:
    """Progress of the step-down of the pressure."""

    state: State
    since: datetime | None = None
    """When the schedule began."""
    start_mmhg: Number | None = None
    done: tuple[Done, ...] = ()
    coming: tuple[Target, ...] = ()


def schedule(rule: StepDown, start_mmhg: Number, since: datetime) -> tuple[Target, ...]:
    """The steps from a pressure down to the floor, the last one smaller if it has to be; none at or below the floor."""
    found: list[Target] = []
    level, due_at = float(start_mmhg), since
    while level > rule.down_to_mmhg and len(found) < MOST:
        level = max(level - rule.step_mmhg, rule.down_to_mmhg)
        due_at = later(due_at, rule.every_h)
        found.append(Target(level, due_at))
    return tuple(found)


def progress(rule: StepDown, site: str | None, lines: Iterable[Line]) -> Progress:
    """Its progress by these lines, in the order in which things happened. `site`: the balloon that is held by
    its pressure, that in the oesophagus."""
    now = Progress("not up")
    last: Number | None = None
    controlled = False
    for line in lines:
        entry, at = line.entry, line.line.said_at
        balloon = line.after.balloon(site)
        if means(rule.bleeding, line):
            controlled = False
        elif means(rule.controlled, line):
            controlled = True
        if not balloon.up:
            last = None
            now = Progress("not up")
            continue
        own = entry.site in (site, "both")
        reading = entry.number if own and entry.kind == "pressure" else None
        filled = own and entry.kind in ("volume_in", "volume_total", "balloon") and _more(line, site)
        last = reading if reading is not None else (None if filled else last)
        if not controlled:
            now = Progress("bleeding not controlled")
        elif last is None:
            now = Progress("no reading")
        elif now.state not in ("running", "finished"):
            now = _begun(rule, last, at)
        elif reading is not None:
            now = _read(rule, now, reading, at)
    return now


def _more(line: Line, site: str | None) -> bool:
    before, after = line.before.balloon(site), line.after.balloon(site)
    return after.most > before.most or (after.up and not before.up)


def _begun(rule: StepDown, start: Number, at: datetime) -> Progress:
    coming = schedule(rule, start, at)
    return Progress("running" if coming else "finished", at, start, (), coming)


def _read(rule: StepDown, now: Progress, reading: Number, at: datetime) -> Progress:
    """After one more reading: the steps that it shows as done, and the others counted from it."""
    level = now.done[-1].mmhg if now.done else float(now.start_mmhg or 0)
    if reading > rule.down_to_mmhg and reading >= level + rule.step_mmhg:
        return _begun(rule, reading, at)
    done = tuple(Done(step.mmhg, step.due_at, at) for step in now.coming if reading <= step.mmhg)
    if not done:
        return now
    left = now.coming[len(done) :]
    coming = tuple(Target(step.mmhg, later(at, number * rule.every_h)) for number, step in enumerate(left, start=1))
    state: State = "running" if coming else "finished"
    return Progress(state, now.since, now.start_mmhg, (*now.done, *done), coming)
