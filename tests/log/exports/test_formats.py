"""Each format carries the cautions, times, units and corrections in a form that other programs read alike.

Golden files lie in tests/log/golden. After a wanted change write them anew with TAMPONADE_GOLDEN=write and read the
difference.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import unicodedata
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import rfc8785

from log.basics.errors import InputError
from log.basics.units import ucum
from log.basics.visible import visible
from log.definition.load import in_force
from log.exports import FORMATS
from log.exports.csv_table import as_csv, harmless
from log.exports.jsonl import as_jsonl
from log.exports.markdown import escaped
from log.facts.events import from_plain
from log.rules.definitions import of_case, read_procedure
from log.store.chain import fingerprint
from log.summaries.whole import whole
from tests.cases import entry, gastric

if TYPE_CHECKING:
    from tests.log.exports.conftest import Room

GOLDEN = Path(__file__).parents[1] / "golden"


TABLES = ("note", "csv", "audit", "jsonl")
"""What is kept as a golden file; the pages and the exchange format are looked at by tests of their own."""

TEXTS = tuple(name for name, export in FORMATS.items() if not export.suffix.endswith(".pdf"))


def text_of(name: str, room: Room) -> str:
    written = FORMATS[name].write(room.whole)
    assert isinstance(written, str)
    return written


@pytest.mark.parametrize("name", TABLES)
def test_each_format_writes_what_its_golden_file_shows(name: str, whole_case: Room) -> None:
    room, path = whole_case, GOLDEN / f"case{FORMATS[name].suffix}"
    text = text_of(name, room)
    if os.environ.get("TAMPONADE_GOLDEN") == "write":
        path.write_bytes(text.encode())
    assert text == path.read_bytes().decode()


@pytest.mark.parametrize("name", TEXTS)
def test_each_format_carries_the_cautions_even_of_an_empty_log(name: str, whole_case: Room, room: Room) -> None:
    text = text_of(name, whole_case)
    assert all(escaped(caution) in text for caution in whole_case.procedure.cautions)
    empty = text_of(name, room)
    assert "not a medical device" in empty.lower().replace("_", " ")


def test_facts_without_an_opening_are_no_case(room: Room) -> None:
    room.say(10, gastric(50))
    with pytest.raises(InputError, match="the case has no opening"):
        whole(replace(room.kept, links=room.kept.links[1:]))


# RFC 3339 section 5.6: date, time and an offset, always.
RFC_3339 = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


@pytest.mark.parametrize("zone", [UTC, timezone(timedelta(hours=2)), timezone(-timedelta(hours=3, minutes=30))])
def test_times_are_rfc_3339_in_the_zone_of_the_room(zone: timezone, room: Room) -> None:
    room.say(10.25, gastric(50))
    room.facts = [
        fact.model_copy(update={name: value.astimezone(zone) for name, value in fact if isinstance(value, datetime)})
        for fact in room.facts
    ]
    row = room.rows()[0]
    for name in ("said_at", "logged_at"):
        assert RFC_3339.fullmatch(row[name])
        assert datetime.fromisoformat(row[name]) == room.began + timedelta(seconds=10.25)
        assert datetime.fromisoformat(row[name]).utcoffset() == zone.utcoffset(None)
    assert row["elapsed_s"] == "10.250"
    line = next(line for line in room.note().splitlines() if line.startswith("| 1 |"))
    assert datetime.fromisoformat(line.split(" | ")[2]) == room.began + timedelta(seconds=10)


def test_units_in_the_table_are_ucum_codes(whole_case: Room) -> None:
    # UCUM, case-sensitive codes: mL, mm[Hg], cm, kg; braces hold an annotation.
    assert {row["unit_ucum"] for row in whole_case.rows()} == {"", "mL", "mm[Hg]", "cm", "kg"}
    assert ucum("puffs") == "{puffs}" and ucum(None) == ucum("") == ""


def test_the_table_is_as_rfc_4180_has_it(room: Room) -> None:
    room.say(10, gastric(50), heard='he said "fifty", or\nfive zero')
    text = as_csv(room.whole)
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    header, row = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert len(header) == len(row) == len(set(header))
    assert room.rows()[0]["heard"] == 'he said "fifty", or five zero'


def test_adding_up_the_value_column_counts_nothing_struck_or_unconfirmed(whole_case: Room) -> None:
    room = whole_case
    room.say(600, gastric(70))
    room.say(601, entry("undo"))
    rows = [row for row in room.rows() if row["kind"] == "volume_in"]
    assert sum(float(row["value"] or 0) for row in rows) == 250
    assert [(row["status"], row["value"], row["original_value"]) for row in rows] == [
        ("stands", "50", ""),
        ("stands", "200", "300"),
        ("asked", "", ""),
        ("struck", "", "70"),
    ]


# OWASP, CSV Injection: cells that begin with these are taken for formulas.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", " =", "\t=", "＝"])
def test_no_heard_word_becomes_a_formula(start: str, room: Room) -> None:
    room.say(10, entry("note", f"{start}1+1", detail=f"{start}HYPERLINK(1)"), heard=f'{start}cmd|" /C calc"!A0')
    row = room.rows()[0]
    assert all(row[name].startswith("'") for name in ("value", "detail", "heard"))
    assert harmless("gastric = 50") == "gastric = 50"


@pytest.mark.parametrize("name", TEXTS)
def test_no_export_can_steer_a_terminal(name: str, new_room: type[Room]) -> None:
    room = new_room(label="\x1b[2J\x9b31m\x7f \u202ereversed\u200b \u2028")
    room.say(10, entry("note", "\x1b]0;title\x07"), heard="\x00\x07\x9b")
    text = text_of(name, room)
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl") and c not in "\r\n"]
    assert text.encode()


def test_control_characters_are_shown_not_dropped() -> None:
    assert visible("a\x1bb\x7f\nc\u2028") == "a␛b\N{REPLACEMENT CHARACTER} c\N{REPLACEMENT CHARACTER}"


def test_the_facts_are_written_out_as_they_are_chained(whole_case: Room, new_room: type[Room]) -> None:
    """A fingerprint can be checked with a JSON library and SHA-256 alone (RFC 8785, FIPS 180-4)."""
    room = whole_case
    room.facts[0] = new_room(label="Zürich \x7f \u2028").facts[0]
    text = as_jsonl(room.whole)
    head, *lines, end = [json.loads(line) for line in text.splitlines()]
    assert head == {"format": "tamponade-log facts", "version": 2, "cautions": list(room.procedure.cautions)}
    assert room.kept.head is not None and end == {"head": room.kept.head.model_dump()}
    previous = None
    for seq, line in enumerate(lines, start=1):
        assert (line["seq"], line["previous"]) == (seq, previous)
        previous = fingerprint(rfc8785.dumps(line).decode())
    assert end["head"]["sha256"] == previous
    assert [from_plain({k: v for k, v in ln.items() if k not in ("seq", "previous")}) for ln in lines] == room.facts
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl") and c != "\n"]


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_the_definition_of_a_case_is_the_one_it_was_begun_with(name: str, new_room: type[Room]) -> None:
    shipped = in_force(read_procedure(name), None)
    room = new_room(shipped.procedure, definition=shipped.text)
    assert of_case(room.facts) == shipped.procedure
    room.say(10, gastric(250), entry("traction", "on"))
    assert room.note().count("**still open**") >= 3


@pytest.mark.parametrize("text", [None, "{}", "not json"])
def test_a_case_whose_definition_cannot_be_read_is_told_in_one_line(text: str | None, new_room: type[Room]) -> None:
    facts = new_room(definition=text).facts if text else []
    with pytest.raises(InputError) as told:
        of_case(facts)
    assert "\n" not in str(told.value)


def test_the_facts_are_as_they_were_after_an_export(whole_case: Room) -> None:
    before = whole_case.kept
    first = [export.write(whole_case.whole) for export in FORMATS.values()]
    assert first == [export.write(whole_case.whole) for export in FORMATS.values()]
    assert whole_case.kept == before
