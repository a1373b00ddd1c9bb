"""What surrounds the tube, on paper: each section only where the log has something for it, and only what stands."""

from __future__ import annotations

import csv
import io
import re

from log.exports import FORMATS
from log.exports.csv_table import as_csv
from log.exports.note import as_note
from log.exports.note_sections import leak_tests
from tests.cases import Spoken, case_of

AROUND: tuple[Spoken, ...] = (
    (1, "time out done"),
    (3, "kit complete"),
    (4, "lubricant missing"),
    (6, "scissors taped to the bed"),
    (7, "head up four five"),
    (8, "gastric balloon leak test at two five zero"),
    (20, "oesophageal balloon leak test one zero zero mils"),
    (68, "gastric balloon leak test passed"),
    (80, "both balloons leak test failed"),
    (142, "gastric test two zero zero pressure one four"),
    (150, "gastric test one zero zero pressure one two"),
    (160, "terlipressin two milligrams"),
    (162, "fentanyl five zero micrograms"),
    (163, "noradrenaline infusion started"),
    (190, "noradrenaline infusion stopped"),
    (195, "propofol infusion running"),
    (200, "red cells two units in"),
    (260, "red cells one unit in"),
    (270, "red cells four units in"),
    (271, "scratch that"),
    (280, "saline five zero zero mils in"),
    (290, "blood pressure nine zero over six zero"),
    (295, "correct that to nine five"),
    (310, "heart rate one one zero"),
    (320, "blood pressure eight zero over four four"),
    (330, "blood pressure ninety over fifty"),
    (400, "gastric aspirate four zero zero"),
    (2200, "gastric aspirate two zero zero"),
    (2201, "gastric aspirate clearing"),
    (2300, "companion aspirate three zero"),
)


def sections(note: str) -> dict[str, str]:
    """Title of a section of the note -> what stands under it."""
    parts = re.split(r"^## (.+)$", note, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def cells(section: str) -> list[list[str]]:
    """The rows of the tables of a section, without the times."""
    rows = [row.strip("| ").split(" | ") for row in section.splitlines() if row.startswith("|") and "---" not in row]
    return [[re.sub(r"(at )?\d\d:\d\d:\d\d \(line \d+\)", "@", cell) for cell in row] for row in rows[1:]]


def test_the_note_has_what_was_prepared_tested_and_given() -> None:
    found = sections(as_note(case_of(*AROUND)))
    assert cells(found["Preparation and kit"]) == [
        ["Time-out", "done @"],
        ["Kit", "complete @"],
        ["Kit: lubricant", "missing @"],
        ["Scissors", "taped to the bed @"],
        ["Head of the bed", "45 ° @"],
    ]
    assert cells(found["Leak tests"]) == [
        ["gastric", "250 mL", "@", "0:01:00", "passed @"],
        ["oesophageal", "100 mL", "@", "0:01:00", "failed @"],
    ]
    assert cells(found["Pressure before insertion"]) == [
        ["gastric", "100 mL", "12 mmHg", "@"],
        ["gastric", "200 mL", "14 mmHg", "@"],
    ]
    assert [row[1:] for row in cells(found["Drugs"])] == [["terlipressin", "2 mg"], ["fentanyl", "50 microgram"]]
    assert cells(found["Infusions"])[0] == ["noradrenaline", "@", "@", "0:00:27"]
    assert cells(found["Infusions"])[1][:3] == ["propofol", "@", "**running**"]
    assert cells(found["Blood products and fluids"]) == [
        ["red cells", "3 units", "2 units @; 1 unit @"],
        ["saline", "500 mL", "500 mL @"],
    ]
    assert cells(found["Vital signs"]) == [
        ["Blood pressure", "95/60 mmHg @", "80/44 mmHg @", "80/44 mmHg @"],
        ["Heart rate", "110 /min @", "110 /min @", "110 /min @"],
    ]
    assert "| gastric port | 600 mL | 0 mL | 0 mL | 600 mL | 400 mL/h (over 30 min) |" in found["Totals"]
    assert "| companion port | 30 mL |" in found["Totals"] and "clearing at" in found["Totals"]
    assert "vital sign ~~90/60 mmHg~~ 95/60 mmHg (blood pressure)" in found["Timeline"].replace("\\", "")
    assert "red cells 3 units in all" in found["Timeline"]
    assert "| Blood products | red cells 3 units |" in found["Procedure"]


def test_a_section_without_anything_is_left_out_and_the_scissors_are_asked_for() -> None:
    found = sections(as_note(case_of((1, "tube passed"))))
    assert not {"Drugs", "Infusions", "Vital signs", "Leak tests", "Preparation and kit"} & found.keys()
    assert "No aspirate or lavage is logged." in found["Totals"]
    found = sections(as_note(case_of((1, "kit complete"))))
    assert ["Scissors", "**not logged**"] in cells(found["Preparation and kit"])


def test_a_leak_test_that_nobody_began_or_ended_is_written_as_it_is() -> None:
    case = case_of((1, "gastric balloon leak test passed"), (2, "oesophageal balloon leak test at five zero"))
    alone, held = leak_tests(case.happened)
    assert alone.started is None and alone.ended is not None
    assert held.started is not None and held.ended is None
    assert cells(sections(as_note(case))["Leak tests"]) == [
        ["gastric", "not said", "not said", "", "passed @"],
        ["oesophageal", "50 mL", "@", "", "**no result logged**"],
    ]


def test_a_table_has_the_second_number_only_where_the_line_stands() -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv(case_of(*AROUND)), newline="")))
    found = [
        (r["value"], r["second"], r["second_unit_ucum"], r["original_value"]) for r in rows if r["second_unit_ucum"]
    ]
    assert found == [
        ("started", "250", "mL", "started"),
        ("started", "100", "mL", "started"),
        ("14", "200", "mL", "14"),
        ("12", "100", "mL", "12"),
        ("95", "60", "mm[Hg]", "90"),
        ("80", "44", "mm[Hg]", "80"),
        ("", "", "mm[Hg]", ""),
    ]


def test_every_other_export_takes_it_all() -> None:
    case = case_of(*AROUND)
    for name, export in FORMATS.items():
        written = export.write(case)
        if not isinstance(written, str) or name in ("jsonl", "csv", "debrief-text"):
            continue  # a table has each number by itself, and a debriefing is a summary
        assert "90/60 mmHg" in written or name == "handover-text", name  # there the last reading alone
        assert "14 mmHg at 200 mL" in written or name == "handover-text", name
