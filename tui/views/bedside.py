"""The bedside at a glance, in words: the last entry large, the balloons with their limits, tube, mark and traction,
what is due, what is open. Pure: screens and pages only lay it out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.basics.entry import Entry
from log.basics.patterns import LEVELS, Level
from log.definition.procedure import Clock, Procedure
from log.facts.record import Record
from log.rules import RunningClock
from log.rules.course import Course
from log.rules.gauges import gauges
from log.state.film import moved_cm
from log.state.fluid_balance import Reading, balances, given, infusions, kinds_read, vitals
from log.state.tube import TubeState
from log.words.totals import amount, limits_in_words, output_in_words
from log.words.wording import SIGNS, elapsed, figure, newtons, shown, span
from tui.views.balloons import BalloonAtAGlance, balloons
from tui.views.last_entry import LastEntry, last_entry
from tui.views.spoken_notes import NotesAtAGlance, notes_at_a_glance
from tui.views.timers import Timer, timers


@dataclass(frozen=True, slots=True)
class RunningAtAGlance:
    """A clock that runs, and when something is due by it."""

    title: str
    elapsed: str
    due: str
    overdue: bool


@dataclass(frozen=True, slots=True)
class FindingAtAGlance:
    """A finding that is open: sign and words, never colour alone."""

    sign: str
    level: Level
    message: str
    line: int | None
    acknowledged: str = ""
    """By whom and why, if somebody has seen it: it is still open."""


@dataclass(frozen=True, slots=True)
class NextAtAGlance:
    """The next step of the protocol."""

    what: str
    """ "" when nothing is left."""
    say: str
    passed_over: tuple[str, ...]
    """Not in the log, though something after it is."""

    @property
    def lines(self) -> tuple[str, ...]:
        """The same in words."""
        coming = f'next: {self.what}; say: "{self.say}"' if self.what else "next: nothing more by the protocol"
        return (coming, f"not logged: {', '.join(self.passed_over)}") if self.passed_over else (coming,)


@dataclass(frozen=True, slots=True)
class Bedside:
    """All of it."""

    last: LastEntry | None
    balloons: tuple[BalloonAtAGlance, ...]
    tube: tuple[tuple[str, str], ...]
    """Depth, mark with drift, traction, X-ray, position check: what, and how it stands."""
    clocks: tuple[RunningAtAGlance, ...]
    findings: tuple[FindingAtAGlance, ...]
    not_confirmed: tuple[int, ...]
    gaps: str
    back_in_range: tuple[str, ...]
    """Findings that a later reading has ended, the newest first: what, and on which line."""
    cautions: tuple[str, ...]
    next: NextAtAGlance | None
    """None if the definition names no steps."""
    sums: tuple[tuple[str, str], ...]
    """Fluids out by port, products given, infusions, the last vital signs and other readings; only what is in
    the log."""
    notes: NotesAtAGlance | None
    """That a spoken note is being taken, that it has ended, or how many wait to be transcribed; else None."""


def bedside(course: Course, record: Record, now: datetime, hearing: bool = False) -> Bedside:
    """How things stand at this moment. `course` is that of `record`; `hearing`: somebody is speaking."""
    procedure, situation = course.procedure, course.end.situation
    return Bedside(
        last_entry(course, record),
        tuple(balloons(course)),
        tuple(_tube(situation)),
        (
            *(_timer(timer, now) for timer in timers(record, now)),
            *(_clock(procedure, running, now) for running in course.end.running),
        ),
        tuple(findings(record)),
        tuple(line.number for line in record.lines if line.status == "asked"),
        _gaps(record),
        tuple(_back_in_range(record)),
        procedure.cautions,
        next_step(course),
        tuple(sums(course, now)),
        notes_at_a_glance(record, now, hearing),
    )


def next_step(course: Course) -> NextAtAGlance | None:
    """The next step of the protocol; None if the definition names no steps."""
    if not course.procedure.milestone:
        return None
    coming = course.next
    passed_over = tuple(milestone.title for milestone in coming.passed_over)
    if coming.milestone is None:
        return NextAtAGlance("", "", passed_over)
    return NextAtAGlance(coming.milestone.title, coming.milestone.say, passed_over)


def answer_to(kind: str, now: Bedside) -> list[str]:
    """The answer to a question to the log, in lines: "how long" the clocks run, what is "next", or the "status"."""
    if kind == "next":
        return list(now.next.lines) if now.next else ["the definition names no steps"]
    if kind == "how_long":
        return [f"{clock.title}: {clock.elapsed} {clock.due}".rstrip() for clock in now.clocks] or [
            "no clock is running"
        ]
    balloons = [f"{b.site}: {b.volume}, {b.pressure} {b.doubt}".rstrip() for b in now.balloons]
    pairs = (f"{what}: {how}" for what, how in (*now.tube, *now.sums))
    return [*balloons, *pairs, *(now.next.lines if now.next else ())]


def _tube(situation: TubeState) -> Iterator[tuple[str, str]]:
    yield "tube", "in" if situation.tube_in else "not in"
    yield "depth", _depth(situation.depth)
    yield "mark", _depth(situation.mark) + _drift(situation)
    yield "traction", _pull(situation.traction)
    yield "X-ray", (situation.xray or "not logged").replace("_", " ")
    position = situation.latest.get(("position_check", None))
    yield "position", str(position.value).replace("_", " ") if position else "not checked"


def _depth(entry: Entry | None) -> str:
    return "not logged" if entry is None else shown(entry) + (f" at the {entry.site}" if entry.site else "")


def _drift(situation: TubeState) -> str:
    depth, mark = situation.depth, situation.mark
    if depth is None or mark is None or depth is mark:
        return ""
    moved = moved_cm(mark, depth)
    if moved is None:
        return ", not comparable"
    return f", moved {'in' if moved > 0 else 'out'} {figure(abs(moved))} cm" if moved else ", not moved"


def _pull(entry: Entry | None) -> str:
    if entry is None:
        return "off"
    if entry.number is None:
        return "on, mass not said"
    return f"{shown(entry)}, {newtons(entry.number)}"


def _clock(procedure: Procedure, running: RunningClock, now: datetime) -> RunningAtAGlance:
    clock = next(clock for clock in procedure.clock if clock.id == running.clock)
    past, coming = _moments(clock, running, now)
    if coming is not None and past is None:
        due, overdue = f"due in {_short(coming - now)}", False
    elif past is not None:
        due, overdue = f"DUE for {_short(now - past)}", True
    else:
        due, overdue = "", False
    return RunningAtAGlance(running.title, span(running.ran(now)), due, overdue)


def _timer(timer: Timer, now: datetime) -> RunningAtAGlance:
    over = timer.ends is not None and timer.ends <= now
    return RunningAtAGlance(timer.title, elapsed(timer.began, now), timer.told(now), over)


def _moments(clock: Clock, running: RunningClock, now: datetime) -> tuple[datetime | None, datetime | None]:
    """The last moment that is past, and the next."""
    moments = sorted(running.reaches(moment.after_h) for moment in clock.due)
    past = [moment for moment in moments if moment <= now]
    coming = [moment for moment in moments if moment > now]
    return past[-1] if past else None, coming[0] if coming else None


def _short(time: timedelta) -> str:
    minutes = int(time.total_seconds() // 60)
    return f"{minutes // 60}:{minutes % 60:02} h"


def findings(record: Record) -> Iterator[FindingAtAGlance]:
    """The most urgent first, the newest of these first; what somebody has acknowledged comes after everything else."""
    still_open = sorted(
        record.open_findings,
        key=lambda found: (record.acknowledged(found) is not None, LEVELS.index(found.level), -(found.number or 0)),
    )
    for found in still_open:
        seen = record.acknowledged(found)
        by = f"seen by {seen.author}: {seen.reason}" if seen else ""
        yield FindingAtAGlance(SIGNS[found.level], found.level, found.message, found.number, by)


def _back_in_range(record: Record) -> Iterator[str]:
    for found in reversed(record.findings):
        if found.settled is not None and found.settled.ended == "back in range":
            yield f"{found.raised.message.partition(' is ')[0]} (line {found.raised.number})"


def _gaps(record: Record) -> str:
    if not record.gaps:
        return "none"
    seconds = sum(gap.seconds for gap in record.gaps)
    return f"{len(record.gaps)}, {seconds:.0f} s in all; last: {record.gaps[-1].reason}"


def sums(course: Course, now: datetime) -> Iterator[tuple[str, str]]:
    """Fluids out by port, products given, infusions, the last vital signs and other readings with their limits:
    what, and how much."""
    procedure = course.procedure
    steps = course.steps_of(kinds_read(procedure))
    out = [f"{one.port or 'port not said'} {output_in_words(one)}" for one in balances(procedure, steps, now)]
    in_all = [f"{each.name} {amount(each.amount, each.unit)}" for each in given(procedure, steps, course.end.situation)]
    running = [infusion.name for infusion in infusions(steps) if infusion.stopped is None]
    read = [_read(sign) for sign in vitals(procedure, steps)]
    others = [f"{_read(one.reading)} {limits_in_words(one.held)}".rstrip() for one in gauges(procedure, steps)]
    found = (("out", out), ("given", in_all), ("running", running), ("vital signs", read), ("readings", others))
    for what, texts in found:
        if texts:
            yield what, ", ".join(texts) if what == "running" else "; ".join(texts)


def _read(reading: Reading) -> str:
    return f"{reading.name} {shown(reading.last.entry)} ({reading.last.said_at:%H:%M})"
