"""What the next team is told, and what a team can learn afterwards: every figure worked out by hand."""

from __future__ import annotations

from datetime import timedelta

from log.exports.handover import rows
from log.rules.comparisons import measured
from log.summaries.debrief import debrief
from log.summaries.handover import Handover, handover
from tests.cases import BEGAN, case_of

PLACED = (
    (10, "scissors at the head of the bed"),
    (20, "gastric balloon leak test at two five zero"),
    (50, "gastric leak test passed at two five zero"),
    (60, "tube in"),
    (70, "tube at five five at the lips"),
    (80, "gastric in five zero"),
    (140, "x-ray confirms position"),
    (150, "gastric one zero zero in"),
    (160, "gastric one zero zero in"),
    (200, "traction one kilo weight on"),
    (210, "mark at five two at the lips"),
    (230, "still bleeding"),
    (240, "oesophageal four zero in"),
    (250, "oesophageal pressure four eight"),
    (300, "oesophageal pressure three five"),
    (360, "gastric aspirate four zero zero"),
    (370, "lavage two five zero in"),
    (380, "lavage two zero zero out"),
    (400, "red cells two units in"),
    (410, "red cells one unit in"),
    (420, "blood pressure nine zero over six zero"),
    (430, "blood pressure eight zero over four four"),
    (440, "mark at five one at the lips"),
)


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


def test_a_finding_about_a_reading_tells_what_was_read_since() -> None:
    """It stays: the case had it. But the next team acts on the last reading."""
    at_once = {one.finding.rule: one for one in told(4.5).findings}  # 48 mmHg stands alone
    assert at_once["oesophageal_ceiling"].read_again is None
    since = {one.finding.rule: one for one in told(8).findings}["oesophageal_ceiling"].read_again
    assert since is not None and (since.entry.number, since.number) == (35, 15)
    case = case_of(*PLACED)
    lines = [text for row in rows(case.procedure, told(8)) for text in row.texts if "48 mmHg" in text]
    assert len(lines) == 1 and "read again" in lines[0] and "35 mmHg" in lines[0]


def test_only_what_had_happened_by_then_is_told() -> None:
    found = told(3)  # three minutes in: no traction, no oesophageal air
    assert found.traction is None and found.mark is None
    assert [one.since for one in found.balloons] == [BEGAN + timedelta(seconds=80), None]
    assert found.vitals == () and found.given == () and found.ports == ()


def test_the_rows_name_scissors_that_nobody_logged_and_what_to_do() -> None:
    case = case_of((60, "tube in"))
    lines = {row.lead: " ".join(row.texts) for row in rows(case.procedure, handover(case.course, case.record, BEGAN))}
    assert "NOT LOGGED" in lines["SCISSORS"]
    assert "none is logged" in lines["vital signs"]


def test_each_number_stands_beside_its_limit() -> None:
    case = case_of(*PLACED)
    found = {(one.line, one.limit): one for one in measured(case.procedure, case.course.steps)}
    ceiling = found[14, "oesophageal_ceiling"]  # 48 mmHg against at most 45
    assert (ceiling.value, ceiling.high, ceiling.margin, ceiling.side) == (48, 45, -3, "outside")
    inside = found[15, "oesophageal_ceiling"]  # 35 mmHg
    assert (inside.margin, inside.side) == (10, "inside")
    first = found[6, "first_gastric_volume"]  # 50 mL against at most 50
    assert (first.margin, first.side) == (0, "at")
    moved = found[23, "mark_migration"]  # 1 cm against at most 2.5
    assert (moved.value, moved.margin) == (1, 1.5)


def test_the_debriefing_counts_from_step_to_step() -> None:
    case = case_of(*PLACED)
    found = debrief(case.course, case.record, BEGAN + timedelta(seconds=500))
    steps = {one.milestone.id: one for one in found.steps}
    tube = steps["tube-in"]
    assert (tube.state, tube.since_start) == ("reached", timedelta(seconds=60))
    assert tube.since_before == timedelta(seconds=10)  # the leak test was passed at 50 s
    assert steps["airway"].state == "passed over"
    assert steps["traction"].since_start == timedelta(seconds=200)
    assert steps["tube-out"].state in ("not reached", "not part of this case")


def test_the_debriefing_tells_how_an_entry_came_into_the_log() -> None:
    case = case_of((10, "gastric in fifty"), (16, "five zero"), (30, "oesophageal pressure three five"))
    found = debrief(case.course, case.record, BEGAN + timedelta(seconds=60))
    asked, at_once = found.read_back
    assert (asked.outcome, asked.answered_after) == ("asked and confirmed", timedelta(seconds=6))
    assert at_once.outcome == "logged at once" and at_once.answered_after is None


def test_the_debriefing_tells_how_long_one_looked_between_the_steps_of_a_removal() -> None:
    removal = (
        *((600, "traction released"), (660, "oesophageal balloon deflated"), (4260, "gastric balloon deflated")),
        (4860, "tube out"),
    )
    case = case_of(*PLACED, *removal)
    found = debrief(case.course, case.record, BEGAN + timedelta(seconds=5000))
    assert found.observed == (("oesophageal", timedelta(hours=1)), ("gastric", timedelta(minutes=10)))
