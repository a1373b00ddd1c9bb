"""Where the tube lies: the pressure against the one outside at 14, 15 and 16 mmHg above it, and checks that fail."""

from __future__ import annotations

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Number
from log.definition.procedure import Procedure
from log.rules.comparisons import outside_pressure
from log.rules.course import check
from tests import cases
from tests.log.rules.test_rules import BEGAN, BOTH, PREPARED, READY, THREE, UP, findings, found, record

OUTSIDE = ("manometry gastric 10@50", "manometry gastric 16@150", "manometry gastric 20@250")
PLACED = (*READY, *OUTSIDE, *PREPARED[len(READY) :], "xray - confirmed")


@BOTH
@pytest.mark.parametrize(
    ("pressure", "told"),
    [
        # P1: more than 15 mmHg above the pre-insertion value at the same volume; at exactly 15 we say so
        (9, []),
        (24, []),
        (24.9, []),
        (25, ["rise_at_limit"]),
        (25.1, ["gastric_pressure_rise"]),
        (26, ["gastric_pressure_rise"]),
    ],
)
def test_more_than_15_mmhg_above_outside_is_reported(name: str, pressure: float, told: list[str]) -> None:
    assert found(name, *PLACED, "volume_in gastric 50", f"pressure gastric {pressure}") == told
    levels = [one.level for one in findings(name, *PLACED, "volume_in gastric 50", f"pressure gastric {pressure}")]
    assert levels == {"rise_at_limit": ["information"], "gastric_pressure_rise": ["high"]}.get((*told, "")[0], [])


@BOTH
def test_a_pressure_is_compared_with_the_one_at_its_own_volume(name: str) -> None:
    assert found(name, *PLACED, "volume_total gastric 150", "pressure gastric 31") == ["rise_at_limit"]
    assert found(name, *PLACED, "volume_total gastric 250", "pressure gastric 31") == []
    emptied = (*PLACED, "volume_total gastric 250", "volume_out gastric 100")
    assert found(name, *emptied, "pressure gastric 32") == ["gastric_pressure_rise"]


@BOTH
def test_the_last_reading_outside_counts_and_none_in_the_patient(name: str) -> None:
    again = (*OUTSIDE, "manometry gastric 12@50")
    placed = (*READY, *again, *PLACED[len(READY) + len(OUTSIDE) :])
    assert found(name, *placed, "volume_in gastric 50", "pressure gastric 27") == ["rise_at_limit"]
    late = (*PLACED, "manometry gastric 40@50")
    assert found(name, *late) == ["manometry_in_place"]
    assert found(name, *late, "volume_in gastric 50", "pressure gastric 26") == ["gastric_pressure_rise"]


@BOTH
@pytest.mark.parametrize("lines", [("volume_total gastric 100",), ("balloon gastric up",), ()])
def test_where_nothing_was_read_outside_nothing_is_compared_and_that_is_reported_once(
    name: str, lines: tuple[str, ...]
) -> None:
    there = (*PLACED, *lines)
    (told,) = [one for one in findings(name, *there, "pressure gastric 60") if one.rule == "rise_not_comparable"]
    assert "cannot be compared, which does not mean that it is normal" in told.message
    assert found(name, *there, "pressure gastric 60", "pressure gastric 59") == []
    other = (*there, "pressure gastric 60", "volume_total gastric 200")
    assert found(name, *other, "pressure gastric 60") == ["rise_not_comparable"], "another volume, another word"


@BOTH
def test_air_of_an_unknown_volume_makes_no_comparison_until_the_whole_is_said(name: str) -> None:
    unknown = (*PLACED, "balloon gastric up", "volume_in gastric 50")
    assert found(name, *unknown, "pressure gastric 60") == ["rise_not_comparable"]
    assert found(name, *unknown, "volume_total gastric 50", "pressure gastric 26") == ["gastric_pressure_rise"]
    assert found(name, *unknown, "balloon gastric down", "volume_in gastric 50", "pressure gastric 25") == [
        "rise_at_limit"
    ]
    said_later = (*PLACED, "volume_in gastric 50", "balloon gastric up")
    assert found(name, *said_later, "pressure gastric 26") == ["gastric_pressure_rise"], "the volume is known"


@BOTH
def test_a_fraction_of_a_millimetre_is_not_more_than_15(name: str) -> None:
    read = (*READY, "manometry gastric 9.6@50", *PLACED[len(READY) + len(OUTSIDE) :])
    assert found(name, *read, "volume_in gastric 50", "pressure gastric 24.6") == ["rise_at_limit"]


@BOTH
def test_a_room_that_read_nothing_outside_is_reported_once(name: str) -> None:
    placed = tuple(line for line in PLACED if line not in OUTSIDE)
    assert found(name, *placed, "volume_in gastric 50", "pressure gastric 20") == ["rise_not_comparable"]
    more = ("volume_in gastric 50", "pressure gastric 20", "volume_in gastric 50", "pressure gastric 25")
    assert found(name, *placed, *more) == []


@BOTH
def test_only_a_gastric_pressure_in_the_patient_is_compared(name: str) -> None:
    assert found(name, *OUTSIDE, "volume_in gastric 50", "pressure gastric 60") == []
    assert found(name, *UP[name], "pressure oesophageal 40") == []


SHIPPED = cases.procedure(THREE)


def interpolating(procedure: Procedure) -> Procedure:
    assert procedure.manometry is not None and not procedure.manometry.interpolate, "shipped: not between volumes"
    return procedure.model_copy(update={"manometry": procedure.manometry.model_copy(update={"interpolate": True})})


@given(
    st.dictionaries(st.integers(10, 700), st.integers(0, 99), min_size=1, max_size=8),
    st.integers(1, 720),
)
def test_a_straight_line_between_two_volumes_where_the_definition_allows_it(
    table: dict[Number, Number], volume: int
) -> None:
    """Against numpy.interp; outside the volumes that were read there is nothing to go by."""
    assert outside_pressure(SHIPPED, table, volume) == table.get(volume)
    between = outside_pressure(interpolating(SHIPPED), table, volume)
    volumes = sorted(table)
    if volumes[0] <= volume <= volumes[-1]:
        assert between == pytest.approx(numpy.interp(volume, volumes, [table[v] for v in volumes]))
    else:
        assert between is None


@pytest.mark.parametrize(("pressure", "told"), [(27, []), (28, ["rise_at_limit"]), (29, ["gastric_pressure_rise"])])
def test_the_rule_holds_between_volumes_where_the_definition_allows_it(pressure: int, told: list[str]) -> None:
    # 50 mL: 10, 150 mL: 16, so 100 mL: 13 mmHg
    lines = (*PLACED, "volume_total gastric 100", f"pressure gastric {pressure}")
    said = check(interpolating(cases.procedure(THREE)), record(lines), BEGAN)
    assert [one.rule for one in said] == told


@BOTH
@pytest.mark.parametrize(
    ("checks", "told"),
    [
        (("failed air heard over the lungs",), ["position_failed"]),
        (("failed air heard over the lungs", "passed air heard over the stomach"), ["position_failed"]),
        (("failed air heard over the lungs", "passed lungs silent"), []),
        (("passed lungs silent", "failed air heard over the lungs"), ["position_failed"]),
        (("failed no air heard over the stomach", "passed lungs silent"), ["position_failed"]),
        (("failed no air heard over the stomach", "passed air heard over the stomach"), []),
        (
            ("failed carbon dioxide from the gastric port", "passed gastric contents aspirated"),
            ["position_failed"],
        ),
        (
            ("failed carbon dioxide from the gastric port", "passed no carbon dioxide from the gastric port"),
            [],
        ),
    ],
)
def test_a_check_that_fails_holds_until_its_opposite_is_said(
    name: str, checks: tuple[str, ...], told: list[str]
) -> None:
    # P1, P2, P3, P5: air over the stomach, not over the lungs; common practice, no source: no carbon dioxide
    lines = (*PREPARED, *(f"position_check - {one}" for one in checks))
    assert [rule for rule in found(name, *lines, "volume_in gastric 30") if rule == "position_failed"] == told
    assert found(name, *lines, "xray - confirmed", "volume_in gastric 30") in ([], ["position-check-before-inflation"])
    assert "position_failed" not in found(name, *lines, "volume_in oesophageal 30")
    assert "position_failed" not in found(name, *lines, "tube - out", "tube - in", "volume_in gastric 30")


@BOTH
def test_resistance_means_stop(name: str) -> None:
    # P2, P14
    assert found(name, "resistance - felt") == ["resistance"]
    assert found(name, "resistance - none") == []
