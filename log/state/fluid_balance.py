"""What came out of the patient and what was given, added up from the lines that stand: by port and over time, by
product, by fluid; drugs each with its time, never added up; and the vital signs. It says what the log holds and no
more: what was spilt, swallowed or not said is in no sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from log.basics.entry import Number
from log.facts.line import Line
from log.state.tube import Given, Situation, Step, given_of

LAST_HOUR = timedelta(hours=1)

THIN = timedelta(minutes=15)
"""A rate over less than this is not told: one syringe more or less would make it anything. Our choice; no published
figure was found."""

STARTED, STOPPED = "infusion started", "infusion stopped"

OUT, IN = frozenset({"aspirate", "lavage_out"}), frozenset({"lavage_in"})
"""Kinds of entry that say what came out of a port and what went into it, in mL."""

WORST_IS_LOWEST = frozenset(
    {"blood pressure", "systolic pressure", "mean pressure", "oxygen saturation", "haemoglobin"}
)
"""Vital signs that are worse the lower they are in somebody who bleeds. Of a heart rate and of a respiratory rate both
the lowest and the highest may be, so both are told."""


@dataclass(frozen=True, slots=True)
class Rate:
    """How much came out of a port over time."""

    per_hour: Number | None
    """mL/h net: out less lavage in. None where there is too little to tell it from."""
    over: timedelta
    """The time that the entries cover."""

    @property
    def why_none(self) -> str:
        """What is missing for a rate."""
        return f"too thin for a rate: entries cover {int(self.over.total_seconds() // 60)} min"


@dataclass(frozen=True, slots=True)
class PortBalance:
    """One port of the tubes, in mL: net = aspirated + lavage_out - lavage_in."""

    port: str
    """ "" is "port not said"."""
    aspirated: Number
    lavage_in: Number
    lavage_out: Number
    last_hour: Rate
    since_first: Rate
    last_at: datetime
    """When anything was last said of it."""
    appearance: Line | None = None
    """The last word on what comes out of it."""

    @property
    def net(self) -> Number:
        """What came out beyond what was put in."""
        return self.aspirated + self.lavage_out - self.lavage_in


@dataclass(frozen=True, slots=True)
class GivenInAll:
    """A blood product or fluid."""

    kind: str
    name: str
    amount: Number
    unit: str
    times: int
    """How many lines it is the sum of."""
    last: Line


@dataclass(frozen=True, slots=True)
class Infusion:
    """A drug that runs in, from one word to the other."""

    name: str
    started: Line | None
    """None where only its end is in the log."""
    stopped: Line | None
    """None while it runs."""


@dataclass(frozen=True, slots=True)
class Vital:
    """One vital sign: the last reading, the first, and the extremes."""

    name: str
    first: Line
    last: Line
    lowest: Line
    highest: Line

    @property
    def worst(self) -> tuple[Line, ...]:
        """The readings that a reader looks for: the lowest, or the lowest and the highest."""
        return (self.lowest,) if self.name in WORST_IS_LOWEST else (self.lowest, self.highest)


def balances(steps: Sequence[Step], now: datetime) -> tuple[PortBalance, ...]:
    """Each port that anything was said of, in the order in which it was first. `steps` are in the order of time."""
    lines = [step.line for step in steps if step.entry.kind in OUT | IN and step.entry.number is not None]
    looked = {line.entry.site or "": line for line in _of_kind(steps, "appearance")}
    return tuple(_balance(port, _at(lines, port), looked.get(port), now) for port in dict.fromkeys(map(_port, lines)))


def _balance(port: str, lines: Sequence[Line], appearance: Line | None, now: datetime) -> PortBalance:
    return PortBalance(
        port,
        _summed(lines, "aspirate"),
        _summed(lines, "lavage_in"),
        _summed(lines, "lavage_out"),
        rate(lines, now - LAST_HOUR, now),
        rate(lines, None, now),
        lines[-1].said_at,
        appearance,
    )


def rate(lines: Sequence[Line], since: datetime | None, now: datetime) -> Rate:
    """The net output of one port from a moment on, or from its first entry on, in mL/h, weighted by time.

    What is said to have come out came out since the entry before it, so it is spread evenly over that interval, and the
    part of the interval that lies in the time that is asked for counts. Lavage that went in within the interval is
    taken off. The first entry only begins the count: nobody knows since when that had gathered. After the last entry
    nothing is known, so that time does not count either.
    """
    weighted, covered = 0.0, timedelta()
    for (began, _), (ended, net) in pairwise(_outputs(lines, now)):
        within = ended - max(began, since or began)
        if within > timedelta():
            weighted += net * (within / (ended - began))
            covered += within
    return Rate(round(weighted / (covered / LAST_HOUR)) if covered >= THIN else None, covered)


def _outputs(lines: Sequence[Line], now: datetime) -> list[tuple[datetime, Number]]:
    """Each moment at which something came out, with what came out then less the lavage that went in since the last."""
    found: list[tuple[datetime, Number]] = []
    put_in: Number = 0
    for line in lines:
        if line.said_at > now:
            break
        amount = line.entry.number or 0
        if line.entry.kind in IN:
            put_in += amount
        elif found and found[-1][0] == line.said_at:
            found[-1], put_in = (line.said_at, found[-1][1] + amount - put_in), 0
        else:
            found.append((line.said_at, amount - put_in))
            put_in = 0
    return found


def given(steps: Sequence[Step], end: Situation, kind: str) -> tuple[GivenInAll, ...]:
    """What was given of a kind ("blood_product", "fluid") in all, by name and unit. `end`: after the last step."""
    lines: dict[Given, list[Line]] = {}
    for line in _of_kind(steps, kind):
        if line.entry.number is not None:
            lines.setdefault(given_of(line.entry), []).append(line)
    return tuple(GivenInAll(kind, what[1], end.given[what], what[2], len(of), of[-1]) for what, of in lines.items())


def doses(steps: Sequence[Step]) -> tuple[Line, ...]:
    """The drugs that were given at a moment, each as it was said."""
    return tuple(line for line in _of_kind(steps, "drug") if line.entry.value not in (STARTED, STOPPED))


def infusions(steps: Sequence[Step]) -> tuple[Infusion, ...]:
    """The drugs that ran in or still do, in the order in which they began. A start that is said again while it runs is
    the same infusion."""
    found: list[Infusion] = []
    running: dict[str, int] = {}
    for line in _of_kind(steps, "drug"):
        name = line.entry.detail or ""
        if line.entry.value == STARTED and name not in running:
            running[name] = len(found)
            found.append(Infusion(name, line, None))
        elif line.entry.value == STOPPED:
            place = running.pop(name, None)
            if place is None:
                found.append(Infusion(name, None, line))
            else:
                found[place] = Infusion(name, found[place].started, line)
    return tuple(found)


def vitals(steps: Sequence[Step]) -> tuple[Vital, ...]:
    """Each vital sign that was read, in the order in which it was first."""
    readings: dict[str, list[Line]] = {}
    for line in _of_kind(steps, "vital"):
        if line.entry.number is not None:
            readings.setdefault(line.entry.detail or "", []).append(line)
    return tuple(
        Vital(name, lines[0], lines[-1], min(lines, key=_reading), max(lines, key=_reading))
        for name, lines in readings.items()
    )


def _of_kind(steps: Sequence[Step], kind: str) -> Iterator[Line]:
    return (step.line for step in steps if step.entry.kind == kind)


def _port(line: Line) -> str:
    return line.entry.site or ""


def _at(lines: Sequence[Line], port: str) -> list[Line]:
    return [line for line in lines if _port(line) == port]


def _summed(lines: Sequence[Line], kind: str) -> Number:
    return sum(line.entry.number or 0 for line in lines if line.entry.kind == kind)


def _reading(line: Line) -> Number:
    return line.entry.number or 0
