"""The hand-over in words: what is known and what nobody logged, on the screen and on a page to sign."""

from __future__ import annotations

from datetime import datetime, timedelta

from log.basics.entry import Entry, Question
from log.exports.deidentify import deidentified
from log.exports.document import BOX, Table, plain
from log.exports.handover import heading, page, rows
from log.exports.handover_json import plain as as_json
from log.summaries.handover import Handover, handover
from log.summaries.whole import Whole
from tests.cases import BEGAN, PLACED, case_of


def found(case: Whole, now: datetime = BEGAN + timedelta(minutes=8)) -> Handover:
    return handover(case.course, case.record, now)


def test_the_rows_name_scissors_that_nobody_logged_and_what_to_do() -> None:
    case = case_of((60, "tube in"))
    lines = {row.lead: " ".join(row.texts) for row in rows(case.procedure, found(case, BEGAN))}
    assert "NOT LOGGED" in lines["SCISSORS"]
    assert "none is logged" in lines["vital signs"]


def test_a_reading_that_is_back_in_range_is_no_finding_of_the_hand_over() -> None:
    case = case_of(*PLACED)
    assert not [text for row in rows(case.procedure, found(case)) for text in row.texts if "48 mmHg" in text]


def test_a_first_reading_above_the_usual_start_stands_with_what_was_read_since() -> None:
    case = case_of(*PLACED[:13], (250.0, "oesophageal pressure four four"), (300.0, "oesophageal pressure four three"))
    lines = [text for row in rows(case.procedure, found(case)) for text in row.texts if "44 mmHg" in text]
    assert len(lines) == 1 and "read again" in lines[0] and "43 mmHg" in lines[0]


def test_the_page_has_boxes_for_both_who_sign_and_the_cautions() -> None:
    case = case_of(*PLACED)
    known, to_sign = (block for block in page(case, found(case), 12, 10).blocks if isinstance(block, Table))
    assert [(plain(row[0]), row[1:]) for row in to_sign.rows] == [
        ("Handed over by", (BOX,) * 4),
        ("Taken over by", (BOX,) * 4),
    ]
    assert plain(known.rows[0][0]) == "tube"
    assert not any(cell == BOX for row in known.rows for cell in row), "what is not known is said, not left to fill in"


def test_what_does_not_fit_is_counted() -> None:
    case = case_of(*PLACED)
    (known, _) = (block for block in page(case, found(case), 1, 1).blocks if isinstance(block, Table))
    told = [plain(row[1]) for row in known.rows]
    findings = found(case).findings
    assert any(text.startswith(f"and {len(findings) - 1} more") for text in told)


def test_the_page_says_of_which_case_and_moment_it_is() -> None:
    case = case_of(*PLACED)
    assert heading(case, found(case)) == (
        "case 20261004-140000 (bay 4) at 2026-10-04 14:08:00+02:00, according to the log; last entry 14:07 (0:00 ago)"
    )
    without = deidentified(case)[0]
    assert heading(without, found(without, without.until)).startswith("at +0:07:20, according to the log")


def test_the_same_as_json() -> None:
    case = case_of(*PLACED)
    told = as_json(case, found(case))
    assert told["traction"] == {
        "line": 10,
        "at": "2026-10-04T14:03:20+02:00",
        "site": None,
        "value": 1,
        "unit": "kg",
        "detail": "weight",
        "mass_kg": 1,
        "kind": "weight",
        "force_N": 9.81,
        "since": "2026-10-04T14:03:20+02:00",
    }
    assert isinstance(told["mark"], dict) and told["mark"]["moved_cm"] == -1
    assert told["xray"] is not None and told["closed_at"] is None


def test_what_nobody_dealt_with_is_overdue_for_the_next_team() -> None:
    """48 mmHg is above the ceiling: not read again, not acknowledged, overdue after the definition's ten minutes."""
    case = case_of(*PLACED[:14])
    for minutes, waits in ((9, False), (15, True)):
        due = [item.title for item in found(case, BEGAN + timedelta(minutes=minutes)).watch.items]
        assert any("48 mmHg" in title and "not acknowledged" in title for title in due) == waits, minutes


def test_a_reading_in_doubt_stands_beside_the_last_one() -> None:
    doubtful = Question(
        candidates=tuple(Entry(kind="pressure", site="oesophageal", value=mmhg, unit="mmHg") for mmhg in (50, 15)),
        why="sound alike",
        text="50 and 15 sound alike",
    )
    depths = tuple(Entry(kind="depth", site="lips", value=cm, unit="cm") for cm in (50, 15))
    where = Question(candidates=depths, why="sound alike", text="50 and 15 sound alike")
    case = case_of(*PLACED, (445, doubtful), (450, where))
    lines = {row.lead: " ".join(row.texts) for row in rows(case.procedure, found(case))}
    assert lines["oesophageal balloon"].endswith("; not confirmed: 15 or 50 mmHg?")
    assert lines["mark"].endswith("; not confirmed: 50 cm at the lips or 15 cm at the lips?")
    balloons = as_json(case, found(case))["balloons"]
    assert isinstance(balloons, list) and balloons[1]["may_read_mmHg"] == [15, 50]
    assert as_json(case, found(case))["depth_may_be_cm"] == [50, 15]


def test_a_finding_of_the_tube_before_says_so() -> None:
    case = case_of(*PLACED, (600, "tube out"), (700, "tube in"))
    later = found(case, BEGAN + timedelta(minutes=12))
    handed = {row.lead: row.texts for row in rows(case.procedure, later)}
    [up] = [text for text in handed["open findings"] if "withdrawn while a balloon is up" in text]
    assert "(tube 1): gastric and oesophageal" in up
    assert not any("(tube 2)" in text for text in handed["open findings"])


def test_air_that_does_not_add_up_is_explained() -> None:
    again = (600, "traction off"), (610, "gastric balloon deflated"), (620, "gastric five zero in")
    for more, told in (((), "250 mL (in 250, out 0 mL);"), (again, "(in 300, out 0 mL in all, emptied or restated")):
        case = case_of(*PLACED, *more)
        later = found(case, BEGAN + timedelta(minutes=12))
        assert told in next(row.texts[0] for row in rows(case.procedure, later) if row.lead == "gastric balloon")
