"""A dose far beyond what is usual is asked, at ten times and not before; nothing is asked of what is not known."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from log.basics.entry import Entry, Question, Understood
from log.definition.check import problems
from log.definition.medicines import Medicine, odd_dose
from log.rules import READS
from log.rules.definitions import read_procedure
from tests.cases import phrases
from voice.meaning.matcher import understand

SHIPPED = read_procedure("three-lumen").medicine or ()


def dose(name: str, number: float, unit: str) -> Entry:
    return Entry(kind="drug", value=number, unit=unit, detail=name)


@pytest.mark.parametrize(
    ("name", "number", "unit", "odd"),
    [
        ("terlipressin", 19.9, "mg", False),
        ("terlipressin", 20, "mg", True),
        ("terlipressin", 0.11, "mg", False),
        ("terlipressin", 0.1, "mg", True),
        ("terlipressin", 2, "g", True),
        ("fentanyl", 100, "mg", True),
        ("fentanyl", 2500, "microgram", True),
        ("tranexamic acid", 1, "mg", True),
        ("tranexamic acid", 50, "mg", True),
        ("glycopyrrolate", 20, "microgram", True),  # equal in milligrams but for the dust of binary fractions
        ("glycopyrrolate", 21, "microgram", False),
        ("vasopressin", 201, "IU", True),
        ("vasopressin", 201, "mL", False),
        ("lactulose", 0, "mL", False),
        ("aspirin", 9000, "g", False),
    ],
)
def test_ten_times_more_or_less_than_usual_is_odd(name: str, number: float, unit: str, odd: bool) -> None:
    assert (odd_dose(SHIPPED, dose(name, number, unit)) is not None) == odd


@pytest.mark.parametrize("text", ["fentanyl one hundred milligrams given", "terlipressin two grams given"])
def test_such_a_dose_is_asked_with_what_is_usual(text: str) -> None:
    meaning = understand(phrases("three-lumen"), text)
    assert isinstance(meaning, Understood)
    [asked] = meaning.items
    assert isinstance(asked, Question) and asked.why == "out of range" and "usually" in asked.text
    assert len(asked.candidates) == 1


def test_a_usual_dose_is_logged() -> None:
    meaning = understand(phrases("three-lumen"), "terlipressin two milligrams given")
    assert isinstance(meaning, Understood) and isinstance(meaning.items[0], Entry)


def test_adult_doses_are_not_held_against_a_childs() -> None:
    assert read_procedure("three-lumen-child").medicine is None


def test_all_that_are_known_say_their_standing_and_can_be_heard() -> None:
    speech = read_procedure("three-lumen").speech
    assert speech is not None
    heard = speech.says["drug"]
    assert isinstance(heard, dict)
    for one in SHIPPED:
        assert one.tag == "from memory" and one.id in heard, one.id


def test_a_drug_that_cannot_be_compared_is_refused() -> None:
    with pytest.raises(ValidationError):
        Medicine(id="octreotide", use="vasoactive", usual=(2, 1), unit="mg", tag="from memory")


def test_a_unit_that_no_dose_is_logged_in_is_a_problem() -> None:
    stone = Medicine(id="octreotide", use="vasoactive", usual=(1, 2), unit="stone", tag="from memory")
    procedure = read_procedure("three-lumen").model_copy(update={"medicine": (stone,)})
    assert ("medicine[0].unit", '"stone" is no unit that a dose can be logged in') in [*problems(procedure, READS)]
    assert not stone.is_odd(dose("octreotide", 9000, "mg"))
