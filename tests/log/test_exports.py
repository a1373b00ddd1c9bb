"""What the team takes away says what the log knows, no more, in forms that other programs and people read alike.

Golden files lie in golden/. After a wanted change write them anew with TAMPONADE_GOLDEN=write and read the difference.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import unicodedata
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from log.decide import Heard, decide
from log.errors import InputError
from log.events import CaptureGap, CaseClosed, CaseOpened, EntryAmended, Fact, Origin, from_json
from log.exports import FORMATS
from log.exports.lines import as_jsonl
from log.exports.markdown import BLANK, escaped
from log.exports.note import OPEN, as_note
from log.exports.table import as_csv, harmless
from log.exports.totals import balloon_totals
from log.exports.wording import STANDARD_GRAVITY, elapsed, newtons, ucum, visible
from log.load import in_force, of_case, read_procedure
from log.procedure import (
    LIMITS_THE_RULES_NEED,
    RULES_THAT_NEED_A_SOURCE,
    ChoiceSlot,
    Clock,
    Kind,
    Limit,
    NumberSlot,
    Pattern,
    Procedure,
    Rule,
    Say,
    Tube,
)
from log.record import fold
from log.situation import Situation, steps
from log.spoken import Entry, NotUnderstood, Question, Understood
from log.store import Stored

ZONE = timezone(timedelta(hours=2))
BEGAN = datetime(2026, 10, 4, 14, 0, 0, tzinfo=ZONE)
GOLDEN = Path(__file__).parent / "golden"


def _kind(name: str, title: str, *phrases: str) -> Kind:
    return Kind(id=name, title=title, say=(Say(phrases=phrases or (name,)),))


def _small() -> Procedure:
    """A definition of the tests' own, so that a change of the shipped ones changes no golden file."""
    limits = {name: Limit(level="low", tag="derived", about=name, unit="mL", max=9000, advice="Look.")
              for name in LIMITS_THE_RULES_NEED}
    limits["oesophageal_ceiling"] = Limit(level="high", tag="local", about="oesophageal pressure", unit="mmHg", max=45,
                                          advice="Let air out | read again.")
    return Procedure(
        id="small", title="Two-balloon tube", version="7", lead_word="log", sources={}, limits=limits,
        tube=Tube(lumens=3, balloons=("gastric", "oesophageal")),
        cautions=("Not a medical device.", "The responsible clinician decides."),
        slots={"ml": NumberSlot(type="number", unit="mL", said=(1, 700)),
               "site": ChoiceSlot(type="choice", gives="site", values={"gastric": "gastric"})},
        kind=(_kind("volume_in", "Volume in", "{site} {ml}"), _kind("depth", "Tube depth"), _kind("xray", "X-ray")),
        rules={name: Rule(level="low", tag="derived", message=name) for name in RULES_THAT_NEED_A_SOURCE},
        clock=(Clock(id="up", title="since gastric inflation", starts=Pattern(kind="volume_in", site="gastric"),
                     stops=(Pattern(kind="tube", value="out"),)),),
    )


SMALL = _small()


def opened(procedure: Procedure = SMALL, text: str = '{"id":"small"}', **changes: object) -> CaseOpened:
    """A case that was just begun. The golden files need no whole definition in it."""
    known = {"case": "20261004-140000", "label": "bay 4", "definition": text, "source": "typed",
             "definition_sha256": hashlib.sha256(text.encode()).hexdigest(), "software": "tamponade-log 0.1.0"}
    return CaseOpened.model_validate({"logged_at": BEGAN, **known, **changes})


class Room:
    """Says things to a log and keeps the facts."""

    def __init__(self, procedure: Procedure = SMALL, **changes: object) -> None:
        self.procedure = procedure
        self.facts: list[Fact] = [opened(procedure, **changes)]  # type: ignore[arg-type]

    def say(self, second: float, *items: Entry | Question, heard: str = "as said", by: str = "voice",
            late: float = 0) -> None:
        said = BEGAN + timedelta(seconds=second)
        meaning = Understood(items=items) if items else NotUnderstood(heard=heard, nearest=("gastric NUMBER in",))
        origin = Origin.model_validate({"by": by, "heard": heard, "engine": "vosk", "confidence": 0.93})
        told = Heard(meaning, said, said + timedelta(seconds=late), origin)
        self.facts += decide(self.procedure, fold(self.facts), told)

    @property
    def stored(self) -> list[Stored]:
        return list(enumerate(self.facts, 1))

    def note(self) -> str:
        return as_note(self.procedure, self.stored)

    def rows(self) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(as_csv(self.procedure, self.stored), newline="")))


def entry(kind: str, value: float | str | None = None, unit: str | None = None, site: str | None = None,
          detail: str | None = None) -> Entry:
    return Entry(kind=kind, site=site, value=value, unit=unit, detail=detail)


def gastric(volume: int) -> Entry:
    return entry("volume_in", volume, "mL", "gastric")


FIFTEEN_OR_FIFTY = Question(candidates=(gastric(15), gastric(50)), reason="15 and 50 sound alike")


def whole_case() -> Room:
    """A case with one of everything."""
    room = Room()
    room.say(5, entry("airway", "secured"), heard="airway secured")
    room.say(60, entry("tube", "in"), entry("depth", 52, "cm", "lips"), heard="tube in fifty two at the lips")
    room.say(90, FIFTEEN_OR_FIFTY, heard="gastric fifty")
    room.say(94.5, entry("number", 50), heard="five zero")
    room.say(120, entry("xray", "not_confirmed"), heard="x-ray shows wrong position")
    room.say(126, entry("undo"), heard="scratch that")
    room.say(130, entry("xray", "confirmed"), heard="x-ray confirms position")
    room.say(200, gastric(300), heard="gastric three hundred in")
    room.say(210, entry("correct", 200), heard="correct that to two hundred")
    room.say(260, entry("traction", 1, "kg", detail="fluid bag"), entry("depth", 50, "cm", "lips"), heard="traction on")
    room.say(300, entry("pressure", 60, "mmHg", "oesophageal"), heard="oesophageal pressure sixty")
    room.say(310, entry("correct", 30), heard="make that thirty")
    room.say(320, entry("pressure", 50, "mmHg", "oesophageal"), heard="oesophageal pressure fifty", by="typed")
    room.say(330, entry("aspirate", 400, "mL", "gastric"), entry("lavage_in", 500, "mL"), entry("lavage_out", 450, "mL"))
    room.say(340, heard="mind the cable")
    room.say(360, FIFTEEN_OR_FIFTY, heard="gastric fifty")
    gap = CaptureGap(logged_at=BEGAN + timedelta(seconds=400), began_at=BEGAN + timedelta(seconds=391), seconds=9,
                     reason="the microphone was unplugged")
    room.facts += [gap, CaseClosed(logged_at=BEGAN + timedelta(seconds=500), reason="ended by the scribe")]
    return room


@pytest.mark.parametrize("name", FORMATS)
def test_each_format_writes_what_its_golden_file_shows(name: str) -> None:
    room, path = whole_case(), GOLDEN / f"case{FORMATS[name].suffix}"
    text = FORMATS[name].write(room.procedure, room.stored)
    if os.environ.get("TAMPONADE_GOLDEN") == "write":
        path.write_bytes(text.encode())
    assert text == path.read_bytes().decode()


@pytest.mark.parametrize("name", FORMATS)
def test_each_format_carries_the_cautions_and_says_not_a_medical_device_even_of_an_empty_log(name: str) -> None:
    full, empty = whole_case(), Room()
    text = FORMATS[name].write(full.procedure, full.stored)
    assert all(escaped(caution) in text for caution in SMALL.cautions)
    assert "not a medical device" in FORMATS[name].write(SMALL, empty.stored).lower().replace("_", " ")


@pytest.mark.parametrize("name", FORMATS)
def test_facts_without_an_opening_are_no_case(name: str) -> None:
    if name != "jsonl":  # the audit trail adds nothing up, so it can show damaged cases too
        with pytest.raises(InputError):
            FORMATS[name].write(SMALL, Room().stored[1:])


# Elements of a procedure note: Joint Commission (operator, assistants, procedure, findings, blood loss, specimens,
# diagnosis); CMS 42 CFR 482.51(b)(6) and its guidance (identity, times, anaesthesia, complications, device, signature);
# RCS England, Good Surgical Practice 2002 and 2014 (urgency, serial numbers, instructions, anaesthetist, prophylaxis).
ELEMENTS = (
    "Patient, first identifier", "Patient, second identifier", "Place", "Indication", "Urgency", "Operator", "Assistant",
    "Scribe", "Anaesthetist", "Consent basis", "Time-out", "Device type", "Device size", "Device lot or serial number",
    "Start", "End", "Findings of the procedure", "Volumes, pressures and depths", "X-ray position confirmed at",
    "X-ray position confirmed by", "Traction", "Complications", "Blood loss", "Blood products", "Plan: removal time",
    "Plan: definitive therapy", "Author of this note", "Signature", "Amendments", "Diagnosis before and after",
    "Specimens", "Drugs given", "Anaesthesia",
)


@pytest.mark.parametrize("element", ELEMENTS)
def test_every_element_of_a_procedure_note_has_its_place(element: str) -> None:
    assert re.search(rf"^\| .*{re.escape(element)}.* \|$", whole_case().note(), re.MULTILINE)


def cell(note: str, element: str) -> str:
    found = re.search(rf"^\| {re.escape(element)} \| (.*) \|$", note, re.MULTILINE)
    assert found, element
    return found[1]


def test_what_the_log_cannot_know_is_a_blank_and_a_label_is_no_patient() -> None:
    note = Room(label="Bay 4").note()
    for element in ("Patient, first identifier", "Operator", "Indication", "Complications", "Airway", "X-ray",
                    "Traction", "End: log closed", "Device lot or serial number", "Blood loss"):
        assert cell(note, element) == BLANK


def test_an_x_ray_that_was_read_otherwise_later_is_not_given_as_confirmation() -> None:
    room = Room()
    room.say(10, entry("xray", "confirmed"))
    assert cell(room.note(), "X-ray position confirmed at") == "2026-10-04 14:00:10+02:00 (line 1)"
    room.say(20, entry("xray", "not_confirmed"))
    assert cell(room.note(), "X-ray position confirmed at") == BLANK


# Corrections are marked, dated, given a reason, and leave the original readable: CMS Program Integrity Manual, chapter
# 3, 3.3.2.5; 21 CFR 11.10(e); ICH E6(R2) 4.9.0.


def line_of(note: str, number: int) -> str:
    found = re.search(rf"^\| {number} \| \d.*$", note, re.MULTILINE)
    assert found
    return found[0]


def test_an_amended_line_shows_the_original_struck_through_with_time_and_reason() -> None:
    line = line_of(whole_case().note(), 7)
    assert "gastric volume in ~~300 mL~~ 200 mL" in line
    assert 'amended 14:03:30, corrected by the operator (voice 93 %: "correct that to two hundred")' in line


def test_an_amendment_of_more_than_the_value_strikes_the_whole_original() -> None:
    room = Room()
    room.say(10, gastric(50))
    room.facts.append(EntryAmended(logged_at=BEGAN, number=1, entry=entry("pressure", 50, "mmHg", "gastric"),
                                   said_at=BEGAN + timedelta(days=1), reason="wrong | kind", origin=Origin(by="typed")))
    line = line_of(room.note(), 1)
    assert "~~gastric volume in 50 mL~~ gastric pressure 50 mmHg" in line
    assert r"amended 2026-10-05 14:00:00+02:00, wrong \| kind (typed)" in line


def test_a_struck_line_is_struck_through_whole_with_when_and_why() -> None:
    line = line_of(whole_case().note(), 5)
    assert "~~X-ray not confirmed~~".lower() in line.lower()
    assert "struck 14:02:06, struck by the operator" in line


def test_an_answered_question_shows_what_was_asked_and_what_was_answered() -> None:
    line = line_of(whole_case().note(), 4)
    assert "asked: gastric volume in 15 mL or gastric volume in 50 mL? (15 and 50 sound alike)" in line
    assert 'answered 14:01:34: gastric volume in 50 mL (voice 93 %: "five zero")' in line
    assert OPEN not in line


def test_an_open_question_is_flagged_and_counts_in_no_total() -> None:
    note = whole_case().note()
    assert OPEN in line_of(note, 15)
    assert f"{OPEN}: line 15" in note.split("## Procedure")[0]
    assert "| gastric | 250 mL | 0 mL | 0 mL | 0 mL | 250 mL |" in note


def test_a_question_that_was_struck_shows_its_candidates_struck() -> None:
    room = Room()
    room.say(10, FIFTEEN_OR_FIFTY)
    room.say(12, entry("undo"))
    assert "~~gastric volume in 15 mL or gastric volume in 50 mL?~~" in line_of(room.note(), 1)
    assert room.rows()[0]["value"] == room.rows()[0]["original_value"] == ""


def test_a_late_entry_says_so_with_both_times() -> None:
    room = Room()
    room.say(10, gastric(50), late=299)
    room.say(20, gastric(50), late=300)
    assert "late" not in line_of(room.note(), 1)
    assert "late entry, written down 14:05:20" in line_of(room.note(), 2)


def test_findings_show_level_rule_source_and_whether_they_are_open() -> None:
    found = re.findall(r"^\| .*oesophageal\\_ceiling.*$", whole_case().note(), re.MULTILINE)
    assert len(found) == 2
    assert all("| high priority |" in row and r"Let air out \| read again." in row and r"\[local\]" in row for row in found)
    assert "14:05:10: line 10 was corrected |" in found[0] and "**still open** |" in found[1]


def test_what_was_not_understood_and_when_nothing_could_be_heard_is_in_the_note() -> None:
    note = whole_case().note()
    assert '| 2026-10-04 14:05:40+02:00 | voice 93 %: "mind the cable" | not understood | gastric NUMBER in |' in note
    assert "| 2026-10-04 14:06:31+02:00 | 9.0 s | the microphone was unplugged |" in note


def test_the_clocks_are_read_at_the_last_fact() -> None:
    assert "| since gastric inflation | 2026-10-04 14:01:30+02:00 (line 4) | 0:06:50 |" in whole_case().note()


def test_a_definition_that_is_not_the_one_fingerprinted_is_told() -> None:
    assert "DOES NOT MATCH" not in Room().note()
    assert "DOES NOT MATCH" in Room(definition_sha256="0" * 64).note()


def test_a_local_override_is_named_with_approver_and_date() -> None:
    note = Room(override_approved_by="the unit lead", override_approved_on="2026-01-31").note()
    assert cell(note, "Local override") == "approved by the unit lead on 2026-01-31"
    assert cell(Room().note(), "Local override") == "none"


# 1 kgf = 9.80665 N exactly (NIST SP 811, appendix B). A litre of 0.9 % saline weighs 1.0046 kg at 20 degrees Celsius, so
# a bag of it pulls with 9.852 N: the nominal kilogram is right to half a per cent.
@pytest.mark.parametrize(("mass", "force"), [(1, "9.8 N"), (0.5, "4.9 N"), (0.25, "2.5 N"), (1.0046, "9.9 N"), (0, "0.0 N")])
def test_traction_is_given_as_force_with_one_decimal(mass: float, force: str) -> None:
    assert newtons(mass) == force
    assert STANDARD_GRAVITY == 9.80665
    room = Room()
    room.say(10, entry("traction", mass, "kg", detail="weight"))
    assert cell(room.note(), "Traction").endswith(force) or force in cell(room.note(), "Traction")


def test_a_litre_of_saline_pulls_like_its_nominal_kilogram() -> None:
    assert 1.0046 * STANDARD_GRAVITY == pytest.approx(9.852, abs=0.0005)
    assert 1.0046 * STANDARD_GRAVITY == pytest.approx(1 * STANDARD_GRAVITY, rel=0.005)


# RFC 3339 section 5.6: date, time and an offset, always.
RFC_3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


@pytest.mark.parametrize("zone", [UTC, ZONE, timezone(-timedelta(hours=3, minutes=30))])
def test_times_are_rfc_3339_in_the_zone_of_the_room(zone: timezone) -> None:
    room = Room()
    room.say(10.25, gastric(50))
    room.facts = [f.model_copy(update={k: v.astimezone(zone) for k, v in f if isinstance(v, datetime)}) for f in room.facts]
    row = room.rows()[0]
    for name in ("said_at", "logged_at"):
        assert RFC_3339.fullmatch(row[name])
        assert datetime.fromisoformat(row[name]) == BEGAN + timedelta(seconds=10.25)
        assert datetime.fromisoformat(row[name]).utcoffset() == zone.utcoffset(None)
    assert row["elapsed_s"] == "10.250"
    assert datetime.fromisoformat(line_of(room.note(), 1).split(" | ")[2]) == BEGAN + timedelta(seconds=10)


@pytest.mark.parametrize(("seconds", "text"), [(0, "0:00:00"), (59.9, "0:00:59"), (3661, "1:01:01"), (90000, "25:00:00"),
                                               (-5, "-0:00:05"), (-0.2, "0:00:00")])
def test_elapsed_time_counts_hours_beyond_a_day(seconds: float, text: str) -> None:
    assert elapsed(BEGAN, BEGAN + timedelta(seconds=seconds)) == text


def test_units_in_the_table_are_ucum_codes() -> None:
    # UCUM, case-sensitive codes: mL, mm[Hg], cm, kg; braces hold an annotation.
    assert {row["unit_ucum"] for row in whole_case().rows()} == {"", "mL", "mm[Hg]", "cm", "kg"}
    assert ucum("puffs") == "{puffs}" and ucum(None) == ucum("") == ""


def test_the_table_is_as_rfc_4180_has_it() -> None:
    room = Room()
    room.say(10, gastric(50), heard='he said "fifty", or\nfive zero')
    text = as_csv(SMALL, room.stored)
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    header, row = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert len(header) == len(row) == len(set(header))
    assert room.rows()[0]["heard"] == 'he said "fifty", or five zero'


def test_adding_up_the_value_column_counts_nothing_struck_or_unconfirmed() -> None:
    room = whole_case()
    room.say(600, gastric(70))
    room.say(601, entry("undo"))
    rows = [row for row in room.rows() if row["kind"] == "volume_in"]
    assert sum(float(row["value"] or 0) for row in rows) == 250
    assert [(row["status"], row["value"], row["original_value"]) for row in rows] == [
        ("stands", "50", ""), ("stands", "200", "300"), ("asked", "", ""), ("struck", "", "70")]


# OWASP, CSV Injection: cells that begin with these are taken for formulas.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " =", "\t=", "＝"])
def test_no_heard_word_becomes_a_formula(start: str) -> None:
    room = Room()
    room.say(10, entry("note", f"{start}1+1", detail=f"{start}HYPERLINK(1)"), heard=f'{start}cmd|" /C calc"!A0')
    row = room.rows()[0]
    assert all(row[name].startswith("'") for name in ("value", "detail", "heard"))
    assert harmless("gastric = 50") == "gastric = 50"


HOSTILE = "\x1b[2J\x9b31m\u202etxt\u200b | a </td><script>x</script> **b** `c` [d](http://e) ~~f~~ &amp; \\| \n# g\r\n- h www.i.j"


def test_hostile_words_stay_words_in_the_note() -> None:
    room = Room(label=HOSTILE, case=HOSTILE, source=HOSTILE, software=HOSTILE)
    room.say(10, entry("note", HOSTILE, detail=HOSTILE), heard=HOSTILE)
    room.say(20, heard=HOSTILE)
    room.facts.append(CaseClosed(logged_at=BEGAN, reason=HOSTILE))
    note = room.note()
    assert not [c for c in note if unicodedata.category(c) in ("Cc", "Cf") and c != "\n"]
    html = MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(note)
    assert not re.search(r"<(script|a|code|em|s|h[3-6]|li)\b", html)
    assert html.count("&lt;/td&gt;&lt;script&gt;") == 8 and html.count("**b** `c` [d](http://e) ~~f~~") == 8
    plain = MarkdownIt("commonmark").enable(["table"]).render(Room(label="x").note())
    assert html.count("<th>") == plain.count("<th>") + 7 + 4  # timeline and "not understood", and no column more


@pytest.mark.parametrize("name", FORMATS)
def test_no_export_can_steer_a_terminal_or_fail_to_be_written(name: str) -> None:
    room = Room(label=HOSTILE + "\x7f\ud800")
    room.say(10, entry("note", HOSTILE), heard="\x00\x07\ud800")
    text = FORMATS[name].write(SMALL, room.stored) if name != "jsonl" else as_jsonl(SMALL, Room(label=HOSTILE + "\x7f").stored)
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf") and c not in "\r\n"]
    assert text.encode()


def test_control_characters_are_shown_not_dropped() -> None:
    assert visible("a\x1bb\x7f\nc\u2028") == "a␛b\N{REPLACEMENT CHARACTER} c\N{REPLACEMENT CHARACTER}"


def test_the_audit_trail_holds_every_fact_as_it_was_written() -> None:
    room = whole_case()
    room.facts[0] = opened(label="Zürich \x7f \u2028")
    text = as_jsonl(SMALL, room.stored)
    head, *lines = [json.loads(line) for line in text.splitlines()]
    assert head == {"format": "tamponade-log facts", "version": 1, "cautions": list(SMALL.cautions)}
    assert [line.pop("seq") for line in lines] == list(range(1, len(room.facts) + 1))
    assert [from_json(json.dumps(line)) for line in lines] == room.facts
    assert text.isascii()


@given(st.lists(st.one_of(
    st.builds(gastric, st.integers(1, 300)),
    st.builds(lambda v: entry("volume_total", v, "mL", "gastric"), st.integers(0, 300)),
    st.builds(lambda site: entry("balloon", "down", site=site), st.sampled_from(["gastric", "both"])),
)))
def test_air_in_and_out_adds_up_to_what_is_in_the_balloon(said: list[Entry]) -> None:
    room = Room()
    room.say(1, *said or [gastric(50)])
    happened = steps(fold(room.facts).standing)
    total = balloon_totals(SMALL, happened, happened[-1].after)[0]
    assert total.put_in - total.taken_out + total.set_by_total - total.let_down == total.now


def test_a_tube_with_no_entry_has_empty_balloons() -> None:
    assert [total.now for total in balloon_totals(SMALL, (), Situation())] == [0, 0]


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_the_definition_of_a_case_is_the_one_it_was_begun_with(name: str) -> None:
    shipped = in_force(read_procedure(name), None)
    case = opened(shipped.procedure, shipped.text)
    assert of_case([case]) == shipped.procedure
    room = Room(shipped.procedure, text=shipped.text)
    room.say(10, gastric(250), entry("traction", "on"))
    assert cell(room.note(), "Traction") != BLANK
    assert room.note().count("**still open**") >= 3


@pytest.mark.parametrize("facts", [[], [opened(text="{}")], [opened(text="not json")]])
def test_a_case_whose_definition_cannot_be_read_is_told_in_one_line(facts: list[Fact]) -> None:
    with pytest.raises(InputError) as told:
        of_case(facts)
    assert "\n" not in str(told.value)


def test_exporting_is_a_pure_function_of_the_case(monkeypatch: pytest.MonkeyPatch) -> None:
    write: Callable[[], list[str]] = lambda: [f.write(SMALL, whole_case().stored) for f in FORMATS.values()]  # noqa: E731
    before = write()
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    assert write() == before
