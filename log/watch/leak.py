"""Does a balloon lose air? The trend of its pressure since it was last filled or deflated, and when it would leave its
range, with an interval around both, and plain words where there is too little to say.

A median of slopes is used, not least squares: one reading during a cough must not make a leak. A trend never replaces
the next look at the manometer.

An interval of 95 % needs five readings: of four, no order is rarer than 2 in 24. Air put in or let out begins the
readings anew; a step down that was logged as a pressure alone looks like a leak, and the page says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import NormalDist, median
from typing import Literal

from log.basics.ahead import later
from log.basics.entry import Number
from log.definition.procedure import Procedure
from log.definition.watch_plan import Trend as Demands
from log.rules.bounds import pressure_limits
from log.state.tube import Step

MOST = 500
"""Readings that are looked at, the newest: their slopes grow with the square."""

FILLS = ("volume_in", "volume_out", "balloon")
LONGEST_H = 30 * 24.0
"""Further ahead nobody needs to know."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A pressure of one balloon."""

    at: datetime
    value: Number
    """mmHg."""


@dataclass(frozen=True, slots=True)
class Slope:
    """A straight line through the readings, robust against single ones that are off."""

    per_hour: float
    """mmHg per hour, the median of the slopes between all pairs (Theil 1950, Sen 1968; from memory)."""
    low: float
    high: float
    """The interval around it."""
    middle_x: float
    middle_y: float
    """The line goes through the medians of hours and readings."""

    @property
    def includes_no_change(self) -> bool:
        """Whether the readings could be those of a tight balloon."""
        return self.low <= 0 <= self.high


@dataclass(frozen=True, slots=True)
class Leaving:
    """When the trend would leave the range, if it goes on."""

    side: Literal["low", "high"]
    bound: float
    """mmHg."""
    at: datetime
    earliest: datetime
    latest: datetime


@dataclass(frozen=True, slots=True)
class Trend:
    """The trend of one balloon's readings."""

    site: str
    readings: tuple[Reading, ...]
    slope: Slope | None
    """None where there is too little for any."""
    doubt: str
    """Why no time is given; "" where one is, or none is needed."""
    leaving: Leaving | None = None
    held: bool = False
    """Whether its pressure has limits to keep."""


def readings(steps: Iterable[Step], site: str) -> tuple[Reading, ...]:
    """The pressures of this balloon since its air was last changed, in order. One without a balloon counts for none."""
    found: list[Reading] = []
    for step in steps:
        entry, before, after = step.entry, step.before.balloon(site), step.after.balloon(site)
        own = entry.site in (site, "both")
        if (own and entry.kind in FILLS) or before.volumes != after.volumes or before.up != after.up:
            found.clear()
        if own and entry.kind == "pressure" and entry.number is not None and after.up:
            found.append(Reading(step.line.said_at, entry.number))
    return tuple(found[-MOST:])


def theil_sen(x: Sequence[float], y: Sequence[float], confidence: float) -> Slope:
    """The median slope with Sen's interval (1968, equation 2.6, with its correction for equal values).

    Raises ValueError if there are not two readings at different times.
    """
    slopes = sorted((y[j] - y[i]) / (x[j] - x[i]) for i in range(len(x)) for j in range(len(x)) if x[j] > x[i])
    if not slopes:
        raise ValueError("two readings at different times are needed")
    n, pairs = len(y), len(slopes)
    variance = (n * (n - 1) * (2 * n + 5) - _ties(x) - _ties(y)) / 18
    if variance < 0:  # several equal readings at one time: more ties than the correction is for
        return Slope(median(slopes), slopes[0], slopes[-1], median(x), median(y))
    reach = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(variance)
    low = max(round((pairs - reach) / 2) - 1, 0)
    high = min(round((pairs + reach) / 2), pairs - 1)
    return Slope(median(slopes), slopes[low], slopes[high], median(x), median(y))


def _ties(values: Sequence[float]) -> int:
    counts: dict[float, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    return sum(k * (k - 1) * (2 * k + 5) for k in counts.values() if k > 1)


def trend(procedure: Procedure, demands: Demands, site: str, found: tuple[Reading, ...], now: datetime) -> Trend:
    """The trend of these readings at this moment, under the demands of the definition."""
    held = bool(pressure_limits(procedure, site))
    return replace(_estimated(procedure, demands, site, found, now), held=held)


def _estimated(procedure: Procedure, demands: Demands, site: str, found: tuple[Reading, ...], now: datetime) -> Trend:
    if len(found) < demands.fewest:
        count = f"{len(found)} of {demands.fewest} readings since its air was changed"
        return Trend(site, found, None, f"too few to say: {count}")
    hours = [(one.at - found[0].at) / timedelta(hours=1) for one in found]
    if hours[-1] < demands.shortest_h:
        span = f"{hours[-1] * 60:.0f} min of readings, {demands.shortest_h:g} h are needed"
        return Trend(site, found, None, f"too short to say: {span}")
    slope = theil_sen(hours, [float(one.value) for one in found], demands.confidence)
    if slope.includes_no_change:
        return Trend(site, found, slope, "too little to say: the interval includes no change")
    return _with_time(procedure, Trend(site, found, slope, ""), slope, now)


def _with_time(procedure: Procedure, of: Trend, slope: Slope, now: datetime) -> Trend:
    low, high = pressure_range(procedure, of.site)
    bound, side = (low, "low") if slope.per_hour < 0 else (high, "high")
    last = of.readings[-1].value
    if low is None and high is None:
        return Trend(of.site, of.readings, slope, "the definition gives no range for this balloon")
    if (low is not None and last < low) or (high is not None and last > high):
        return Trend(of.site, of.readings, slope, f"the last reading, {last:g} mmHg, is outside the range already")
    if bound is None:
        return Trend(of.site, of.readings, slope, f"the definition gives no bound on the {side} side")
    times = sorted(_crossing(of, slope, rate, bound, now) for rate in (slope.low, slope.high))
    at = _crossing(of, slope, slope.per_hour, bound, now)
    leaving = Leaving("low" if side == "low" else "high", bound, at, times[0], times[1])
    return Trend(of.site, of.readings, slope, "", leaving)


def _crossing(of: Trend, slope: Slope, rate: float, bound: float, now: datetime) -> datetime:
    """When the line through the middle with this rate meets the bound; never before now, never beyond LONGEST_H."""
    hours = slope.middle_x + (bound - slope.middle_y) / rate
    ahead = hours - (now - of.readings[0].at) / timedelta(hours=1)
    return later(now, min(max(ahead, 0.0), LONGEST_H))


def pressure_range(procedure: Procedure, site: str) -> tuple[float | None, float | None]:
    """Lowest and highest pressure (mmHg) that the limits of the definition leave a balloon; None where none does."""
    limits = [procedure.limits[name] for name in pressure_limits(procedure, site)]
    lows = [limit.min for limit in limits if limit.min is not None]
    tops = [limit.max for limit in limits if limit.max is not None]
    return max(lows, default=None), min(tops, default=None)
