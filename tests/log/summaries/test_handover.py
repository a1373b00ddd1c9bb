"""The hand-over: every figure worked out by hand."""

from __future__ import annotations

from datetime import timedelta

from log.basics.entry import Entry
from log.summaries.handover import Handover, handover
from tests.cases import BEGAN, PLACED, case_of


def told(minutes: float) -> Handover:
    case = case_of(*PLACED)
    return handover(case.course, case.record, BEGAN + timedelta(minutes=minutes))


def test_what_is_inflated_since_when_and_with_how_much() -> None:
    gastric, oesophageal = told(8).balloons
    assert (gastric.site, gastric.balloon.volume, gastric.put_in, gastric.taken_out) == ("gastric", 250, 250, 0)
    assert gastric.since == BEGAN + timedelta(seconds=80)
    assert oesophageal.since == BEGAN + timedelta(seconds=240)
    assert oesophageal.reading is not None and oesophageal.reading.entry.number == 35


def test_traction_mark_and_its_movement() -> None:
    found = told(8)
    assert found.traction is not None and found.traction.entry.number == 1
    assert found.traction_since == BEGAN + timedelta(seconds=200)
    assert found.mark is not None and found.mark.moved_cm == -1  # 52 cm first, 51 cm last


def test_sums_and_last_readings() -> None:
    found = told(8)
    net = {one.port: one.net for one in found.ports}
    assert net == {"gastric": 400, "": -50}  # 400 aspirated; 250 in and 200 back, by a port that was not said
    assert [(one.name, one.amount) for one in found.given] == [("red cells", 3)]
    (pressure,) = found.vitals
    assert (pressure.last.entry.number, pressure.last.entry.second) == (80, 44)
    assert found.scissors is not None and found.scissors.entry.value == "at the head of the bed"


def test_a_finding_stands_until_the_number_is_back_in_range() -> None:
    assert "oesophageal_ceiling" in {one.finding.rule for one in told(4.5).findings}  # 48 mmHg
    assert "oesophageal_ceiling" not in {one.finding.rule for one in told(8).findings}  # 35 mmHg


def test_a_finding_that_stands_tells_what_was_read_since() -> None:
    """A first pressure above the usual start has been one; but the next team acts on the last reading."""
    first = (*PLACED[:13], (250.0, "oesophageal pressure four four"))
    case = case_of(*first, (300.0, "oesophageal pressure four three"))
    before = handover(case_of(*first).course, case_of(*first).record, BEGAN + timedelta(minutes=8))
    assert {one.finding.rule: one.read_again for one in before.findings}["oesophageal_start"] is None
    found = handover(case.course, case.record, BEGAN + timedelta(minutes=8))
    since = {one.finding.rule: one.read_again for one in found.findings}["oesophageal_start"]
    assert since is not None and since.entry.number == 43


def test_only_what_had_happened_by_then_is_shown() -> None:
    found = told(3)  # three minutes in: no traction, no oesophageal air
    assert found.traction is None and found.mark is None
    assert [one.since for one in found.balloons] == [BEGAN + timedelta(seconds=80), None]
    assert found.vitals == () and found.given == () and found.ports == ()


def test_a_balloon_that_burst_is_not_handed_over_as_a_good_one() -> None:
    case = case_of(*PLACED, (600.0, "gastric balloon burst"))
    gastric, oesophageal = handover(case.course, case.record, BEGAN + timedelta(minutes=11)).balloons
    assert gastric.trouble is not None and gastric.trouble.entry.detail == "balloon burst"
    assert oesophageal.trouble is None
    filled = (601.0, "gastric balloon deflated"), (602.0, "gastric five zero in")
    case = case_of(*PLACED, (600.0, "gastric balloon burst"), *filled)
    assert handover(case.course, case.record, BEGAN + timedelta(minutes=11)).balloons[0].trouble is None


def test_scissors_that_cut_the_tube_have_to_be_found_again() -> None:
    cut = (*PLACED, (600.0, "cut the tube"), (610.0, "tube out"), (650.0, "tube in"))
    found = handover(case_of(*cut).course, case_of(*cut).record, BEGAN + timedelta(minutes=11))
    assert found.scissors is None
    assert "no_scissors" in {one.finding.rule for one in found.findings}
    back = case_of(*cut, (655.0, "scissors at the bedside"))
    found = handover(back.course, back.record, BEGAN + timedelta(minutes=11))
    assert found.scissors is not None
    assert "no_scissors" not in {one.finding.rule for one in found.findings}


def test_a_pressure_says_that_a_balloon_is_up_though_nobody_said_how_much_is_in_it() -> None:
    for site in ("gastric", "oesophageal"):
        case = case_of((10, "tube in"), (20, f"{site} pressure two two"))
        [one] = [one for one in handover(case.course, case.record, BEGAN + timedelta(minutes=1)).balloons if one.since]
        assert (one.site, one.balloon.measured) == (site, 0)
        down = case_of((10, "tube in"), (20, f"{site} pressure two two"), (30, f"{site} balloon deflated"))
        assert not any(one.since for one in handover(down.course, down.record, BEGAN + timedelta(minutes=1)).balloons)


def test_a_balloon_of_any_name_is_handed_over() -> None:
    """A case from elsewhere may name one as it likes, and one without free text names none."""
    said = Entry(kind="pressure", site="[free text withheld]", value=40, unit="mmHg")
    case = case_of((0, "tube in"), (60, Entry(kind="volume_in", site=said.site, value=50, unit="mL")), (90, said))
    *_, odd = handover(case.course, case.record, BEGAN + timedelta(minutes=5)).balloons
    assert (odd.site, odd.put_in) == (said.site, 50)
    assert odd.reading is not None and odd.reading.entry == said
