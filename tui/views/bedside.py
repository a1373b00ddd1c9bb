"""What the room has to see at a glance, in words: the last entry large, the balloons with their limits, tube, mark and
traction, what is due, what is open. Pure: screens and pages only lay it out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from log.basics.entry import Entry, InDoubt, in_doubt
from log.definition.procedure import LEVELS, Clock, Level, Limit, Procedure
from log.facts.line import Line
from log.facts.record import Record
from log.rules import RunningClock
from log.rules.course import Course
from log.state.tube import Situation
from log.words.totals import filling, led_to
from log.words.wording import SIGNS, elapsed, figure, named_amount, newtons, shown
from tui.views.beside import note_told, sums
from voice.english.numbers import UNITS, spell_digits

Standing = Literal["STANDS", "ASKED", "STRUCK", "AMENDED", "ANSWERED"]


@dataclass(frozen=True, slots=True)
class LastEntry:
    """The newest line, to be read back."""

    number: int
    what: str
    """ "gastric · volume in"."""
    value: str
    """ "50 mL", "90/60 mmHg", "fentanyl · 50 microgram", or the word."""
    large: str
    """The figures alone, "50" or "90/60", or "" where the value is a word."""
    unit: str
    """What stands beside the figures: "mL", "mmHg at 100 mL"."""
    digits: str
    """ "five-zero", "nine-zero over six-zero"."""
    total: str
    standing: Standing
    answers: tuple[str, ...] = ()
    """What can be said to an open question, each with what it would mean."""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BalloonAtAGlance:
    """One balloon."""

    site: str
    volume: str
    volume_range: str
    pressure: str
    pressure_range: str
    doubt: str
    """ "ABOVE", "BELOW" or ""."""


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
    """What comes next by the protocol."""

    what: str
    """ "" when nothing is left."""
    say: str
    passed_over: tuple[str, ...]
    """Not in the log, though something after it is."""

    @property
    def lines(self) -> tuple[str, ...]:
        """The same in words."""
        coming = f'next: {self.what}; say: "{self.say}"' if self.what else "next: nothing more by the protocol"
        return (coming, f"passed over: {', '.join(self.passed_over)}") if self.passed_over else (coming,)


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
    cautions: tuple[str, ...]
    next: NextAtAGlance | None
    """None if the definition names no steps."""
    sums: tuple[tuple[str, str], ...]
    """What came out by port, what was given, what runs in, and the last vital signs; only what is in the log."""
    note: str
    """Of a spoken note: that one is being taken, that it has ended, or how many wait to be written out; else ""."""


def bedside(course: Course, record: Record, now: datetime, hearing: bool = False) -> Bedside:
    """How things stand at this moment. `course` is that of `record`; `hearing`: somebody is speaking."""
    procedure, situation = course.procedure, course.end.situation
    return Bedside(
        last_entry(course, record),
        tuple(_balloons(procedure, situation)),
        tuple(_tube(situation)),
        tuple(_clock(procedure, running, now) for running in course.end.clocks.values()),
        tuple(_findings(record)),
        tuple(line.number for line in record.lines if line.status == "asked"),
        _gaps(record),
        procedure.cautions,
        next_step(course),
        tuple(sums(course, now)),
        note_told(record, now, hearing),
    )


def next_step(course: Course) -> NextAtAGlance | None:
    """What comes next by the protocol; None if the definition names no steps."""
    if not course.procedure.milestone:
        return None
    coming = course.next
    passed_over = tuple(milestone.title for milestone in coming.passed_over)
    if coming.milestone is None:
        return NextAtAGlance("", "", passed_over)
    return NextAtAGlance(coming.milestone.title, coming.milestone.say, passed_over)


def answer_to(kind: str, now: Bedside) -> list[str]:
    """What somebody asked of the log itself, in lines: "how long" the clocks run, what comes "next", or the "status"."""
    if kind == "next":
        return list(now.next.lines) if now.next else ["the definition names no steps"]
    if kind == "how_long":
        return [f"{clock.title}: {clock.elapsed} {clock.due}".rstrip() for clock in now.clocks] or [
            "no clock is running"
        ]
    balloons = [f"{b.site}: {b.volume}, {b.pressure} {b.doubt}".rstrip() for b in now.balloons]
    pairs = (f"{what}: {how}" for what, how in (*now.tube, *now.sums))
    return [*balloons, *pairs, *(now.next.lines if now.next else ())]


def last_entry(course: Course, record: Record, number: int | None = None) -> LastEntry | None:
    """The line of this number, or the one that was touched last, as it is read back."""
    if not record.lines:
        return None
    line = record.line(number) if number is not None else record.open_question or record.lines[-1]
    entry = line.entry
    step = course.stage(line).step if line.status == "stands" else None
    return LastEntry(
        line.number,
        " · ".join(part for part in (entry.site, course.procedure.title_of(entry.kind).lower(), entry.detail) if part),
        named_amount(entry).replace("_", " "),
        _large(entry),
        _beside(entry),
        digits(entry),
        led_to(step) if step else "",
        _standing(line),
        tuple(answers(line)) if line.status == "asked" else (),
        line.reason if line.status == "asked" else "",
    )


def is_pair(entry: Entry) -> bool:
    """Whether its two numbers are of one kind, as in a blood pressure of 90/60."""
    return entry.number is not None and entry.second is not None and entry.unit == entry.second_unit


def _large(entry: Entry) -> str:
    if entry.number is None:
        return ""
    return f"{figure(entry.number)}/{figure(entry.second or 0)}" if is_pair(entry) else figure(entry.number)


def _beside(entry: Entry) -> str:
    return entry.unit or "" if is_pair(entry) else shown(entry.model_copy(update={"value": None}))


def digits(entry: Entry) -> str:
    """The digits of its numbers, one by one: "nine-zero over six-zero", "one-two at one-zero-zero"."""
    spelt = [spell_digits(number) for number in (entry.number, entry.second) if number is not None]
    return (" over " if is_pair(entry) else " at ").join(spelt)


def answers(line: Line) -> Iterator[str]:
    """What can be said to an open question: the digits are those of the number that is in doubt."""
    first, *others = line.candidates
    if first.number is None and first.second is None:
        yield '"confirm", or "scratch that"'
        return
    yield f'"confirm" for {shown(first)}'
    doubtful = in_doubt(line.candidates)
    if doubtful == "both":
        yield "or say it again, every digit by itself"
        return
    for other in others:
        yield f'"{said_digits(other, doubtful)}" for {shown(other)}'
    if not others:
        yield "or the right digits"


def said_digits(entry: Entry, which: InDoubt = "value") -> str:
    """A number as it can be answered: parts of a kilo are said in grams."""
    number = (entry.second if which == "second" else entry.number) or 0
    if which == "value" and entry.unit == "kg" and number % 0.5:
        number = round(number * 1000)
    return " ".join(UNITS[int(sign)] if sign.isdigit() else "point" for sign in f"{number:g}")


def _standing(line: Line) -> Standing:
    if line.status != "stands":
        return "ASKED" if line.status == "asked" else "STRUCK"
    if line.changes:
        return "AMENDED" if line.changes[-1].what == "amended" else "ANSWERED"
    return "STANDS"


def _balloons(procedure: Procedure, situation: Situation) -> Iterator[BalloonAtAGlance]:
    for site in procedure.tube.balloons:
        balloon = situation.balloon(site)
        volume, pressure = procedure.limits.get(f"{site}_volume"), procedure.limits.get(f"{site}_pressure")
        if site == "gastric" and situation.xray != "confirmed":
            volume = procedure.limits.get("first_gastric_volume", volume)
        sides = [
            limit.broken_by(value)
            for limit, value in ((volume, balloon.volume), (pressure, balloon.pressure))
            if limit is not None and value is not None and balloon.up
        ]
        yield BalloonAtAGlance(
            site,
            filling(balloon),
            _range(volume),
            f"{figure(balloon.pressure)} mmHg" if balloon.pressure is not None else "no reading",
            _range(pressure),
            next((side.upper() for side in sides if side), ""),
        )


def _range(limit: Limit | None) -> str:
    return limit.bounds if limit is not None else ""


def _tube(situation: Situation) -> Iterator[tuple[str, str]]:
    yield "tube", "in" if situation.tube_in else "not in"
    yield "depth", _depth(situation.depth)
    yield "mark", _depth(situation.mark) + _drift(situation)
    yield "traction", _pull(situation.traction)
    yield "X-ray", (situation.xray or "not logged").replace("_", " ")
    position = situation.latest.get(("position_check", None))
    yield "position", str(position.value).replace("_", " ") if position else "not checked"


def _depth(entry: Entry | None) -> str:
    return "not logged" if entry is None else shown(entry) + (f" at the {entry.site}" if entry.site else "")


def _drift(situation: Situation) -> str:
    depth, mark = situation.depth, situation.mark
    if depth is None or mark is None or depth.number is None or mark.number is None or depth is mark:
        return ""
    moved = depth.number - mark.number
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
    return RunningAtAGlance(running.title, elapsed(running.since, now), due, overdue)


def _moments(clock: Clock, running: RunningClock, now: datetime) -> tuple[datetime | None, datetime | None]:
    """The last moment that is past, and the next."""
    moments = sorted(running.since + timedelta(hours=moment.after_h) for moment in clock.due)
    past = [moment for moment in moments if moment <= now]
    coming = [moment for moment in moments if moment > now]
    return past[-1] if past else None, coming[0] if coming else None


def _short(time: timedelta) -> str:
    minutes = int(time.total_seconds() // 60)
    return f"{minutes // 60}:{minutes % 60:02} h"


def _findings(record: Record) -> Iterator[FindingAtAGlance]:
    """The most urgent first; what somebody has acknowledged comes after everything else."""
    still_open = sorted(
        record.open_findings,
        key=lambda found: (record.acknowledged(found) is not None, LEVELS.index(found.level), found.number or 0),
    )
    for found in still_open:
        seen = record.acknowledged(found)
        by = f"seen by {seen.author}: {seen.reason}" if seen else ""
        yield FindingAtAGlance(SIGNS[found.level], found.level, found.message, found.number, by)


def _gaps(record: Record) -> str:
    if not record.gaps:
        return "none"
    seconds = sum(gap.seconds for gap in record.gaps)
    return f"{len(record.gaps)}, {seconds:.0f} s in all; last: {record.gaps[-1].reason}"
