"""The first pages of the note: filled in with all that was said, in the room's own time, short enough to be read."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO

from pypdf import PdfReader

from log.exports import pdf
from log.exports.markdown import BLANK
from log.exports.note import as_note
from log.exports.note_summary import MOST_OPEN
from log.summaries.whole import Whole
from tests.cases import GOOD, Spoken, case_of
from tests.log.exports.test_note import cell
from tests.log.exports.test_note_sections import cells, sections

FILLED: tuple[Spoken, ...] = (
    (1, "time out done"),
    (2, "emergency no consent"),
    (3, "endoscopy team called"),
    (4, "oesophageal leak test passed at six zero"),
    (5, "tube in"),
    (6, "gastric five zero in"),
    (7, "gastric pressure two zero"),
    (8, "x-ray confirms position by the radiologist"),
    (9, "traction one kilo weight"),
    (10, "traction one kilo weight"),
    (11, "bleeding stopped"),
    (12, "bleeding again"),
    (13, "tube slipped"),
    (14, "tube slipped"),
    (15, "pressure marks on the lips"),
    (16, "decision shunt"),
    (17, "gastric aspirate two five zero"),
)


def test_what_was_said_is_filled_in() -> None:
    note = as_note(case_of(*FILLED))
    assert cell(note, "Urgency (elective, urgent, emergency)") == "emergency"
    assert cell(note, "Consent basis") == "emergency, no consent possible at 14:00:02 (line 2)"
    assert cell(note, "Time-out done (when, by whom)") == "14:00:01 (line 1)"
    assert cell(note, "Called") == "endoscopy team called at 14:00:03 (line 3)"
    assert cell(note, "X-ray position confirmed by") == "radiologist"
    assert cell(note, "Traction") == "1 kg, weight, 9.8 N at 14:00:09 (line 9)", "said twice is one traction"
    assert cell(note, "Decisions") == "shunt at 14:00:16 (line 16)" == cell(note, "Plan: definitive therapy")
    assert cell(note, "Complications") == (
        "bleeding again at 14:00:12 (line 12); tube slipped at 14:00:13 (line 13), 2 times, "
        "last at 14:00:14 (line 14); pressure marks at 14:00:15 (line 15)"
    )
    assert cell(note, "Blood loss") == "not said; out of the ports, net of lavage: 250 mL"
    assert cell(note, "Plan: removal time") == "tube in; the bridge ends at 10-05 14:00:05"
    assert cells(sections(note)["Leak tests"]) == [["oesophageal", "60 mL", "not said", "", "passed @"]]


def test_numbers_are_ranges_and_never_a_cell_of_readings() -> None:
    said = [(n, f"oesophageal pressure {word} zero") for n, word in enumerate(("three", "four", "two"), 20)]
    note = as_note(case_of((1, "tube in"), (2, "oesophageal four zero in"), *said))
    wanted = "oesophageal at most 40 mL; oesophageal pressure 20 to 40 mmHg (3 readings, last 20)"
    assert cell(note, "Volumes, pressures and depths") == wanted


def test_a_film_that_nobody_was_said_to_have_read_names_the_one_before() -> None:
    note = as_note(case_of((1, "x-ray confirms position by the radiologist"), (9, "x-ray confirms position")))
    assert cell(note, "X-ray position confirmed by") == "reader not said; earlier film: radiologist, 14:00:01 (line 1)"
    assert cell(as_note(case_of((1, "tube in"))), "X-ray position confirmed by") == BLANK


def test_times_are_the_rooms_and_the_zone_stands_once() -> None:
    late = timedelta(days=1).total_seconds()
    note = as_note(case_of((1, "tube in"), (late, "tube out")))
    assert "Times are the room's own, UTC+02:00, on 2026-10-04; another day stands before its times." in note
    assert cell(note, "Tube in, secured, out") == "in at 14:00:01 (line 1); out at 10-05 14:00:00 (line 2)"
    assert not re.search(r"\d\+02:00", sections(note)["Timeline"])


def test_readings_of_many_hours_are_a_table_by_the_hour() -> None:
    hour = timedelta(hours=1).total_seconds()
    said = [(n * hour + 60, f"oesophageal pressure three {word}") for n, word in enumerate(("zero", "five"))]
    note = as_note(case_of((1, "tube in"), (2, "oesophageal four zero in"), *said))
    assert cells(sections(note)["Hour by hour"]) == [
        ["0 to 1 h", "30 mmHg (14:01)"],
        ["1 to 2 h", "35 mmHg (15:01)"],
    ]
    assert "Hour by hour" not in as_note(case_of((1, "tube in"), (2, "oesophageal pressure three zero")))


def test_open_findings_of_high_priority_stand_before_the_signatures_and_are_never_too_many() -> None:
    summary = as_note(case_of((0, "airway secured"), (1, "tube in"), *ALL_HIGH)).split("| Author of this note")[0]
    assert len(re.findall(r"(?m)^- .*14:00:", summary)) == MOST_OPEN
    assert f"and {len(ALL_HIGH) - MOST_OPEN} earlier findings of high priority: see findings" in summary


ALL_HIGH: tuple[Spoken, ...] = tuple(
    enumerate(
        (
            "capnography lost",
            "stridor",
            "he has aspirated",
            "cardiac arrest",
            "desaturating",
            "tube slipped",
            "gastric balloon burst",
            "crackling under the skin of the neck",
        ),
        start=10,
    )
)


def pages_to_sign(case: Whole) -> int:
    """Pages before the appendix."""
    texts = [page.extract_text() for page in PdfReader(BytesIO(pdf.as_pdf(case))).pages]
    return next(number for number, text in enumerate(texts) if "Appendix: all that the log has of it" in text)


def test_what_is_signed_has_at_most_two_pages() -> None:
    told = [(2000 + second, said) for second, said, *_ in ALL_HIGH]
    assert pages_to_sign(case_of(*GOOD, *told)) == 2


def test_clamps_are_those_of_each_tube() -> None:
    note = as_note(
        case_of(
            (1, "tube in"),
            (2, "gastric port clamped"),
            (3, "tube out"),
            (4, "tube in"),
            (5, "oesophageal port clamped"),
        )
    )
    first, second = cell(note, "Tube 1"), cell(note, "Tube 2")
    assert first.startswith("in 14:00:01 (line 1), out 14:00:03 (line 3); depth not logged; ")
    assert first.endswith("; clamp, gastric on at 14:00:02 (line 2)")
    assert second.endswith("; clamp, oesophageal on at 14:00:05 (line 5)") and "gastric" not in second


def test_an_estimated_blood_loss_stands_beside_what_came_out() -> None:
    aspirate = (2, "gastric aspirate four zero zero")
    both = as_note(case_of((1, "blood loss eight hundred"), aspirate))
    out = "out of the ports, net of lavage: 400 mL"
    assert cell(both, "Blood loss") == f"estimated 800 mL at 14:00:01 (line 1); {out}"
    assert cell(as_note(case_of(aspirate)), "Blood loss") == f"not said; {out}"
