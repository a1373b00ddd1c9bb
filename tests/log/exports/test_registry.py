"""The registry page: control charts against published examples, and what stands on the page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from log.exports.review import Review, review
from log.exports.review.control_chart import individuals, proportions
from log.exports.review.pictures import histogram, times
from log.exports.review.registry import as_page, known, part
from log.exports.web_page import POLICY
from tests.generated import hand_over


def test_individuals_have_the_limits_of_the_published_example() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: flow rate of ten batches."""
    flow = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
    chart = individuals([(str(batch), value, 1) for batch, value in enumerate(flow)])
    assert chart is not None and chart.centre == pytest.approx(50.81)
    assert {round(point.high, 4) for point in chart.points} == {55.8041}
    assert {round(point.low, 4) for point in chart.points} == {45.8159}
    assert not any(point.outside for point in chart.points) and chart.is_trial


def test_proportions_have_the_limits_of_the_published_example() -> None:
    """The same, 6.3.3.2: chips that fail, of 50 on each of 30 wafers."""
    fails = (12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6)
    chart = proportions([(str(wafer), some, 50) for wafer, some in enumerate(fails)])
    assert chart is not None and chart.centre == pytest.approx(0.2313, abs=5e-5)
    assert {(round(point.low, 4), round(point.high, 4)) for point in chart.points} == {(0.0524, 0.4102)}
    assert [point.period for point in chart.points if point.outside] == ["14", "22"], "22 and 24 of 50"
    assert not chart.is_trial


def test_limits_stay_where_values_can_be() -> None:
    chart = individuals([("2026-01", 10.0, 3), ("2026-02", 90.0, 4)], least=0)
    assert chart is not None and {point.low for point in chart.points} == {0}
    rare = proportions([("2026-01", 0, 1), ("2026-02", 1, 1)])
    assert rare is not None and {(point.low, point.high) for point in rare.points} == {(0.0, 1.0)}
    assert individuals([("2026-01", 1.0, 1)]) is None and proportions([]) is None


@pytest.mark.parametrize("values", [[5.0], [0.0, 0.0], [-30.0, 10.0, 4_000_000.0], [float(n) for n in range(1000)]])
def test_a_histogram_takes_any_times_and_counts_each_once(values: Sequence[float]) -> None:
    picture = histogram("t", values, [("median", part(values, 0.5))], str)
    assert f"{len(values)} cases" in picture.description
    assert all(0 <= x <= picture.width for one in picture.parts if hasattr(one, "points") for x, _ in one.points)


def test_steps_of_time_are_round_and_reach_over_both_ends() -> None:
    assert times(0, 380, 5) == (0, 120, 240, 360, 480)
    assert times(-5, 86400 * 30, 5)[-1] >= 86400 * 30


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Review:
    return review(hand_over(tmp_path_factory.mktemp("registry"), 60))


def test_the_page_shows_what_was_counted_and_loads_nothing(many: Review) -> None:
    text = as_page(many)
    assert "60 cases, 2025-" in text and "4 sites: east, north, south, west." in text
    assert POLICY in text and not re.search(r"<script|src=|href=|url\(|@import|https?:", text)
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids)) == 2 * text.count("<svg"), "a title and a description each"
    for one in many.rules:
        assert re.search(rf">{one['rule']}</th><td>[^<]*</td><td>{one['raised']}</td><td>{one['still_open']}<", text)
    assert f">{len(known(many.cases, 'oesophageal_s'))}<" in text
    assert text.count("Not a medical device") == 2


def test_a_page_without_cases_says_so_and_hostile_words_do_nothing(many: Review, tmp_path: Path) -> None:
    empty = as_page(review([]))
    assert "0 cases" in empty and "No time is known." in empty and empty.count("too few periods for a chart") == 2
    hostile = "<script>x()</script>\x1b"
    index = many.columns.index("site")
    rows = tuple((*row[:index], *[hostile] * 2) if n < 9 else row for n, row in enumerate(many.rows))
    text = as_page(replace(many, rows=rows))
    assert many.columns[index:] == ("site", "month") and text.count("&lt;script&gt;") > 2
    assert "<script" not in text and "\x1b" not in text
