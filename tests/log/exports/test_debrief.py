"""The debriefing in words: each number beside its limit, and what became of findings and questions."""

from __future__ import annotations

from itertools import pairwise

from log.exports.debrief import debriefing, rows
from log.exports.debrief_json import plain as as_json
from log.exports.document import Cells, Heading, Strong, Table, plain
from log.summaries.debrief import debrief
from log.summaries.whole import Whole
from tests.cases import PLACED, case_of, good_case


def under(case: Whole, title: str) -> tuple[Cells, ...]:
    """The rows of the table under a heading."""
    blocks = debriefing(case).blocks
    return next(two.rows for one, two in pairwise(blocks) if one == Heading(title) and isinstance(two, Table))


def test_a_step_that_was_passed_over_stands_out() -> None:
    reached = {plain(row[0]): row[1] for row in under(case_of(*PLACED), "Steps of the protocol")}
    assert reached["airway secured"] == Strong("not logged")
    assert reached["tube passed"] == "2026-10-04 14:01:00+02:00"
    assert reached["tube withdrawn"] == "not reached"


def test_a_number_outside_its_limit_stands_out_with_how_far() -> None:
    limits = "Numbers against their limits, as they stand"
    outside = [row for row in under(case_of(*PLACED), limits) if row[5] == Strong("outside")]
    assert ["oesophageal balloon pressure", "48 mmHg", "at most 45 mmHg"] in [
        [plain(c) for c in row[2:5]] for row in outside
    ]
    assert all(plain(row[6]).startswith("-") for row in outside)


def test_findings_questions_and_corrections_have_their_rows() -> None:
    case = good_case()
    settled = [plain(row[5]) for row in under(case, "Findings")]
    assert "still open" in settled and "14:17:30: line 20 was corrected" in settled
    assert {plain(row[0]): plain(row[1]) for row in under(case, "Read-back")}["never answered"] == "1"
    assert [plain(row[2]) for row in under(case, "Corrections")] == [
        "oesophageal pressure 60 mmHg -> oesophageal pressure 35 mmHg",
        "struck: gastric volume in 150 mL",
    ]
    assert [plain(row[3]) for row in under(case, "Late entries")] == ["0:15:00"]


def test_the_screen_counts_before_it_lists() -> None:
    case = good_case()
    found = {row.lead: row.texts for row in rows(case.procedure, debrief(case.course, case.record, case.until))}
    assert found["gaps"] == ("1, 0:00:09 in all",)
    assert found["not understood"] == ("1",)
    assert "1 never answered" in found["read-back"][0]
    assert found["not logged"][0].startswith(f"{found['not logged'][0].count(',') + 1}: time-out, ")


def test_a_question_that_was_answered_has_its_time() -> None:
    case = case_of((10, "gastric in fifty"), (16, "five zero"))
    assert {plain(row[0]): plain(row[1]) for row in under(case, "Read-back")}["from asked to answered"] == "6.0 s"


def test_the_same_as_json() -> None:
    case = good_case()
    told = as_json(case, debrief(case.course, case.record, case.until))
    assert (told["case"], told["ended"]) == ("20261004-140000", "2026-10-04T14:40:00+02:00")
    assert told["corrections"] == [
        {
            "line": 20,
            "at": "2026-10-04T14:17:30+02:00",
            "what": "amended",
            "after_s": 10.0,
            "words": "oesophageal pressure 60 mmHg -> oesophageal pressure 35 mmHg",
            "reason": "corrected by the operator",
            "author": "scribe",
        },
        {
            "line": 25,
            "at": "2026-10-04T14:20:33+02:00",
            "what": "struck",
            "after_s": 3.0,
            "words": "struck: gastric volume in 150 mL",
            "reason": "struck by the operator",
            "author": "scribe",
        },
    ]
    assert told["late"] == [{"line": 27, "late_by_s": 900.0}]
    assert told["fingerprint"] == case.links[-1].sha256
