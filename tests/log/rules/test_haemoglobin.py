"""The threshold for red cells is shown, at its boundary and in either unit."""

from __future__ import annotations

import pytest

from log.basics.entry import Entry
from log.basics.units import held_against
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules.course import check
from tests import cases
from tests.log.rules.test_rules import BEGAN


@pytest.mark.parametrize(
    ("value", "unit", "told"), [(70, "g/L", 0), (69, "g/L", 1), (7.0, "g/dL", 0), (6.9, "g/dL", 1), (72, "g/L", 0)]
)
@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_a_haemoglobin_below_70_g_per_litre_is_shown(name: str, value: float, unit: str, told: int) -> None:
    # P39: threshold 70 g/L if stable and without cardiovascular disease; M18: the trial behind it
    entry = Entry(kind="vital", value=value, unit=unit, detail="haemoglobin")
    record = Record(lines=(Line(1, "stands", entry, BEGAN, BEGAN, Origin()),))
    found = check(cases.procedure(name), record, BEGAN)
    assert [one.rule for one in found] == ["haemoglobin"] * told
    assert all(one.level == "information" for one in found)


def test_no_other_unit_is_taken_for_another() -> None:
    assert held_against(7.2, "g/dL", "g/L") == 72 and held_against(72, "g/L", "g/dL") == 7.2
    assert held_against(7.2, "mmol/L", "g/L") == 7.2 and held_against(40, "mmHg", "mmHg") == 40


def test_no_threshold_for_adults_is_held_against_a_child() -> None:
    assert "haemoglobin" not in cases.procedure("three-lumen-child").limits
