"""A rehearsed case says in every format that it is one: a new format that does not fails here by itself."""

from __future__ import annotations

import csv
import io
import json
import unicodedata

import pytest

from log.exports import FORMATS
from log.exports.deidentify import WITHHELD, deidentified
from log.exports.jsonl_import import import_case
from log.exports.note import as_note
from log.facts.events import SimulationPlayed
from log.facts.simulation import MARK, in_words
from log.store.chain import parsed
from tests.cases import BEGAN, GOOD, HOSTILE, SIGNER, facts_of, opened, whole_of
from tests.cases import definition as definition_of
from tests.log.exports.written import FILM, pages, reader, text_of


@pytest.mark.parametrize("without_identity", [False, True])
@pytest.mark.parametrize("lines", [0, None])
@pytest.mark.parametrize("name", FORMATS)
def test_every_format_of_a_rehearsed_case_says_so(name: str, lines: int | None, without_identity: bool) -> None:
    case = f"rehearsed{', empty' if lines == 0 else ''}{', without identity' if without_identity else ''}"
    text = text_of(case, name)
    assert MARK in text
    assert "straightforward" in text or (name, lines) == ("csv", 0), "and by which scenario, unless there are no rows"


@pytest.mark.parametrize("name", FORMATS)
def test_no_format_of_a_case_with_a_patient_says_so(name: str) -> None:
    assert "simulation -" not in text_of("good", name).lower()


@pytest.mark.parametrize("name", ["note", "pdf", "audit", "jsonl", "fhir", "timeline"])
def test_what_was_played_stands_in_it_and_is_no_entry(name: str) -> None:
    text = " ".join(text_of("rehearsed", name).split())
    assert FILM in text
    assert "The mark slips." in text
    if name != "jsonl":
        assert "(hidden from the team)" in text


def test_every_page_of_the_pdf_says_so() -> None:
    assert len(pages("rehearsed")) > 5
    assert all(MARK in page.text for page in pages("rehearsed"))
    told = reader("rehearsed").metadata
    assert told is not None
    assert MARK in str(told.title)


@pytest.mark.parametrize("name", ["csv", "audit"])
def test_every_row_of_a_table_says_so_and_the_columns_of_other_cases_stay(name: str) -> None:
    head, *rows = csv.reader(io.StringIO(text_of("rehearsed", name), newline=""))
    other, *_ = csv.reader(io.StringIO(text_of("good", name), newline=""))
    assert head == [*other, MARK]
    assert all(row[-1].startswith(MARK) for row in rows)
    assert len(rows) > 20


def test_in_the_note_it_stands_where_it_happened() -> None:
    note = text_of("rehearsed", "note")
    assert note.startswith(f"# {MARK}")
    before, after = note.index("| 10 | 0:09:00 |"), note.index("| 11 | 0:11:30 |")  # x-ray taken, x-ray confirmed
    assert before < note.index("0:10:50") < after
    assert note.count("**played by the simulation, no entry**") == 2


def test_each_resource_is_marked_for_machines_as_test_data() -> None:
    """HTEST of the HL7 code system v3-ActReason: "test health data"."""
    bundle = json.loads(text_of("rehearsed", "fhir"))
    resources = [bundle, *(entry["resource"] for entry in bundle["entry"])]
    assert len(resources) > 20
    for resource in resources:
        (label,) = resource["meta"]["security"]
        assert (label["system"], label["code"]) == ("http://terminology.hl7.org/CodeSystem/v3-ActReason", "HTEST")
        assert resource["meta"]["tag"][0]["display"] == MARK
    composition = bundle["entry"][0]["resource"]
    assert composition["title"].startswith(MARK)
    assert "meta" not in json.loads(text_of("good", "fhir"))


def test_the_facts_can_be_imported_and_are_still_a_rehearsal(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("import")
    (folder / "x.jsonl").write_text(text_of("rehearsed", "jsonl"))
    assert parsed(text_of("rehearsed", "jsonl").splitlines()[0])["simulation"].startswith(MARK)
    imported = import_case(folder / "cases", folder / "x.jsonl", word_for=[SIGNER.public_key])
    assert imported.outcome == "new"


def test_without_identity_a_scenario_of_ones_own_is_free_text() -> None:
    in_force, _ = definition_of()
    case = whole_of([opened(in_force, simulation="north-ward-drill")])
    text = as_note(deidentified(case)[0])
    assert MARK in text
    assert "north-ward-drill" not in text
    assert WITHHELD.strip("[]") in text


def test_compressed_time_is_shown_in_words() -> None:
    assert [in_words(speed) for speed in (1, 30, 60, 120)] == [
        "", "one minute is 30 minutes", "one minute is one hour", "one minute is 2 hours"
    ]  # fmt: skip


@pytest.mark.parametrize("name", [name for name, export in FORMATS.items() if not export.suffix.endswith(".pdf")])
def test_hostile_names_and_events_steer_nothing(name: str) -> None:
    facts = facts_of(GOOD[:1], simulation=HOSTILE)
    mean = SimulationPlayed(logged_at=BEGAN, event=HOSTILE, said_at=BEGAN, told=HOSTILE[:400])
    text = FORMATS[name].write(whole_of([*facts, mean]))
    assert isinstance(text, str)
    assert MARK in text
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl") and c not in "\r\n"]
    assert "<script>" not in text or name in ("csv", "audit", "jsonl", "fhir"), "what is a page has it escaped"
