"""What a team can learn afterwards: every figure worked out by hand."""

from __future__ import annotations

from datetime import timedelta

from log.rules.comparisons import measured
from log.summaries.debrief import debrief
from tests.cases import BEGAN, PLACED, case_of


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
