"""Conversions against a general-purpose library of units and against the check values of the reference sheet."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.errors import InputError
from log.basics.units import (
    MOST,
    STANDARD_GRAVITY,
    UNITS,
    Amount,
    amount,
    conversions,
    converted,
    in_the_room,
    shown,
    ucum,
    warnings,
)

IN_THE_LIBRARY = {"mmHg": "mmHg", "kPa": "kilopascal", "cmH2O": "centimeter_H2O"}
PRESSURES = tuple(IN_THE_LIBRARY)


@pytest.fixture(scope="module")
def library() -> Any:
    """Units by somebody else; imported late, for it takes a while."""
    import pint

    return pint.UnitRegistry()


@given(st.sampled_from(PRESSURES), st.sampled_from(PRESSURES), st.floats(0, 1000))
def test_pressures_are_what_a_library_of_units_says(library: Any, unit: str, other: str, value: float) -> None:
    expected = library.Quantity(value, IN_THE_LIBRARY[unit]).to(IN_THE_LIBRARY[other]).magnitude
    assert converted(Amount(value, unit), other).value == pytest.approx(expected, rel=1e-12)


@given(st.floats(0, 5))
def test_a_hanging_mass_pulls_as_the_library_says(library: Any, kilograms: float) -> None:
    expected = (library.Quantity(kilograms, "kg") * library.standard_gravity).to("newton").magnitude
    assert converted(Amount(kilograms, "kg"), "N").value == pytest.approx(expected, rel=1e-12)
    assert converted(Amount(kilograms * 1000, "g"), "N").value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("mmhg", "kpa", "cmh2o"),
    [
        # reference 6, table; tolerances as it gives them: 0.001 kPa, 0.01 cmH2O
        (5, 0.667, 6.80),
        (15, 2.000, 20.39),
        (20, 2.666, 27.19),
        (25, 3.333, 33.99),
        (30, 4.000, 40.79),
        (35, 4.666, 47.58),
        (40, 5.333, 54.38),
        (45, 6.000, 61.18),
    ],
)
def test_the_table_of_the_reference_sheet(mmhg: float, kpa: float, cmh2o: float) -> None:
    assert converted(Amount(mmhg, "mmHg"), "kPa").value == pytest.approx(kpa, abs=0.001)
    assert converted(Amount(mmhg, "mmHg"), "cmH2O").value == pytest.approx(cmh2o, abs=0.01)


def test_the_factors_are_those_of_the_reference_sheet() -> None:
    # NIST SP 811 appendix B (M11), as quoted in reference 6
    assert round(UNITS["mmHg"].factor, 4) == 133.3224
    assert UNITS["cmH2O"].factor == 98.0665
    assert STANDARD_GRAVITY == 9.80665
    # the definition of the conventional millimetre of mercury: density 13.5951 g/cm3 (from memory) x standard gravity
    assert UNITS["mmHg"].factor == pytest.approx(13595.1 * 9.80665 / 1000, rel=1e-15)


@pytest.mark.parametrize(("cmh2o", "mmhg"), [(48, 35.31), (61, 44.87)])
def test_the_published_slip_is_found_out(cmh2o: float, mmhg: float) -> None:
    # reference 1.14: P6 prints 30-45 mmHg as 48-61 cmH2O
    assert converted(Amount(cmh2o, "cmH2O"), "mmHg").value == pytest.approx(mmhg, abs=0.005)
    (text,) = warnings(Amount(30, "mmHg"))
    assert "30 mmHg is 40.8 cmH2O, and 48 cmH2O is 35.3 mmHg" in text


@pytest.mark.parametrize(
    ("kilograms", "newtons"),
    # reference 6.1: a litre and half a litre of saline, 1 kg, 500 g, 250 g
    [(1.0046, 9.852), (0.5023, 4.926), (1.0, 9.807), (0.5, 4.903), (0.25, 2.452)],
)
def test_traction_in_newtons(kilograms: float, newtons: float) -> None:
    assert converted(Amount(kilograms, "kg"), "N").value == pytest.approx(newtons, abs=0.0006)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("30 mmHg", 30, "mmHg"),
        ("30mmHg", 30, "mmHg"),
        (" 3.5  kPa ", 3.5, "kPa"),
        ("40 CMH2O", 40, "cmH2O"),
        (".5 kg", 0.5, "kg"),
        ("500 g", 500, "g"),
        ("30 mm[Hg]", 30, "mmHg"),
        ("-5 mmHg", -5, "mmHg"),
        ("250 mL", 250, "mL"),
        ("1000000 g", 1e6, "g"),
    ],
)
def test_what_people_type(text: str, value: float, unit: str) -> None:
    assert amount(text) == Amount(value, unit)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("30", "has no unit"),
        ("mmHg", "is not a number with a unit"),
        ("", "is not a number with a unit"),
        ("3,5 kPa", '",5 kPa" is not a unit'),
        ("30 psi", '"psi" is not a unit'),
        ("inf mmHg", "is not a number with a unit"),
        ("1000001 g", "more than any gauge reads"),
        ("9" * 400 + " g", "more than any gauge reads"),
        ("٣٠ mmHg", "is not a number with a unit"),
    ],
)
def test_what_cannot_be_read_is_named(text: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        amount(text)
    assert told in str(caught.value)
    assert caught.value.remedy


@pytest.mark.parametrize("unit", ["mmHg", "kPa", "cmH2O", "kg", "N"])
def test_a_volume_never_becomes_anything_else(unit: str) -> None:
    # reference 1.1, unit trap in P5: 30 to 45 mL beside 30-45 mmHg
    with pytest.raises(InputError, match="one is a volume"):
        converted(Amount(30, "mL"), unit)
    assert conversions(Amount(30, "mL")) == (Amount(30, "mL"),)
    assert "P5" in warnings(Amount(30, "mL"))[0]


@pytest.mark.parametrize(
    ("given_", "text"),
    [(Amount(30, "mmHg"), "30 mmHg"), (Amount(30.04, "mmHg"), "30 mmHg"), (Amount(0.5, "kg"), "0.5 kg")],
)
def test_numbers_are_rounded_for_the_eye(given_: Amount, text: str) -> None:
    assert shown(given_) == text
    assert MOST == 1_000_000


@pytest.mark.parametrize(
    ("code", "room"), [("mm[Hg]", "mmHg"), ("ug", "microgram"), ("deg", "°"), ("1", None), (None, None)]
)
def test_a_definition_gives_the_code_and_the_room_reads_its_own_writing(code: str | None, room: str | None) -> None:
    assert in_the_room(code) == room
    assert ucum(room) in (code, "")


@pytest.mark.parametrize("code", ["kPa", "cm[H2O]", "N", "mmHg"])
def test_no_number_is_logged_in_another_unit_than_its_limits(code: str) -> None:
    """Limits are in mmHg and kg: a pressure logged in kPa would stay below all of them."""
    with pytest.raises(KeyError):
        in_the_room(code)


def test_a_unit_that_is_not_known_becomes_an_annotation() -> None:
    assert ucum("drop") == "{drop}"
    assert ucum(None) == ucum("") == ""


def test_no_two_units_share_a_code_or_a_word() -> None:
    for field in ("ucum", "said"):
        assert len({getattr(unit, field) for unit in UNITS.values()}) == len(UNITS)
