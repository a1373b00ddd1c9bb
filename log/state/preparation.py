"""Kit, tests and position as logged: leak tests with how long they were held, pressures read outside the patient, the
companion tube, scissors, and what the position checks say.

Corrections change the past, so this too always follows from the lines that stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from types import MappingProxyType

from log.basics.entry import Entry, Number
from log.definition.protocol import Tube


@dataclass(frozen=True, slots=True)
class LeakTest:
    """The last leak test of one balloon, outside the patient."""

    result: str
    """ "started", "passed" or "failed"."""
    volume: Number | None = None
    """Millilitres that it was held with; None if nobody said."""
    started: datetime | None = None
    ended: datetime | None = None
    air_left: bool = False
    """Whether the air of the test is still in it, according to the log."""

    @property
    def held(self) -> timedelta | None:
        """From its start to its result; None if the log does not have both."""
        return self.ended - self.started if self.started is not None and self.ended is not None else None


@dataclass(frozen=True, slots=True)
class Companion:
    """The tube beside the tube."""

    marked: frozenset[str] = frozenset()
    """Balloons above which it has been marked."""
    at: str | None = None
    """The mark at which it lies: that of this balloon."""


Pressures = Mapping[Number, Number]
"""mL -> mmHg, as read outside the patient; the last reading at a volume counts."""

NO_TESTS: Mapping[str, LeakTest] = MappingProxyType({})
NO_TABLES: Mapping[str, Pressures] = MappingProxyType({})
NO_KIT: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Prepared:
    """Kit, tests and position checks."""

    leak_tests: Mapping[str, LeakTest] = field(default_factory=lambda: NO_TESTS)
    """By balloon."""
    outside: Mapping[str, Pressures] = field(default_factory=lambda: NO_TABLES)
    """By balloon: the pressures before insertion."""
    kit: Mapping[str, str] = field(default_factory=lambda: NO_KIT)
    """Item -> "ready" or "missing", the last word on each."""
    scissors: str | None = None
    """Where they are, or "missing"; None while nobody said."""
    companion: Companion = Companion()
    checks: tuple[tuple[str, str], ...] = ()
    """(how it was looked, "passed" or "failed"), each once, the last said last."""

    @property
    def missing(self) -> tuple[str, ...]:
        """Items of the kit that are missing."""
        return tuple(item for item, state in self.kit.items() if state == "missing")


UNPREPARED = Prepared()


def prepared_after(tube: Tube, p: Prepared, entry: Entry, at: datetime, tube_in: bool) -> Prepared:
    """The state after one more entry, said at this time; the same object if it is about something else."""
    match entry.kind:
        case "leak_test":
            tests = {site: _tested(p.leak_tests.get(site), entry, at) for site in tube.meant(entry.site)}
            return replace(p, leak_tests={**p.leak_tests, **tests})
        case "balloon" | "volume_out" | "volume_total" if entry.value != "up":
            emptied = {
                site: replace(test, air_left=False)
                for site in tube.meant(entry.site)
                if (test := p.leak_tests.get(site)) is not None and test.air_left
            }
            return replace(p, leak_tests={**p.leak_tests, **emptied}) if emptied else p
        case "manometry" if not tube_in and entry.number is not None and entry.second is not None:
            read = {site: {**p.outside.get(site, {}), entry.second: entry.number} for site in tube.meant(entry.site)}
            return replace(p, outside={**p.outside, **read})
        case "kit" if entry.value == "complete":
            return replace(p, kit=dict.fromkeys(p.kit, "ready"))
        case "kit" if entry.detail is not None:
            return replace(p, kit={**p.kit, entry.detail: str(entry.value)})
        case "emergency" if entry.value == "cut":  # whoever cut has them now
            return replace(p, scissors=None)
        case "scissors":
            return replace(p, scissors=str(entry.value))
        case "companion":
            return replace(p, companion=_companion(tube, p.companion, entry))
        case "position_check":
            how = entry.detail or ""
            others = tuple(check for check in p.checks if check[0] != how)
            return replace(p, checks=(*others, (how, str(entry.value))))
        case "tube" if entry.value in ("in", "out"):
            return replace(p, checks=(), companion=replace(p.companion, at=None))
        case _:
            return p


def _tested(test: LeakTest | None, entry: Entry, at: datetime) -> LeakTest:
    if entry.value == "started":
        return LeakTest("started", entry.second, started=at, air_left=True)
    running = test if test is not None and test.result == "started" else LeakTest("started")
    volume = entry.second if entry.second is not None else running.volume
    return replace(running, result=str(entry.value), volume=volume, ended=at)


def _companion(tube: Tube, companion: Companion, entry: Entry) -> Companion:
    if entry.value == "marked":
        return replace(companion, marked=companion.marked.union(tube.meant(entry.site)))
    return replace(companion, at=entry.site) if entry.value == "at mark" else companion
