"""Control charts after Shewhart: is a period further from the others than they are from each other?

Limits lie three standard deviations from the centre. Both formulae and the worked examples in the tests:
[published] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals) and 6.3.3.2 (proportions).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, sqrt
from statistics import fmean

D2 = 1.128
"""Expected range of two values in standard deviations: [published] NIST/SEMATECH e-Handbook, 6.3.2.2."""
FEWEST = 20
"""Periods from which limits can be trusted; from fewer they are for trial alone. [common practice] 20 to 25 samples."""


@dataclass(frozen=True, slots=True)
class Point:
    """A period."""

    period: str
    value: float
    cases: int
    low: float
    high: float
    """Limits; those of a proportion are wider where there were fewer cases."""

    @property
    def outside(self) -> bool:
        """True if it is beyond a limit."""
        return not self.low <= self.value <= self.high


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Periods in their order, and the line that they lie about."""

    centre: float
    points: tuple[Point, ...]

    @property
    def is_trial(self) -> bool:
        """True if there are too few periods for limits to be trusted."""
        return len(self.points) < FEWEST


def individuals(values: Sequence[tuple[str, float, int]], least: float = -inf) -> ControlChart | None:
    """Of period, value and cases; None of fewer than two. The spread is that from each value to the next. `least`: no
    value can be less, and so no limit is."""
    if len(values) < 2:
        return None
    found = [value for _, value, _ in values]
    centre = fmean(found)
    reach = 3 * fmean(abs(later - earlier) for earlier, later in pairwise(found)) / D2
    low, high = max(centre - reach, least), centre + reach
    return ControlChart(centre, tuple(Point(period, value, cases, low, high) for period, value, cases in values))


def proportions(counts: Sequence[tuple[str, int, int]]) -> ControlChart | None:
    """Of period, cases that have something and all cases, at least one each; None of fewer than two periods."""
    if len(counts) < 2:
        return None
    centre = sum(some for _, some, _ in counts) / sum(cases for *_, cases in counts)
    return ControlChart(centre, tuple(_proportion(centre, *count) for count in counts))


def _proportion(centre: float, period: str, some: int, cases: int) -> Point:
    reach = 3 * sqrt(centre * (1 - centre) / cases)
    return Point(period, some / cases, cases, max(centre - reach, 0.0), min(centre + reach, 1.0))
