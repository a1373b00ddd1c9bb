"""Fluids out of the patient and products given, added up from the lines that stand: by port and over time, by product,
by fluid; drugs each with its time, never added up; and the vital signs. It says what the log holds and no more: what
was spilt, swallowed or not said is in no sum.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from log.basics.entry import Entry, Number
from log.definition.procedure import Procedure
from log.facts.line import Line
from log.state.tube import Given, Step, TubeState, given_of

LAST_HOUR = timedelta(hours=1)

THIN = timedelta(minutes=15)
"""A rate over less than this is not shown: one syringe more or less would make it anything. Our choice; no published
figure was found."""

STARTED, STOPPED = "infusion started", "infusion stopped"

WORST_IS_LOWEST = frozenset(
    {"blood pressure", "systolic pressure", "mean pressure", "oxygen saturation", "haemoglobin"}
)
"""Vital signs that are worse the lower they are in somebody who bleeds. Of a heart rate and of a respiratory rate both
the lowest and the highest may be, so both are shown."""


@dataclass(frozen=True, slots=True)
class Rate:
    """The output of a port over time."""

    per_hour: Number | None
    """mL/h net: out less lavage in. None where there is too little to work it out from."""
    over: timedelta
    """The time that the entries cover."""

    @property
    def why_none(self) -> str:
        """The reason why there is no rate."""
        return f"too thin for a rate: entries cover {int(self.over.total_seconds() // 60)} min"


@dataclass(frozen=True, slots=True)
class PortBalance:
    """One port of the tubes, in mL."""

    port: str
    """ "" is "port not said"."""
    sums: Mapping[str, Number]
    """By kind of entry: aspirate, lavage in, lavage back."""
    net: Number
    """Net volume that came out, mL."""
    last_hour: Rate
    since_first: Rate
    last_at: datetime
    """When anything was last said of it."""
    appearance: Line | None = None
    """The last word on what comes out of it."""


@dataclass(frozen=True, slots=True)
class GivenInAll:
    """A blood product or fluid."""

    kind: str
    name: str
    amount: Number
    unit: str
    times: int
    """The number of lines that it is the sum of."""
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
class Reading:
    """Something that is read again and again, a vital sign above all: the last reading, the first, and the extremes."""

    name: str
    first: Line
    last: Line
    lowest: Line
    highest: Line

    @property
    def worst(self) -> tuple[Line, ...]:
        """The readings that a reader looks for: the lowest, or the lowest and the highest."""
        return (self.lowest,) if self.name in WORST_IS_LOWEST else (self.lowest, self.highest)


def balances(procedure: Procedure, steps: Sequence[Step], now: datetime) -> tuple[PortBalance, ...]:
    """Each port that anything was said of, in the order in which it was first. `steps` are in the order of time."""
    kinds, put_in = procedure.kinds_added("by-port"), frozenset(procedure.kinds_of("in"))
    lines = [step.line for step in steps if step.entry.kind in kinds and step.entry.number is not None]
    looked = {line.entry.site or "": line for line in _of_kinds(steps, "appearance")}
    found = []
    for port in dict.fromkeys(map(_port, lines)):
        own = [line for line in lines if _port(line) == port]
        sums = {kind: _summed(own, kind) for kind in kinds}
        net = sum(-amount if kind in put_in else amount for kind, amount in sums.items())
        rates = (rate(own, put_in, now - LAST_HOUR, now), rate(own, put_in, None, now))
        found.append(PortBalance(port, sums, net, *rates, own[-1].said_at, looked.get(port)))
    return tuple(found)


def rate(lines: Sequence[Line], put_in: Set[str], since: datetime | None, now: datetime) -> Rate:
    """The net output of one port from a moment on, or from its first entry on, in mL/h, weighted by time. `put_in`:
    kinds of entry that say what went in.

    What is said to have come out came out since the entry before it, so it is spread evenly over that interval, and the
    part of the interval that lies in the time that is asked for counts. Lavage that went in within the interval is
    taken off. The first entry only begins the count: nobody knows since when that had gathered. After the last entry
    nothing is known, so that time does not count either.
    """
    weighted, covered = 0.0, timedelta()
    for (began, _), (ended, net) in pairwise(_outputs(lines, put_in, now)):
        within = ended - max(began, since or began)
        if within > timedelta():
            weighted += net * (within / (ended - began))
            covered += within
    return Rate(round(weighted / (covered / LAST_HOUR)) if covered >= THIN else None, covered)


def _outputs(lines: Sequence[Line], put_in: Set[str], now: datetime) -> list[tuple[datetime, Number]]:
    """Each moment at which something came out, with what came out then less the lavage that went in since the last."""
    found: list[tuple[datetime, Number]] = []
    gone_in: Number = 0
    for line in lines:
        if line.said_at > now:
            break
        amount = line.entry.number or 0
        if line.entry.kind in put_in:
            gone_in += amount
        elif found and found[-1][0] == line.said_at:
            found[-1], gone_in = (line.said_at, found[-1][1] + amount - gone_in), 0
        else:
            found.append((line.said_at, amount - gone_in))
            gone_in = 0
    return found


def given(procedure: Procedure, steps: Sequence[Step], end: TubeState) -> tuple[GivenInAll, ...]:
    """Totals given, kind by kind ("blood_product", then "fluid"), by name and unit. `end`: after the last
    step."""
    found = []
    for kind in procedure.kinds_added("by-name"):
        lines: dict[Given, list[Line]] = {}
        for line in _of_kinds(steps, kind):
            if line.entry.number is not None:
                lines.setdefault(given_of(line.entry), []).append(line)
        found += [GivenInAll(kind, what[1], end.given[what], what[2], len(of), of[-1]) for what, of in lines.items()]
    return tuple(found)


def doses(steps: Sequence[Step]) -> tuple[Line, ...]:
    """The drugs that were given at a moment, each as it was said."""
    return tuple(line for line in _of_kinds(steps, "drug") if line.entry.value not in (STARTED, STOPPED))


def infusions(steps: Sequence[Step]) -> tuple[Infusion, ...]:
    """The drugs that ran in or still do, in the order in which they began. A start that is said again while it runs is
    the same infusion."""
    found: list[Infusion] = []
    running: dict[str, int] = {}
    for line in _of_kinds(steps, "drug"):
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


def vitals(procedure: Procedure, steps: Sequence[Step]) -> tuple[Reading, ...]:
    """Each vital sign that was read, in the order in which it was first."""
    return _readings(_of_kinds(steps, *procedure.kinds_of("vital")), lambda entry: entry.detail or "")


def readings(procedure: Procedure, steps: Sequence[Step]) -> tuple[Reading, ...]:
    """Whatever else is read again and has no place of its own, in the order in which it was first."""
    return _readings(
        _of_kinds(steps, *_without_a_place(procedure)),
        lambda e: " ".join(part for part in (e.site, procedure.title_of(e.kind).lower(), e.detail) if part),
    )


def kinds_read(procedure: Procedure) -> frozenset[str]:
    """Every kind of entry that any of these sums reads; the steps of others may be left out."""
    added = (*procedure.kinds_added("by-port"), *procedure.kinds_added("by-name"))
    return frozenset((*added, "appearance", "drug", *procedure.kinds_of("vital"), *_without_a_place(procedure)))


def _without_a_place(procedure: Procedure) -> list[str]:
    shown_there = procedure.kinds_of("kit", "test", "placing", "air", "pressure", "vital")
    return [kind for kind in procedure.read_again if kind not in shown_there]


def _readings(lines: Iterable[Line], name: Callable[[Entry], str]) -> tuple[Reading, ...]:
    found: dict[str, list[Line]] = {}
    for line in lines:
        if line.entry.number is not None:
            found.setdefault(name(line.entry), []).append(line)
    return tuple(
        Reading(name, lines[0], lines[-1], min(lines, key=_number), max(lines, key=_number))
        for name, lines in found.items()
    )


def _of_kinds(steps: Sequence[Step], *kinds: str) -> Iterator[Line]:
    return (step.line for step in steps if step.entry.kind in kinds)


def _port(line: Line) -> str:
    return line.entry.site or ""


def _summed(lines: Sequence[Line], kind: str) -> Number:
    return sum(line.entry.number or 0 for line in lines if line.entry.kind == kind)


def _number(line: Line) -> Number:
    return line.entry.number or 0
