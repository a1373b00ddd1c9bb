"""The FHIR document says what the log says: values only where they stand, corrections readable, nothing of its own.

Each resource is read by fhir.resources, which knows R4B (4.3.0) and no longer R4 (4.0.1), the release we write. R4B
reworked a few families of resources (medication definition, evidence, subscription) and left ours as they were, from
memory; so what it refuses is wrong in R4 too. fhirkit was made from the StructureDefinitions of R4 and reports each
element that is missing, unknown, too often or of another type. Neither looks at value sets nor at most invariants:
tests.log.exports.fhir_r4 does.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from log.basics.entry import Entry, Question
from log.exports.deidentify import deidentified
from log.exports.fhir import as_fhir
from log.exports.fhir.parts import instant
from log.facts.events import Fact
from log.facts.record import fold
from log.store.identifiers import Identifiers
from log.summaries.whole import Whole
from tests.cases import Said, case_of, whole_of
from tests.log.exports.fhir_cases import (
    AUTHOR,
    BEGAN,
    PHRASES,
    acknowledged,
    amended,
    closed,
    facts_of,
    gap,
    late,
    named,
    note,
    seconds,
    spoken,
    whole_case,
)
from tests.log.exports.fhir_r4 import ABSENT, UCUM, Json, problems, resources


def document(case: Whole) -> Json:
    """The document as its readers get it."""
    bundle = json.loads(as_fhir(case))
    assert isinstance(bundle, dict)
    return bundle


def line(case: Whole, number: int, kind: str = "Observation") -> Json:
    """The resource of one line."""
    value = f"{case.opened.case}/{number}"
    return next(r for r in resources(document(case), kind) if r["identifier"][0]["value"] == value)


def only(bundle: Json, kind: str) -> Json:
    (found,) = resources(bundle, kind)
    return found


def notes(resource: Json) -> str:
    return "\n".join(note["text"] for note in resource["note"])


def refused_by_the_library(bundle: Json) -> bool:
    from fhir.resources.R4B.bundle import Bundle
    from pydantic import ValidationError

    try:
        Bundle.model_validate(bundle)
    except ValidationError:
        return True
    return False


def refused_by_r4(bundle: Json) -> list[str]:
    """What the definitions of R4 say against it, each with its path."""
    fhirkit = pytest.importorskip("fhirkit")
    return [str(issue) for issue in fhirkit.validate(bundle)]


CASES: dict[str, Callable[[], Whole]] = {
    "everything": whole_case,
    "nothing said": lambda: whole_of(facts_of(())),
    "unsigned": lambda: whole_of([*facts_of(PHRASES[:8]), closed()], signer=None),
    "without identity": lambda: deidentified(whole_case())[0],
    "drugs": lambda: spoken(
        "terlipressin two milligrams",
        "red cells two units in",
        "ceftriaxone one gram given",
        "scratch that",
        "saline five zero zero mils in",
        "fentanyl five zero micrograms",
        "vasopressin one zero international units",
        "calcium given",
    ),
    "vital signs": lambda: spoken(
        "blood pressure nine zero over six zero",
        "heart rate one one zero",
        "oxygen saturation nine four percent",
        "haemoglobin seven two",
        "head up four five",
    ),
}


# ---- what FHIR asks ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CASES)
def test_every_resource_is_one_that_fhir_knows(name: str) -> None:
    bundle = document(CASES[name]())
    assert not refused_by_the_library(bundle)
    assert refused_by_r4(bundle) == []
    assert problems(bundle) == []


def test_the_library_reads_what_is_inside_a_bundle_but_not_its_value_sets() -> None:
    bundle = document(spoken("gastric five zero in"))
    del only(bundle, "Observation")["code"]
    assert refused_by_the_library(bundle)
    assert [one.rpartition(".")[2] for one in refused_by_r4(bundle)] == ["code: required element missing"]
    only(bundle, "Composition")["colour"] = "red"
    assert any("unknown element" in one for one in refused_by_r4(bundle))
    bundle = document(spoken("gastric five zero in"))
    bundle["type"] = only(bundle, "Observation")["status"] = "nonsense"
    assert not refused_by_the_library(bundle)
    assert len(problems(bundle)) == 2


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda b: b.pop("timestamp"), "bdl-10"),
        (lambda b: b["identifier"].pop("system"), "bdl-9"),
        (lambda b: b["entry"].append(b["entry"].pop(0)), "bdl-11"),
        (lambda b: b["entry"].append(b["entry"][3]), "bdl-7"),
        (lambda b: b["entry"].pop(), "is not in the bundle"),
        (lambda b: only(b, "Observation").pop("valueQuantity"), "obs-6"),
        (lambda b: only(b, "Observation").update(dataAbsentReason={"text": "?"}), "obs-6"),
        (lambda b: only(b, "Observation").update(issued="2026"), "no instant"),
        (lambda b: only(b, "Observation")["text"].update(div="<div>x<script/></div>"), "txt-1"),
        (lambda b: only(b, "Observation")["code"]["coding"][0].update(system="http://snomed.info/sct"), "not for us"),
        (lambda b: resources(b, "Provenance")[0]["agent"][0].pop("who"), "no who"),
        (lambda b: only(b, "Procedure").update(status="active"), "not in its value set"),
    ],
)
def test_our_own_check_sees_what_the_library_does_not(spoil: Callable[[Json], object], told: str) -> None:
    bundle = document(spoken("gastric five zero in"))
    bundle["entry"] = [e for e in bundle["entry"] if e["resource"]["resourceType"] != "DetectedIssue"]
    bundle["entry"] += [bundle["entry"].pop(-1)]
    spoil(bundle)
    assert any(told in problem for problem in problems(bundle))


@settings(max_examples=20)
@given(
    said=st.lists(st.sampled_from(PHRASES), max_size=8),
    end=st.booleans(),
    without_identity=st.booleans(),
    text=st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
)
def test_whatever_is_said_the_document_is_sound(said: list[str], end: bool, without_identity: bool, text: str) -> None:
    free = Entry(kind=text, site=text, value=text, unit=text, detail=text)
    facts = facts_of([*said, free, Entry(kind="drug", value=0.1, detail=text)], label=text, case=text, software=text)
    facts += [gap(text), *([closed(text)] if end else [])]
    case = whole_of(facts, identifiers=Identifiers(operator=text, device_lot=text))
    bundle = document(deidentified(case)[0] if without_identity else case)
    assert problems(bundle) == []
    assert not refused_by_the_library(bundle)
    assert refused_by_r4(bundle) == []


# ---- lines: what stands, what is asked, what was corrected -----------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "value", "code", "site"),
    [
        ("gastric five zero in", 50, "mL", "gastric balloon"),
        ("oesophageal pressure three five", 35, "mm[Hg]", "oesophageal balloon"),
        ("tube at five two at the lips", 52, "cm", "lips"),
        ("traction half a litre bag on", 0.5, "kg", None),
        ("gastric aspirate four zero zero of blood", 400, "mL", "gastric port"),
        ("lavage two five zero in", 250, "mL", None),
    ],
)
def test_a_measured_line_is_a_quantity_with_its_ucum_code(said: str, value: float, code: str, site: str | None) -> None:
    observation = line(spoken(said), 1)
    assert observation["valueQuantity"]["value"] == value
    assert observation["valueQuantity"]["system"] == "http://unitsofmeasure.org"
    assert observation["valueQuantity"]["code"] == code
    assert code in UCUM
    assert observation.get("bodySite", {}).get("text") == site
    assert observation["status"] == "final"


def test_a_unit_that_ucum_does_not_know_is_an_annotation_or_its_text_alone() -> None:
    case = spoken(Entry(kind="drug", value=2, unit="puffs"), Entry(kind="drug", value=2, unit="a b"))
    doses = [r["dosage"]["dose"] for r in resources(document(case), "MedicationAdministration")]
    assert doses[0] == {"value": 2, "unit": "puffs", "system": "http://unitsofmeasure.org", "code": "{puffs}"}
    assert doses[1] == {"value": 2, "unit": "a b"}


def test_a_line_that_is_a_word_is_coded_in_our_own_system_beside_its_text() -> None:
    value = line(spoken("x-ray shows wrong position"), 1)["valueCodeableConcept"]
    assert value["text"] == "not confirmed"
    assert value["coding"][0]["system"].startswith("urn:tamponade-log:")
    assert value["coding"][0]["code"] == "not_confirmed"


def test_a_marked_time_has_no_value_and_says_why() -> None:
    observation = line(spoken("mark the time"), 1)
    assert observation["dataAbsentReason"]["coding"] == [{"system": ABSENT, "code": "not-applicable"}]


def test_the_time_is_when_it_was_said_and_issued_is_when_it_was_written_down() -> None:
    depth = Entry(kind="depth", site="lips", value=50, unit="cm")
    observation = line(whole_of([*facts_of(["gastric five zero in"]), late(2, depth)]), 2)
    assert datetime.fromisoformat(observation["effectiveDateTime"]) == seconds(700)
    assert datetime.fromisoformat(observation["issued"]) == seconds(2100)
    assert "late entry" in notes(observation) and "both hands were busy" in notes(observation)


def test_an_unconfirmed_line_has_no_value_that_a_machine_could_add_up() -> None:
    observation = line(spoken("gastric in fifty"), 1)
    assert observation["status"] == "preliminary"
    assert not [name for name in observation if name.startswith("value")]
    assert observation["dataAbsentReason"]["coding"] == [{"system": ABSENT, "code": "unknown"}]
    assert "component" not in observation
    assert "NOT CONFIRMED" in notes(observation) and "50 mL or gastric volume in 15 mL" in notes(observation)


def test_an_answered_question_is_final() -> None:
    observation = line(spoken("gastric in fifty", "five zero"), 1)
    assert (observation["status"], observation["valueQuantity"]["value"]) == ("final", 50)
    assert "asked" in notes(observation) and "confirmed when asked" in notes(observation)


def test_a_question_about_different_kinds_has_neither_kind_nor_site() -> None:
    candidates = (Entry(kind="volume_in", site="gastric", value=40), Entry(kind="pressure", value=40))
    facts = facts_of(["mark the time", "gastric in fifty"])
    facts = [f.model_copy(update={"candidates": candidates}) if f.fact == "entry_asked" else f for f in facts]
    observation = line(whole_of(facts), 2)
    assert observation["code"]["coding"][0]["code"] == "unconfirmed"
    assert "bodySite" not in observation


def test_a_struck_line_is_kept_with_its_value_as_entered_in_error() -> None:
    observation = line(spoken("gastric one five zero in", "scratch that"), 1)
    assert observation["status"] == "entered-in-error"
    assert observation["valueQuantity"]["value"] == 150
    assert "struck: gastric volume in 150 mL" in notes(observation)


def test_a_struck_question_never_had_a_value() -> None:
    observation = line(spoken("gastric in fifty", "scratch that"), 1)
    assert observation["status"] == "entered-in-error"
    assert "valueQuantity" not in observation
    assert "struck: gastric volume in 50 mL or gastric volume in 15 mL?" in notes(observation)


def test_a_changed_value_is_corrected_and_the_first_one_can_be_read() -> None:
    observation = line(spoken("oesophageal pressure six zero", "correct last to three five"), 1)
    assert (observation["status"], observation["valueQuantity"]["value"]) == ("corrected", 35)
    assert "oesophageal pressure 60 mmHg -> oesophageal pressure 35 mmHg" in notes(observation)


def test_a_changed_time_alone_is_amended() -> None:
    facts = facts_of(["gastric five zero in"])
    volume = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
    observation = line(whole_of([*facts, amended(1, volume, seconds(12))]), 1)
    assert observation["status"] == "amended"
    assert datetime.fromisoformat(observation["effectiveDateTime"]) == seconds(12)
    assert "amended: gastric volume in 50 mL, time was 23:50:30" in notes(observation)
    assert "read from the chart" in notes(observation)


def test_a_command_that_was_asked_is_narrated_but_observes_nothing() -> None:
    case = spoken("gastric five zero in", "correct last to fifteen")
    assert [each.entry.kind for each in case.record.lines] == ["volume_in", "correct"]
    bundle = document(case)
    assert only(bundle, "Observation")["code"]["text"] == "Volume in"
    lines = resources(bundle, "Composition")[0]["section"][2]["text"]["div"]
    assert "NOT CONFIRMED - counts in no total</strong>: correct 15" in lines


def test_drugs_blood_and_fluids_are_administrations_with_their_dose() -> None:
    found = resources(document(CASES["drugs"]()), "MedicationAdministration")
    told = [(r["medicationCodeableConcept"]["text"], r["status"], r.get("dosage", {}).get("dose")) for r in found]
    assert [(name, status, dose and (dose["value"], dose["code"])) for name, status, dose in told] == [
        ("terlipressin", "completed", (2, "mg")),
        ("red cells", "completed", (2, "{unit}")),
        ("ceftriaxone", "entered-in-error", (1, "g")),
        ("saline", "completed", (500, "mL")),
        ("fentanyl", "completed", (50, "ug")),
        ("vasopressin", "completed", (10, "[IU]")),
        ("calcium", "completed", None),
    ]


def test_an_infusion_is_one_administration_from_its_start_to_its_end() -> None:
    said = ("noradrenaline infusion started", "propofol infusion running", "noradrenaline infusion stopped")
    bundle = document(spoken(*said))
    first, second = resources(bundle, "MedicationAdministration")
    assert first["status"] == "completed" and second["status"] == "in-progress"
    assert first["effectivePeriod"] == {"start": instant(seconds(30)), "end": instant(seconds(90))}
    assert second["effectivePeriod"] == {"start": instant(seconds(60))}
    assert only(bundle, "Observation")["valueCodeableConcept"]["text"] == "infusion stopped"
    assert problems(bundle) == []


def test_a_blood_pressure_has_two_components_and_no_value() -> None:
    observation = line(spoken("blood pressure nine zero over six zero"), 1)
    assert observation["code"]["text"] == "blood pressure"
    assert [coding["code"] for coding in observation["code"]["coding"]] == ["85354-9", "blood-pressure", "vital"]
    assert not [name for name in observation if name.startswith("value")] and "dataAbsentReason" not in observation
    parts = {part["code"]["text"]: part.get("valueQuantity", {}) for part in observation["component"]}
    assert {name: (q["value"], q["code"]) for name, q in parts.items() if q} == {
        "Systolic pressure": (90, "mm[Hg]"),
        "Diastolic pressure": (60, "mm[Hg]"),
    }


@pytest.mark.parametrize(
    ("said", "volume"),
    [("gastric test one zero zero pressure one two", 100), ("gastric balloon leak test at two five zero", 250)],
)
def test_a_test_before_insertion_has_its_volume_as_a_component(said: str, volume: int) -> None:
    observation = line(spoken(said), 1)
    (part,) = observation["component"]
    assert part["code"]["coding"][0]["code"] == "volume"
    assert (part["valueQuantity"]["value"], part["valueQuantity"]["code"]) == (volume, "mL")
    assert observation["bodySite"]["text"] == "gastric balloon"


def test_a_blood_pressure_that_was_answered_or_corrected_says_so() -> None:
    observation = line(spoken("blood pressure ninety over fifty", "one five", "correct last to nine five"), 1)
    assert observation["status"] == "corrected"
    values = [part["valueQuantity"]["value"] for part in observation["component"] if "valueQuantity" in part]
    assert values == [95, 15]
    assert "blood pressure" in notes(observation) and "90/50 mmHg" in notes(observation)


def test_an_unconfirmed_drug_was_not_given() -> None:
    dose = Question(
        candidates=(Entry(kind="drug", value=13), Entry(kind="drug", value=30)), why="sound alike", text="sound alike"
    )
    facts = facts_of(["gastric in fifty"])
    facts = [f.model_copy(update={"candidates": dose.candidates}) if f.fact == "entry_asked" else f for f in facts]
    bundle = document(whole_of(facts))
    assert not resources(bundle, "MedicationAdministration")
    assert only(bundle, "Observation")["status"] == "preliminary"


# ---- around the lines ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "end", "status", "use"),
    [
        ((), False, "preparation", "intended"),
        (("airway secured", "gastric balloon leak test passed"), False, "preparation", "intended"),
        (("kit complete", "terlipressin two milligrams", "heart rate one one zero"), False, "preparation", "intended"),
        (("airway secured",), True, "unknown", None),
        (("gastric five zero in",), False, "unknown", None),
        (("tube passed",), False, "in-progress", "active"),
        (("tube passed",), True, "in-progress", "active"),
        (("tube passed", "tube out"), False, "completed", "completed"),
        (("tube out",), False, "completed", "completed"),
        (("tube passed", "scratch that"), False, "preparation", "intended"),
    ],
)
def test_the_procedure_lasts_as_long_as_the_tube_is_in(
    said: tuple[Said, ...], end: bool, status: str, use: str | None
) -> None:
    bundle = document(whole_of([*facts_of(said), *([closed()] if end else [])]))
    assert only(bundle, "Procedure")["status"] == status
    assert [each["status"] for each in resources(bundle, "DeviceUseStatement")] == ([use] if use else [])
    assert problems(bundle) == []


def test_each_tube_is_a_device_a_use_and_a_procedure_with_its_own_time() -> None:
    bundle = document(spoken("tube passed", "tube out", "gastric leak test passed", "tube passed", "bleeding stopped"))
    times = [{"start": instant(seconds(30)), "end": instant(seconds(60))}, {"start": instant(seconds(120))}]
    procedures, uses = resources(bundle, "Procedure"), resources(bundle, "DeviceUseStatement")
    assert [each["performedPeriod"] for each in procedures] == times
    assert [each["timingPeriod"] for each in uses] == times
    assert [each["status"] for each in procedures] == ["completed", "in-progress"]
    devices = [each for each in bundle["entry"] if each["resource"]["resourceType"] == "Device"]
    tubes = [each for each in devices if "lumens" in str(each["resource"]["text"])]
    assert [each["device"]["reference"] for each in uses] == [tube["fullUrl"] for tube in tubes]
    of = [each["partOf"][0]["reference"] for each in resources(bundle, "Observation")]
    first, second = (each["fullUrl"] for each in bundle["entry"] if each["resource"]["resourceType"] == "Procedure")
    assert of == [first, first, second, second, second]
    assert problems(bundle) == []


def test_nobody_is_named_unless_it_was_written_down_and_the_label_is_no_name() -> None:
    bundle = document(spoken("tube passed"))
    patient = only(bundle, "Patient")
    assert patient.keys() == {"resourceType", "text"}
    assert not resources(bundle, "Practitioner")
    assert "bay 4" not in json.dumps([each for each in resources(bundle) if each["resourceType"] != "Composition"])


def test_names_that_were_written_down_are_in_their_places() -> None:
    bundle = document(whole_of(facts_of(["tube passed"]), identifiers=named()))
    patient, procedure = only(bundle, "Patient"), only(bundle, "Procedure")
    assert [each["value"] for each in patient["identifier"]] == ["first-1234", "second-5678"]
    assert "name" not in patient
    assert [each["name"][0]["text"] for each in resources(bundle, "Practitioner")] == [
        "Operator Invented",
        "Assistant Invented",
        "Scribe Invented",
        "Anaesthetist Invented",
    ]
    assert [each["function"]["text"] for each in procedure["performer"]] == ["operator", "assistant", "anaesthetist"]
    assert procedure["location"] == {"display": "Bay Invented"}
    tube = resources(bundle, "Device")[1]
    assert tube["identifier"][0]["value"] == "lot-4711"
    assert tube["property"][0]["valueCode"] == [{"text": "size 20"}]
    assert len(resources(bundle, "Composition")[0]["author"]) == 3


def test_the_note_is_unsigned_and_begins_with_the_cautions() -> None:
    case = whole_case()
    composition = resources(document(case), "Composition")[0]
    assert composition["status"] == "preliminary"
    assert composition["section"][0]["title"] == "Cautions"
    for text in (composition["text"]["div"], composition["section"][0]["text"]["div"]):
        assert all(caution in text for caution in case.procedure.cautions)
    assert [section["title"] for section in composition["section"]] == [
        "Cautions",
        "Procedure and tube",
        "Lines of the log",
        "Totals",
        "Findings",
        "Notes",
        "Spoken notes",
        "Corrections",
        "Gaps in hearing",
        "Not understood",
        "Made with",
    ]


def test_readers_find_every_line_correction_gap_and_missed_word() -> None:
    composition = resources(document(whole_case()), "Composition")[0]
    text = {section["title"]: section["text"]["div"] for section in composition["section"]}
    assert 'line-through">time marked' in text["Lines of the log"]
    assert "oesophageal pressure 60 mmHg -&gt; oesophageal pressure 35 mmHg" in text["Corrections"]
    assert "the microphone was unplugged" in text["Gaps in hearing"]
    assert "mind the cable please" in text["Not understood"]


def test_a_finding_is_an_issue_about_its_line_and_keeps_how_it_was_settled() -> None:
    bundle = document(spoken("oesophageal pressure six zero", "correct last to three five"))
    ceiling = next(
        issue
        for issue in resources(bundle, "DetectedIssue")
        if issue["code"]["coding"][0]["code"] == "oesophageal_ceiling"
    )
    assert (ceiling["severity"], ceiling["status"]) == ("high", "final")
    assert "60 mmHg is above the limit" in ceiling["detail"] and "[published]" in ceiling["detail"]
    about = next(e for e in bundle["entry"] if e["resource"]["resourceType"] == "Observation")
    assert ceiling["evidence"] == [{"detail": [{"reference": about["fullUrl"]}]}]
    assert ceiling["mitigation"][0]["action"]["text"] == "line 1 was corrected"


@pytest.mark.parametrize(("level", "severity"), [("medium", "moderate"), ("low", "low"), ("information", None)])
def test_severity_is_the_priority_of_the_finding(level: str, severity: str | None) -> None:
    facts = facts_of(["oesophageal pressure six zero"])
    facts = [fact.model_copy(update={"level": level}) if fact.fact == "finding_raised" else fact for fact in facts]
    assert {each.get("severity") for each in resources(document(whole_of(facts)), "DetectedIssue")} == {severity}


# ---- origins ---------------------------------------------------------------------------------------------------------


def test_each_fact_about_a_line_has_its_origin_with_fingerprint_and_author() -> None:
    case = spoken("gastric in fifty", "five zero", "gastric one five zero in", "scratch that", by="typed")
    of_the_document, *origins = resources(document(case), "Provenance")
    facts = {link.sha256: link.fact for link in case.links}
    told = [(o["entity"][0]["what"]["identifier"]["value"], o["activity"]["coding"][0]["code"]) for o in origins]
    assert [(facts[sha256].fact, code) for sha256, code in told] == [
        ("entry_asked", "CREATE"),
        ("question_answered", "UPDATE"),
        ("entry_logged", "CREATE"),
        ("entry_struck", "NULLIFY"),
    ]
    assert all(o["agent"][0] == {"type": {"text": "author, typed"}, "who": {"display": AUTHOR}} for o in origins)
    assert origins[-1]["reason"] == [{"text": "struck by the operator"}]
    assert case.head is not None
    assert [e["what"]["identifier"]["value"] for e in of_the_document["entity"]] == [
        case.head.sha256,
        case.head.public_key,
        case.head.signature,
    ]


def test_the_document_is_named_by_the_fingerprint_that_verify_knows() -> None:
    case = whole_case()
    assert case.head is not None
    assert document(case)["identifier"]["value"] == case.head.sha256


# ---- the same again, and without identity ----------------------------------------------------------------------------


def test_the_same_case_gives_the_same_bytes() -> None:
    assert as_fhir(whole_case()).encode() == as_fhir(whole_case()).encode()


def test_a_later_export_speaks_of_the_same_lines_under_the_same_ids() -> None:
    def urls(facts: list[Fact]) -> set[str]:
        return {entry["fullUrl"] for entry in document(whole_of(facts))["entry"]}

    facts = facts_of(["tube passed", "gastric five zero in", "still bleeding"])
    assert urls(facts[:4]) < urls(facts)
    assert urls(facts).isdisjoint(urls(facts_of(["tube passed"], label="bay 5")))


def test_without_identity_only_the_year_and_the_time_since_the_opening_are_left() -> None:
    case = whole_case()
    text = as_fhir(deidentified(case)[0])
    plain = re.sub(r"urn:uuid:[0-9a-f-]{36}", "", text)
    assert not re.search(r"\d{4}-\d\d", plain), "no month"
    assert not re.search(r"T\d\d:\d\d", plain), "no time of day"
    assert not re.search(r"[0-9a-f]{64}", plain), "no fingerprint, key or signature"
    for identifier in (AUTHOR, "Invented", "first-1234", "lot-4711", "bay 4", case.opened.case, "read from the chart"):
        assert identifier not in text
    assert "authorString" not in text
    bundle = json.loads(text)
    assert bundle["type"] == "collection" and "timestamp" not in bundle and "identifier" not in bundle
    assert not resources(bundle, "Provenance") and not resources(bundle, "Practitioner")
    observations = [each for each in resources(bundle, "Observation") if "component" in each]
    assert {each["effectiveDateTime"] for each in observations} == {str(BEGAN.year)}
    assert not [name for each in observations for name in ("issued", "identifier") if name in each]
    elapsed = [each["component"][0]["valueQuantity"] for each in observations]
    assert elapsed[0] == {"value": 30, "unit": "s", "system": "http://unitsofmeasure.org", "code": "s"}


def test_ids_without_identity_lead_nowhere_and_differ_between_cases() -> None:
    def urls(case: Whole) -> set[str]:
        return {entry["fullUrl"] for entry in document(case)["entry"]}

    one, other = spoken("tube passed"), spoken("tube out")
    assert urls(deidentified(one)[0]).isdisjoint(urls(one) | urls(deidentified(other)[0]))
    assert as_fhir(deidentified(one)[0]) == as_fhir(deidentified(one)[0])


# ---- text from outside -----------------------------------------------------------------------------------------------

HOSTILE = '</div><script>x()</script>\x1b[2J\x00\u202etxt\u200b\u2028 &amp; "quoted" ]]> <!-- %s {} '


def test_no_word_becomes_markup_or_steers_a_terminal() -> None:
    free = Entry(kind=HOSTILE, site=HOSTILE, value=HOSTILE, unit=HOSTILE, detail=HOSTILE)
    facts = facts_of([free, "gastric in fifty"], label=HOSTILE, case=HOSTILE, software=HOSTILE)
    names = dict.fromkeys(Identifiers.model_fields, HOSTILE)
    text = as_fhir(whole_of([*facts, gap(HOSTILE), closed(HOSTILE)], identifiers=Identifiers(**names)))
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") and c != "\n"]
    assert problems(json.loads(text)) == []
    assert all("<script" not in each["text"]["div"] for each in resources(json.loads(text)) if "text" in each)


@pytest.mark.parametrize(
    ("zone", "told"),
    [
        (timezone(timedelta(hours=-3, minutes=-30)), "2026-10-04T18:20:00.000-03:30"),
        (UTC, "2026-10-04T21:50:00.000+00:00"),
        (timezone(timedelta(hours=15)), "2026-10-04T21:50:00.000+00:00"),
        (timezone(timedelta(minutes=19, seconds=32)), "2026-10-04T21:50:00.000+00:00"),
    ],
)
def test_times_have_an_offset_that_fhir_can_write(zone: timezone, told: str) -> None:
    assert instant(BEGAN.astimezone(zone)) == told


# ---- notes and what somebody has acknowledged ---------------------------------------------------------------------


def test_a_note_about_a_line_is_an_annotation_and_one_about_a_moment_a_communication() -> None:
    case = whole_of([*facts_of(["tube passed"]), note("the ward is cold"), note("read twice", about=1)])
    bundle = document(case)
    told = only(bundle, "Communication")
    assert (told["status"], told["payload"]) == ("completed", [{"contentString": "the ward is cold"}])
    assert (told["sent"], told["note"][0]["text"].split(",")[0]) == (instant(seconds(2400)), f"by {AUTHOR}")
    beside = line(case, 1)["note"][-1]
    assert beside == {"authorString": AUTHOR, "time": instant(seconds(2500)), "text": "note: read twice"}
    section = next(part for part in only(bundle, "Composition")["section"] if part["title"] == "Notes")
    assert "the ward is cold" in section["text"]["div"] and "read twice" in section["text"]["div"]
    assert len(section["entry"]) == 1
    assert not problems(bundle) and not refused_by_the_library(bundle)


def test_a_finding_that_somebody_has_seen_says_who_and_why_and_stays_open() -> None:
    facts = facts_of(["tube passed", "oesophageal pressure six zero"])
    seen = acknowledged(fold(facts))
    bundle = document(whole_of([*facts, seen]))
    (issue,) = (found for found in resources(bundle, "DetectedIssue") if found["detail"].startswith(seen.message))
    assert issue["mitigation"] == [
        {"action": {"text": f"acknowledged by {AUTHOR}: known, and watched"}, "date": instant(seconds(2600))}
    ]
    section = next(part for part in only(bundle, "Composition")["section"] if part["title"] == "Findings")
    told = f"still open</strong>; acknowledged 2026-10-05 00:33:20+02:00 by {AUTHOR}: known, and watched"
    assert told in section["text"]["div"]
    assert not problems(bundle) and not refused_by_the_library(bundle)


def test_without_identity_nobody_is_named_beside_notes_and_findings() -> None:
    facts = facts_of(["tube passed", "oesophageal pressure six zero"])
    case = whole_of([*facts, note("the ward is cold"), acknowledged(fold(facts))])
    written = as_fhir(deidentified(case)[0])
    assert AUTHOR not in written and "the ward is cold" not in written and "acknowledged" in written


@pytest.mark.parametrize(
    ("said", "loinc", "category"),
    [
        ("heart rate one one zero", ["8867-4"], "vital-signs"),
        ("oxygen saturation nine four percent", ["2708-6", "59408-5"], "vital-signs"),
        ("systolic nine zero", ["8480-6"], "vital-signs"),
        ("haemoglobin seven two", ["718-7"], "laboratory"),
        ("lactate four", [], "laboratory"),
        ("coma score eight", [], "exam"),
    ],
)
def test_a_vital_sign_has_its_category_and_the_loinc_codes_of_the_reference(
    said: str, loinc: list[str], category: str
) -> None:
    observation = line(spoken(said), 1)
    codes = observation["code"]["coding"]
    assert [each["code"] for each in codes if each["system"] == "http://loinc.org"] == loinc
    assert observation["category"][0]["coding"][0]["code"] == category


def test_the_parts_of_a_blood_pressure_have_loinc_codes() -> None:
    parts = line(spoken("blood pressure nine zero over six zero"), 1)["component"]
    assert [part["code"]["coding"][0]["code"] for part in parts[:2]] == ["8480-6", "8462-4"]


def test_loinc_is_only_used_with_its_notice() -> None:
    text = as_fhir(spoken("heart rate one one zero"))
    assert "LOINC codes in this document are the copyright of their owner" in text


def test_an_issue_about_a_struck_line_is_entered_in_error() -> None:
    bundle = document(spoken("capnography lost", "scratch that"))
    assert [issue["status"] for issue in resources(bundle, "DetectedIssue")] == ["entered-in-error"]
    assert [one["status"] for one in resources(document(spoken("capnography lost")), "DetectedIssue")] == ["final"]


@pytest.mark.parametrize(
    ("second", "born"), [("1961-05-04", "1961-05-04"), ("04.05.1961", None), ("2999-01-01", None), ("19610504", None)]
)
def test_an_identifier_that_is_a_date_in_full_is_the_date_of_birth(second: str, born: str | None) -> None:
    bundle = document(whole_of(facts_of(["tube passed"]), identifiers=Identifiers(patient_second=second)))
    patient = only(bundle, "Patient")
    assert patient.get("birthDate") == born
    assert patient["identifier"][0]["system"] == "urn:tamponade-log:patient-second"


def test_everything_belongs_to_one_stay_of_which_no_more_is_known() -> None:
    bundle = document(whole_case())
    assert only(bundle, "Encounter")["class"]["code"] == "UNK"
    for kind, element in (("Observation", "encounter"), ("Procedure", "encounter"), ("Composition", "encounter")):
        assert len({each[element]["reference"] for each in resources(bundle, kind)}) == 1


def test_a_procedure_says_why_what_went_wrong_and_how_it_ended() -> None:
    said = ("indication oesophageal varices", "tube in", "bleeding stopped", "stridor", "cut the tube", "tube out")
    procedure = only(document(spoken(*said)), "Procedure")
    assert procedure["reasonCode"] == [{"text": "oesophageal varices"}]
    assert [one["text"] for one in procedure["complication"]] == ["stridor", "tube cut in an emergency"]
    assert procedure["outcome"] == {"text": "bleeding stopped"}
    assert procedure["statusReason"] == {"text": "cut in an emergency"}
    plain = only(document(spoken("tube in", "outcome bleeding controlled", "tube out")), "Procedure")
    assert plain["outcome"] == {"text": "bleeding controlled"} and "statusReason" not in plain


def test_totals_are_observations_of_each_tube_and_of_the_case() -> None:
    hour = timedelta(hours=1).total_seconds()
    case = case_of(
        (0, "tube in"),
        (hour, "gastric two zero zero in"),
        (2 * hour, "gastric balloon deflated"),
        (3 * hour, "gastric one zero zero in"),
        (4 * hour, "gastric aspirate two zero zero"),
        (5 * hour, "two units red cells in"),
        (6 * hour, "tube out"),
    )
    found = resources(document(case), "Observation")
    totals = {each["code"]["text"]: each["valueQuantity"] for each in found if "valueQuantity" in each}
    assert (
        totals["Inflated time, gastric balloon"]["value"] == 4
        and totals["Inflated time, gastric balloon"]["code"] == "h"
    )
    assert totals["Most volume, gastric balloon"]["value"] == 200
    assert totals["Out of the ports, net of lavage"]["value"] == 200
    assert totals["red cells, in all"]["value"] == 2
    assert not [name for name in totals if "oesophageal" in name], "never up"
