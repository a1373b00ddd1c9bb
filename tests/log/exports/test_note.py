"""The procedure note says what the log knows, leaves a blank for everything else, and hides no correction."""

from __future__ import annotations

import re
import unicodedata
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from log.basics.entry import Entry
from log.basics.units import STANDARD_GRAVITY
from log.exports.lines import OPEN as NOT_CONFIRMED
from log.exports.markdown import BLANK
from log.facts.events import CaseClosed, EntryAmended, EntryLogged
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.course import course_of
from log.words.totals import balloon_totals
from log.words.wording import elapsed, newtons
from tests.cases import FIFTEEN_OR_FIFTY, definition, entry, gastric

OPEN = f"**{NOT_CONFIRMED.text}**"

if TYPE_CHECKING:
    from tests.log.exports.conftest import Room


# Elements of a procedure note: Joint Commission (operator, assistants, procedure, findings, blood loss, specimens,
# diagnosis); CMS 42 CFR 482.51(b)(6) and its guidance (identity, times, anaesthesia, complications, device, signature);
# RCS England, Good Surgical Practice 2002 and 2014 (urgency, serial numbers, instructions, anaesthetist, prophylaxis).
ELEMENTS = (
    "Patient, first identifier",
    "Patient, second identifier",
    "Place",
    "Indication",
    "Urgency",
    "Operator",
    "Assistant",
    "Scribe",
    "Anaesthetist",
    "Consent basis",
    "Time-out",
    "Device type",
    "Device size",
    "Device lot or serial number",
    "Start",
    "End",
    "Findings of the procedure",
    "Volumes, pressures and depths",
    "X-ray position confirmed at",
    "X-ray position confirmed by",
    "Traction",
    "Complications",
    "Blood loss",
    "Blood products",
    "Plan: removal time",
    "Plan: definitive therapy",
    "Author of this note",
    "Signature",
    "Amendments",
    "Diagnosis before and after",
    "Specimens",
    "Drugs given",
    "Anaesthesia",
)


@pytest.mark.parametrize("element", ELEMENTS)
def test_every_element_of_a_procedure_note_has_its_place(element: str, whole_case: Room) -> None:
    assert re.search(rf"^\| .*{re.escape(element)}.* \|$", whole_case.note(), re.MULTILINE)


def cell(note: str, element: str) -> str:
    found = re.search(rf"\| {re.escape(element)} \| (.*?) \|", note)
    assert found, element
    return found[1]


def test_what_the_log_cannot_know_is_a_blank_and_a_label_is_no_patient(new_room: type[Room]) -> None:
    note = new_room(label="Bay 4").note()
    assert cell(note, "Patient, first identifier") == BLANK, "on the page that is signed"
    blanks = note.split("## To complete by hand")[1]
    for element in (
        "Operator",
        "Indication",
        "Complications",
        "Airway",
        "X-ray",
        "Traction",
        "End: log closed",
        "Device lot or serial number",
        "Blood loss",
    ):
        assert cell(blanks, element) == BLANK


def test_an_x_ray_that_was_read_otherwise_later_is_not_given_as_confirmation(room: Room) -> None:
    room.say(10, entry("xray", "confirmed"))
    assert cell(room.note(), "X-ray position confirmed at") == "14:00:10 (line 1)"
    room.say(20, entry("xray", "not_confirmed"))
    assert cell(room.note(), "X-ray position confirmed at") == BLANK


# Corrections are marked, dated, given a reason, and leave the original readable: CMS Program Integrity Manual, chapter
# 3, 3.3.2.5; 21 CFR 11.10(e); ICH E6(R2) 4.9.0.


def line_of(note: str, number: int) -> str:
    found = re.search(rf"^\| {number} \| \d.*$", note, re.MULTILINE)
    assert found
    return found[0]


def test_an_amended_line_shows_the_original_struck_through_with_time_and_reason(whole_case: Room) -> None:
    line = line_of(whole_case.note(), 7)
    assert "gastric volume in ~~300 mL~~ 200 mL" in line
    assert 'amended 14:03:30, corrected by the operator (voice 93 %: "correct that to two hundred")' in line


def test_an_amendment_of_more_than_the_value_strikes_the_whole_original(room: Room) -> None:
    room.say(10, gastric(50))
    next_day = room.began + timedelta(days=1)
    room.facts.append(
        EntryAmended(
            logged_at=next_day,
            number=1,
            entry=entry("pressure", 50, "mmHg", "gastric"),
            said_at=next_day,
            reason="wrong | kind",
            origin=Origin(by="typed"),
        )
    )
    line = line_of(room.note(), 1)
    assert "~~gastric volume in 50 mL~~ gastric pressure 50 mmHg" in line
    assert r"amended 2026-10-05 14:00:00+02:00, wrong \| kind (typed)" in line


def test_a_struck_line_is_struck_through_whole_with_when_and_why(whole_case: Room) -> None:
    line = line_of(whole_case.note(), 5)
    assert "~~x-ray not confirmed~~" in line
    assert "struck 14:02:06, struck by the operator" in line


def test_an_answered_question_shows_what_was_asked_and_what_was_answered(whole_case: Room) -> None:
    line = line_of(whole_case.note(), 4)
    assert "asked: gastric volume in 15 mL or gastric volume in 50 mL? (15 and 50 sound alike)" in line
    assert 'answered 14:01:34: gastric volume in 50 mL (voice 93 %: "five zero")' in line
    assert OPEN not in line


def test_an_open_question_is_flagged_and_counts_in_no_total(whole_case: Room) -> None:
    note = whole_case.note()
    assert OPEN in line_of(note, 15)
    assert f"{OPEN}: line 15" in note.split("## Procedure")[0]
    assert "| gastric | 250 mL | 0 mL | 0 mL | 0 mL | 265 or 300 mL? |" in note


def test_a_question_that_was_struck_shows_its_candidates_struck(room: Room) -> None:
    room.say(10, FIFTEEN_OR_FIFTY)
    room.say(12, entry("undo"))
    assert "~~gastric volume in 15 mL or gastric volume in 50 mL?~~" in line_of(room.note(), 1)
    assert room.rows()[0]["value"] == room.rows()[0]["original_value"] == ""


def test_a_late_entry_says_so_with_both_times(room: Room) -> None:
    room.say(10, gastric(50), late=299)
    room.say(20, gastric(50), late=300)
    assert "late" not in line_of(room.note(), 1)
    assert "**late entry**, written down 14:05:20" in line_of(room.note(), 2)


def test_findings_show_level_rule_source_and_whether_they_are_open(whole_case: Room) -> None:
    found = re.findall(r"^\| .*oesophageal\\_ceiling.*$", whole_case.note(), re.MULTILINE)
    assert len(found) == 2
    for row in found:
        assert "| high priority |" in row and r"Let air out \| read again." in row and r"\[local\]" in row
    assert "14:05:10: line 10 was corrected |" in found[0] and "**still open** |" in found[1]


def test_what_was_not_understood_and_when_nothing_could_be_heard_is_in_the_note(whole_case: Room) -> None:
    note = whole_case.note()
    heard = '| 2026-10-04 14:05:40+02:00 | voice 93 %: "mind the cable" | nothing recognised | gastric NUMBER in |'
    assert heard in note
    assert "| 2026-10-04 14:06:31+02:00 | 9.0 s | the microphone was unplugged |" in note


def test_the_clocks_are_read_at_the_last_fact(whole_case: Room) -> None:
    assert "| since gastric inflation | 14:01:30 (line 4) | 0:06:50 |" in whole_case.note()


def test_a_definition_that_is_not_the_one_fingerprinted_is_reported(room: Room, new_room: type[Room]) -> None:
    assert "DOES NOT MATCH" not in room.note()
    assert "DOES NOT MATCH" in new_room(definition_sha256="0" * 64).note()


def test_a_local_override_is_named_with_approver_and_date(room: Room, new_room: type[Room]) -> None:
    note = new_room(override_approved_by="the unit lead", override_approved_on="2026-01-31").note()
    assert cell(note, "Local override") == "approved by the unit lead on 2026-01-31"
    assert cell(room.note(), "Local override") == "none"


# 1 kgf = 9.80665 N exactly (NIST SP 811, appendix B).
@pytest.mark.parametrize(("mass", "force"), [(1, "9.8 N"), (0.5, "4.9 N"), (0.25, "2.5 N"), (0, "0.0 N")])
def test_traction_is_given_as_force_with_one_decimal(mass: float, force: str, room: Room) -> None:
    room.say(10, entry("traction", mass, "kg", detail="weight"))
    assert newtons(mass) == force and STANDARD_GRAVITY == 9.80665
    assert f", weight, {force} at " in cell(room.note(), "Traction")
    assert line_of(room.note(), 1).split(" | ")[4] == force


def test_a_litre_of_saline_pulls_like_its_nominal_kilogram() -> None:
    # 0.9 % saline: 1.0046 g/mL at 20 degrees Celsius, so 9.852 N; the nominal kilogram is right to half a per cent.
    bag = 1.0046 * STANDARD_GRAVITY
    assert bag == pytest.approx(9.852, abs=0.0005)
    assert bag == pytest.approx(STANDARD_GRAVITY, rel=0.005)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00:00"), (59.9, "0:00:59"), (3661, "1:01:01"), (90000, "25:00:00"), (-5, "-0:00:05"), (-0.2, "0:00:00")],
)
def test_elapsed_time_counts_hours_beyond_a_day(seconds: float, text: str, room: Room) -> None:
    assert elapsed(room.began, room.began + timedelta(seconds=seconds)) == text


HOSTILE = "\x1b[2J\x9b31m\u202etxt\u200b | a </td><script>x</script> **b** `c` [d](http://e) ~~f~~ "
HOSTILE += "&amp; \\| \n# g\r\n- h www.i.j"


def test_hostile_words_stay_words_in_the_note(new_room: type[Room]) -> None:
    room = new_room(label=HOSTILE, case=HOSTILE, source=HOSTILE, software=HOSTILE)
    room.say(10, entry("note", HOSTILE, detail=HOSTILE), heard=HOSTILE)
    room.say(20, heard=HOSTILE)
    room.facts.append(CaseClosed(logged_at=room.began, reason=HOSTILE))
    note = room.note()
    assert not [c for c in note if unicodedata.category(c) in ("Cc", "Cf") and c != "\n"]
    html = MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(note)
    assert not re.search(r"<(script|a|code|em|s|h[3-6]|li)\b", html)
    assert html.count("&lt;/td&gt;&lt;script&gt;") == 10 and html.count("**b** `c` [d](http://e) ~~f~~") == 10
    plain = MarkdownIt("commonmark").enable(["table"]).render(new_room(label="x").note())
    assert html.count("<th>") == plain.count("<th>") + 7 + 4  # timeline and "not understood", and no column more


ABOUT_THE_BALLOON = st.one_of(
    st.builds(gastric, st.integers(1, 300)),
    st.builds(lambda volume: entry("volume_total", volume, "mL", "gastric"), st.integers(0, 300)),
    st.builds(lambda site: entry("balloon", "down", site=site), st.sampled_from(["gastric", "both"])),
)


@given(st.lists(ABOUT_THE_BALLOON, min_size=1))
def test_air_in_and_out_adds_up_to_what_is_in_the_balloon(said: list[Entry]) -> None:
    at = datetime.fromisoformat("2026-10-04T14:00:00+02:00")
    record = fold(
        EntryLogged(logged_at=at, number=number, entry=entry, said_at=at, origin=Origin())
        for number, entry in enumerate(said, 1)
    )
    procedure = definition()[0].procedure
    happened = course_of(procedure, record).steps
    total = balloon_totals(procedure, happened, happened[-1].after)[0]
    assert total.put_in - total.taken_out + total.set_by_total - total.deflated == total.now
