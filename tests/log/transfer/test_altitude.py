"""The standard atmosphere against a library of it, and balloons against the worked examples of the reference sheet."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.errors import InputError
from log.rules.course import course_of
from log.state.balloon import Balloon
from log.state.tube import TubeState
from log.transfer.altitude import CIVIL_CABIN_FT, HIGHEST_FT, PA_PER_MMHG, Expansion, cabin, expansion
from log.transfer.cabin import Transfer, from_case, from_volume
from tests import cases
from tests.log.rules.test_rules import FOUR, HELD, THREE, record


@pytest.fixture(scope="module")
def library() -> Any:
    """The standard atmosphere by somebody else; imported late, for it takes a second."""
    import ambiance

    return ambiance.Atmosphere


@given(st.floats(0, HIGHEST_FT))
def test_the_pressure_is_that_of_a_library_of_the_standard_atmosphere(library: Any, feet: float) -> None:
    geometric = library.geop2geom_height(feet * 0.3048)
    expected = float(library(geometric).pressure[0])
    assert cabin(feet).pressure_mmhg * PA_PER_MMHG == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("feet", "pascals", "mmhg", "ratio", "moist", "drop"),
    [
        # reference 6.2 (P89, P90), table
        (0, 101_325, 760.0, 1.0000, 1.0000, 0),
        (2_000, 94_213, 706.7, 1.0755, 1.0809, 53.3),
        (4_000, 87_511, 656.4, 1.1579, 1.1701, 103.6),
        (6_000, 81_200, 609.0, 1.2479, 1.2686, 151.0),
        (8_000, 75_262, 564.5, 1.3463, 1.3778, 195.5),
        (10_000, 69_682, 522.7, 1.4541, 1.4991, 237.3),
    ],
)
def test_the_table_of_the_reference_sheet(
    feet: float, pascals: float, mmhg: float, ratio: float, moist: float, drop: float
) -> None:
    there = cabin(feet)
    assert there.pressure_mmhg * PA_PER_MMHG == pytest.approx(pascals, abs=1)
    assert there.pressure_mmhg == pytest.approx(mmhg, abs=0.06)
    assert there.ratio == pytest.approx(ratio, abs=0.00006)
    assert there.moist_ratio == pytest.approx(moist, abs=0.00015)  # the sheet took 47.1 mmHg of vapour
    assert there.drop_mmhg == pytest.approx(drop, abs=0.06)


@pytest.mark.parametrize(
    ("feet", "volume", "expected"),
    [
        # reference 6.2, worked examples: isothermal, slack balloon
        (8_000, 250, 336.6),
        (8_000, 300, 403.9),
        (8_000, 500, 673.1),
        (8_000, 50, 67.3),
        (2_000, 250, 268.9),
        (2_000, 300, 322.6),
        (2_000, 500, 537.7),
        (2_000, 50, 53.8),
        (10_000, 250, 363.5),
        (10_000, 300, 436.2),
        (10_000, 500, 727.1),
        (10_000, 50, 72.7),
    ],
)
def test_a_slack_balloon_grows_as_the_reference_sheet_works_out(feet: float, volume: float, expected: float) -> None:
    assert expansion(cabin(feet), "gastric", volume, None).at_altitude == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize(
    ("feet", "volume", "left"),
    # reference 6.2: to have 250 mL there, fill so much at sea level
    [(8_000, 250, 185.7), (8_000, 500, 371.4), (4_000, 250, 215.9), (4_000, 500, 431.8)],
)
def test_what_has_to_come_out_beforehand(feet: float, volume: float, left: float) -> None:
    one = expansion(cabin(feet), "gastric", volume, None)
    assert one.remove is not None
    assert volume - one.remove == pytest.approx(left, abs=0.06)
    again = expansion(cabin(feet), "gastric", volume - one.remove, None)
    assert again.at_altitude == pytest.approx(volume)


def test_a_stiff_balloon_presses_by_what_the_cabin_lacks() -> None:
    # reference 6.2: 30 mmHg at 8 000 ft, bound 225.5
    assert expansion(cabin(8_000), "oesophageal", None, 30).stiff_pressure == pytest.approx(225.5, abs=0.06)


@pytest.mark.parametrize(("feet", "told"), [(7_999, False), (8_000, False), (8_001, True)])
def test_what_civil_cabins_are_limited_to(feet: float, told: bool) -> None:
    # P91: 8 000 ft
    assert CIVIL_CABIN_FT == 8_000
    assert any("P91" in remark for remark in from_volume(cabin(feet), 250).remarks) == told


@pytest.mark.parametrize("feet", [-1.0, HIGHEST_FT + 1, float("nan"), float("inf")])
def test_an_altitude_beyond_the_formula_is_refused(feet: float) -> None:
    with pytest.raises(InputError, match="cannot be used") as caught:
        cabin(feet)
    assert caught.value.remedy


@pytest.mark.parametrize("volume", [-0.1, 1_000_001, float("nan")])
def test_a_volume_that_no_balloon_holds_is_refused(volume: float) -> None:
    with pytest.raises(InputError, match="cannot be in a balloon"):
        expansion(cabin(0), "balloon", volume, None)
    assert HIGHEST_FT * 0.3048 <= 11_000  # the troposphere of the model (reference 6.2)


# ---- from a case ---------------------------------------------------------------------------------------------------


def of(name: str, *entries: str, feet: float = 8_000, gastric: float | None = None) -> Transfer:
    procedure = cases.procedure(name)
    return from_case(cabin(feet), procedure, course_of(procedure, record(entries)).end.situation, gastric)


def test_the_volumes_and_pressures_of_the_case_are_taken() -> None:
    found = of(THREE, *HELD[THREE], "pressure oesophageal 30")
    gastric, oesophageal = found.balloons
    assert (gastric.volume, gastric.pressure, oesophageal.volume, oesophageal.pressure) == (250, None, None, 30)
    told = " | ".join(found.remarks)
    assert "oesophageal: it is up, but its volume was never said" in told
    assert "gastric: no pressure is logged" in told
    assert "oesophageal: could pass the ceiling (at most 45 mmHg)" in told


def at_volume(volume: float, feet: float) -> list[str]:
    procedure = cases.procedure(THREE)
    there = TubeState(balloons={"gastric": Balloon(volume=volume, pressure=10)})
    return [remark for remark in from_case(cabin(feet), procedure, there).remarks if remark.startswith("gastric")]


@pytest.mark.parametrize(("there", "told"), [(299.9, False), (300.0, False), (300.1, True)])
def test_the_largest_volume_of_the_tube_holds_at_altitude_too(there: float, told: bool) -> None:
    # P1, P2: 300 mL for three lumens
    ground = there / cabin(2_000).ratio if there != 300.0 else 300.0
    found = at_volume(ground, 2_000 if there != 300.0 else 0)
    assert any("could reach" in remark for remark in found) == told


@pytest.mark.parametrize(("left", "told"), [(199.9, True), (200.0, False), (200.1, False)])
def test_taking_out_too_much_on_the_ground_is_reported(left: float, told: bool) -> None:
    # P4, P11: from 200 mL for three lumens
    ground = left * cabin(2_000).ratio if left != 200.0 else 200.0
    found = at_volume(ground, 2_000 if left != 200.0 else 0)
    assert any("after removal" in remark for remark in found) == told


@pytest.mark.parametrize(("pressure", "told"), [(44, False), (45, False), (46, True)])
def test_the_ceiling_of_the_oesophageal_balloon(pressure: int, told: bool) -> None:
    # P1, P6, P13, P22: never above 45 mmHg; at sea level nothing is added
    procedure = cases.procedure(THREE)
    up = TubeState(balloons={"oesophageal": Balloon(volume=60, pressure=pressure)})
    assert any("ceiling" in remark for remark in from_case(cabin(0), procedure, up).remarks) == told


def test_a_volume_that_is_given_goes_before_that_of_the_log() -> None:
    found = of(FOUR, *HELD[FOUR], gastric=500)
    assert found.balloons[0].at_altitude == pytest.approx(673.1, abs=0.06)
    assert any("500 mL as given; the log says 450 mL" in remark for remark in found.remarks)


def test_with_no_balloon_up_nothing_can_grow() -> None:
    found = of(THREE, "tube - in")
    assert found.balloons == ()
    assert any("no balloon is up" in remark for remark in found.remarks)


def test_a_balloon_of_no_known_volume_has_no_made_up_figures() -> None:
    assert expansion(cabin(8_000), "gastric", None, None) == Expansion("gastric", *[None] * 6)


@pytest.mark.parametrize(
    ("filled_ft", "altitude_ft", "ratio"),
    [(0, 8000, 1.3463), (4000, 8000, 1.1627), (8000, 8000, 1.0), (8000, 0, 0.7428)],
)
def test_the_air_grows_from_where_the_balloon_was_filled(filled_ft: float, altitude_ft: float, ratio: float) -> None:
    # reference 6.2: 101,325, 87,511 and 75,262 Pa at 0, 4000 and 8000 ft
    there = cabin(altitude_ft, filled_ft)
    assert there.ratio == pytest.approx(ratio, abs=0.0002)
    assert (there.drop_mmhg < 0) == (ratio < 1)


def test_a_balloon_that_was_filled_in_the_air_shrinks_on_the_way_down() -> None:
    found = expansion(cabin(0, 8000), "gastric", 250, 30)
    assert found.at_altitude == pytest.approx(185.7, abs=0.1) and found.remove is not None and found.remove < 0
    assert found.stiff_pressure == pytest.approx(30 - 195.5, abs=0.1)
