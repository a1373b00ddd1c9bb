"""The trend of a pressure against scipy's, and when it may be believed."""

from __future__ import annotations

import warnings
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.watch.leak import Reading, Trend, pressure_range, readings, theil_sen, trend
from tests.cases import procedure
from tests.log.rules.test_rules import BEGAN, THREE
from tests.log.watched import Said, at, pressures, watched

PROCEDURE = procedure(THREE)
assert PROCEDURE.watch is not None
DEMANDS = PROCEDURE.watch.trend
WHOLE = st.lists(st.tuples(st.integers(0, 48), st.integers(0, 60)), min_size=2, max_size=40)


@pytest.fixture(scope="module")
def stats() -> Any:
    """Statistics by somebody else; imported late, for it takes a second."""
    from scipy import stats

    return stats


@given(points=WHOLE, confidence=st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_slope_and_interval_are_those_of_scipy(stats: Any, points: list[tuple[int, int]], confidence: float) -> None:
    x, y = ([float(point[i]) for point in points] for i in (0, 1))
    if len(set(x)) < 2:
        with pytest.raises(ValueError, match="two readings"):
            theil_sen(x, y, confidence)
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        expected = stats.theilslopes(y, x, confidence)
    found = theil_sen(x, y, confidence)
    assert found.per_hour == pytest.approx(expected.slope)
    if np.isnan(expected.low_slope):  # more ties than Sen's correction is for; then ours is as wide as can be
        assert found.low <= found.per_hour <= found.high
    else:
        assert (found.low, found.high) == pytest.approx((expected.low_slope, expected.high_slope))
    assert found.middle_y - found.per_hour * found.middle_x == pytest.approx(expected.intercept)


def test_one_reading_during_a_cough_makes_no_leak() -> None:
    hours = [float(hour) for hour in range(9)]
    steady = [35.0, 35, 34, 35, 80, 35, 34, 35, 35]
    assert theil_sen(hours, steady, 0.95).includes_no_change
    assert abs(theil_sen(hours, steady, 0.95).per_hour) < 0.2


@pytest.mark.parametrize(("rate", "seed"), [(-2.0, 1), (-1.0, 2), (-0.5, 3), (1.0, 4)])
def test_a_leak_with_noise_is_found_and_covered_by_its_interval(rate: float, seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, 0.7, 24)
    hours = [float(hour) for hour in range(24)]
    found = theil_sen(hours, [40 + rate * h + float(n) for h, n in zip(hours, noise, strict=True)], 0.99)
    assert found.low <= rate <= found.high
    assert not found.includes_no_change


def told(*said: Said, now: float) -> Trend:
    found = readings(watched((0.5, "volume_in oesophageal 60"), *said).steps, "oesophageal")
    return trend(PROCEDURE, DEMANDS, "oesophageal", found, at(now))


# ---- when it may be believed ----------------------------------------------------------------------------------------


def test_what_the_definition_demands() -> None:
    # derived: of four readings no order is rarer than 2 in 24, so no interval of 95 % ends inside their slopes
    assert (DEMANDS.fewest, DEMANDS.shortest_h, DEMANDS.confidence, DEMANDS.tag) == (5, 1, 0.95, "derived")


@pytest.mark.parametrize(("count", "thin"), [(4, True), (5, False), (6, False)])
def test_too_few_readings_tell_nothing(count: int, thin: bool) -> None:
    found = told(*pressures(*(40 - 2 * i for i in range(count))), now=count + 1)
    assert (found.slope is None) == thin
    assert ("4 of 5 readings" in found.doubt) == thin


@pytest.mark.parametrize(("minutes", "thin"), [(59, True), (60, False), (61, False)])
def test_too_short_a_span_tells_nothing(minutes: float, thin: bool) -> None:
    found = told(*pressures(40, 38, 36, 34, 32, every_h=minutes / 60 / 4), now=3)
    assert (found.slope is None) == thin
    assert ("too short" in found.doubt) == thin


@pytest.mark.parametrize(
    ("values", "doubt"),
    [
        ((35, 34, 36, 35, 35), "includes no change"),
        ((35, 35, 35, 35, 35), "includes no change"),
        ((36, 36, 36, 36, 35), "includes no change"),
        ((40, 39, 38, 37, 36), ""),
    ],
)
def test_an_interval_that_includes_no_change_gives_no_time(values: tuple[float, ...], doubt: str) -> None:
    found = told(*pressures(*values), now=6)
    assert doubt in found.doubt
    assert (found.leaving is None) == bool(doubt)


@pytest.mark.parametrize(("low", "high", "no_change"), [(-1, -0.01, False), (-1, 0, True), (-1, 0.01, True)])
def test_an_interval_that_ends_at_nought_includes_it(low: float, high: float, no_change: bool) -> None:
    slope = theil_sen([0, 1, 2], [3, 2, 1], 0.95)
    assert type(slope)(slope.per_hour, low, high, 0, 0).includes_no_change == no_change


# ---- when the range is left -----------------------------------------------------------------------------------------


def test_the_range_is_that_of_the_definition() -> None:
    # P13, P22: 25 to 45 mmHg; P1, P6, P13, P22: never above 45
    assert pressure_range(PROCEDURE, "oesophageal") == (25, 45)
    assert pressure_range(PROCEDURE, "gastric") == (None, None)


def test_a_steady_leak_says_when_it_is_too_low() -> None:
    found = told(*pressures(40, 39, 38, 37, 36), now=5)
    assert found.leaving is not None
    assert (found.leaving.side, found.leaving.bound) == ("low", 25)
    assert found.leaving.at == found.leaving.earliest == found.leaving.latest == at(16)  # 36 at 5 h, 1 mmHg an hour


def test_a_rising_pressure_says_when_it_is_too_high() -> None:
    found = told(*pressures(30, 32, 34, 36, 38), now=5.5)
    assert found.leaving is not None
    assert (found.leaving.side, found.leaving.bound, found.leaving.at) == ("high", 45, at(8.5))


def test_the_interval_lies_around_the_time() -> None:
    found = told(*pressures(40, 39, 39, 37, 37, 35, 35, 34), now=8)
    assert found.leaving is not None
    assert at(8) < found.leaving.earliest <= found.leaving.at < found.leaving.latest


@pytest.mark.parametrize(("last", "doubt"), [(26, False), (25, False), (24, True)])
def test_a_reading_outside_the_range_needs_no_forecast(last: float, doubt: bool) -> None:
    found = told(*pressures(40, 36, 32, 28, last), now=6)
    assert ("outside the range already" in found.doubt) == doubt
    assert (found.leaving is None) == doubt


def test_what_the_trend_has_passed_already_is_now_not_in_the_past() -> None:
    found = told(*pressures(40, 36, 32, 28, 26), now=30)
    assert found.leaving is not None
    assert found.leaving.at == at(30)


def test_a_balloon_without_a_range_has_a_slope_and_no_time() -> None:
    found = tuple(Reading(BEGAN + timedelta(hours=i), 20 - i) for i in range(6))
    gastric = trend(PROCEDURE, DEMANDS, "gastric", found, at(6))
    assert gastric.slope is not None
    assert gastric.leaving is None
    assert "no range" in gastric.doubt


# ---- which readings count -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        "volume_in oesophageal 5",
        "volume_out oesophageal 5",
        "volume_total oesophageal 55",
        "balloon oesophageal down",
        "balloon both down",
    ],
)
def test_only_readings_since_the_air_was_changed_count(change: str) -> None:
    said = (*pressures(40, 39, 38), (3.5, change), (4.0, "pressure oesophageal 33"))
    found = readings(watched((0.5, "volume_in oesophageal 60"), *said).steps, "oesophageal")
    assert [one.value for one in found] == [33]


@pytest.mark.parametrize(
    "nothing", ["volume_total oesophageal 60", "volume_in gastric 10", "pressure gastric 20", "pressure - 31", "mark"]
)
def test_what_changes_no_air_in_it_changes_nothing(nothing: str) -> None:
    said = (*pressures(40, 39, 38), (3.5, nothing))
    found = readings(watched((0.5, "volume_in oesophageal 60"), *said).steps, "oesophageal")
    assert [one.value for one in found] == [40, 39, 38]


def test_a_balloon_that_is_up_by_its_pressure_alone_has_readings() -> None:
    found = readings(
        watched(*pressures(30, 31), (3, "pressure oesophageal 0"), *pressures(40, first_h=4)).steps, "oesophageal"
    )
    assert [one.value for one in found] == [40]
