"""The night beside the tube: the bundle with its times, blood by product, what went wrong, when the bridge ends."""

from __future__ import annotations

from datetime import timedelta

import pytest

from log.exports.handover_json import plain
from log.exports.handover_night import NOT_LOGGED, night_rows
from log.summaries.handover import handover
from log.summaries.night import Night, Transfused, night
from log.summaries.whole import Whole
from tests.cases import Spoken, case_of

NIGHT: tuple[Spoken, ...] = (
    (10, "airway secured capnography confirmed"),
    (20, "terlipressin two milligrams given"),
    (30, "ceftriaxone one gram given"),
    (40, "terlipressin one milligram given"),
    (50, "noradrenaline infusion started"),
    (60, "four units red cells in"),
    (70, "two units plasma in"),
    (80, "one unit platelets in"),
    (90, "saline five zero zero mils in"),
    (100, "gastric aspirate two zero zero"),
    (110, "endoscopy team called"),
    (120, "endoscopy accepted"),
    (130, "endoscopy expected in four zero minutes"),
    (140, "tube in"),
    (150, "decision oesophageal balloon"),
    (160, "decision shunt"),
    (170, "blood loss one point five litres"),
    (180, "two units red cells in", 3660),
    (190, "stridor"),
    (200, "stridor"),
    (210, "outcome bleeding controlled"),
)


def night_of(case: Whole) -> Night:
    return night(case.procedure, case.happened, case.until)


def rows_of(case: Whole) -> dict[str, tuple[str, ...]]:
    return {row.lead: row.texts for row in night_rows(night_of(case), case.until)}


def test_the_bundle_has_the_first_of_each_with_its_time() -> None:
    [bundle] = rows_of(case_of(*NIGHT))["bundle"]
    assert bundle.startswith(
        "airway secured 14:00; vasoactive terlipressin 14:00; antibiotic ceftriaxone 14:00; "
        "endoscopy expected 14:02; definitive plan shunt 14:02; bridge ends 10-05 14:02 (in 2"
    )


def test_what_nobody_said_is_shown_as_not_logged() -> None:
    [bundle] = rows_of(case_of((1, "tube in")))["bundle"]
    assert bundle.count(NOT_LOGGED) == 5


def test_the_bridge_ends_24_h_after_the_tube_went_in_and_not_without_a_tube() -> None:
    # M2: 24 h as bridge
    case = case_of((1, "tube in"))
    ends = night_of(case).bridge_ends
    assert ends is not None and ends - case.happened[0].line.said_at == timedelta(hours=24)
    assert night_of(case_of((1, "tube in"), (2, "tube out"))).bridge_ends is None
    assert night_of(case_of((1, "airway secured"))).bridge_ends is None


def test_a_decision_for_the_oesophageal_balloon_is_no_definitive_plan() -> None:
    assert night_of(case_of((1, "decision oesophageal balloon"))).definitive is None


def test_blood_is_added_up_by_product_with_its_ratio_and_the_last_hour() -> None:
    found = night_of(case_of(*NIGHT)).transfused
    assert dict(found.units) == {"red cells": 6, "plasma": 2, "platelets": 1}
    assert found.ratio == "6:2:1 red cells:plasma:platelets"


@pytest.mark.parametrize(
    ("units", "ratio"),
    [({"red cells": 2}, ""), ({"red cells": 2, "plasma": 2}, "2:2:0 red cells:plasma:platelets"), ({"plasma": 1}, "")],
)
def test_one_product_alone_has_no_ratio(units: dict[str, int], ratio: str) -> None:
    assert Transfused(units, {}).ratio == ratio


def test_units_are_in_no_sum_of_millilitres() -> None:
    [text] = rows_of(case_of(*NIGHT))["blood and fluid"]
    assert (
        "fluid in 500 mL, out of the ports net 200 mL, balance without blood products +300 mL; blood loss said: 1500 mL"
        in text
    )


def test_lists_show_the_newest_first() -> None:
    rows = rows_of(case_of(*NIGHT))
    assert rows["drugs"][0] == "14:00 terlipressin 1 mg" and len(rows["drugs"]) == 3
    assert rows["infusions"] == ("noradrenaline running since 14:00",)
    assert rows["decided"][0].startswith("shunt")
    assert rows["went wrong"] == ("stridor 14:03, 2 times, last 14:03",)
    assert rows["called"][0] == "endoscopy expected in 40 min, said 14:02"


def test_nobody_but_somebody_says_that_nothing_went_wrong() -> None:
    assert "went wrong" not in rows_of(case_of((1, "tube in")))
    assert rows_of(case_of((1, "no complications")))["went wrong"] == ("none, said 14:00",)
    assert rows_of(case_of((1, "no complications"), (2, "stridor")))["went wrong"] == ("stridor 14:00",)


def test_a_cut_stands_in_the_hand_over() -> None:
    case = case_of((1, "tube in"), (2, "cut the tube"))
    assert rows_of(case)["CUT"] == ("the tube was cut, said 14:00",)
    told = plain(case, handover(case.course, case.record, case.until))
    assert isinstance(told["night"], dict) and told["night"]["cut"]["value"] == "cut"


@pytest.mark.parametrize(
    ("said", "mean", "index"),
    [
        (((1, "blood pressure nine zero over six zero"), (2, "heart rate one two zero")), 70, 1.33),
        (((1, "blood pressure nine zero over six zero"), (1801, "heart rate one two zero")), 70, 1.33),
        (((1, "blood pressure nine zero over six zero"), (1802, "heart rate one two zero")), 70, None),
        (((1, "blood pressure nine zero over six zero"),), 70, None),
        (((1, "heart rate one two zero"),), None, None),
    ],
)
def test_mean_pressure_and_shock_index_are_arithmetic(
    said: tuple[Spoken, ...], mean: int | None, index: float | None
) -> None:
    found = night_of(case_of(*said)).reckoned
    assert (found.mean_pressure, found.shock_index) == (mean, index)


def test_two_estimates_of_blood_loss_are_both_told_and_not_added_up() -> None:
    row = rows_of(case_of((1, "blood loss one litre"), (60, "blood loss five hundred")))["blood and fluid"][0]
    assert row.endswith("blood loss said (not added up): 1000 mL 14:00, 500 mL 14:01")


def test_what_is_reckoned_says_when_its_pressure_was_read() -> None:
    said = ((1, "blood pressure nine zero over six zero"), (2, "heart rate one two zero"), (7200, "bleeding stopped"))
    assert rows_of(case_of(*said))["reckoned"][0].endswith("from the last blood pressure at 14:00 (1:59 ago)")
