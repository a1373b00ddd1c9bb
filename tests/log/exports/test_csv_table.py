"""One row per line, in times, units and cells that other programs read alike, and that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING

import pytest

from log.basics.units import ucum
from log.exports.csv_table import as_csv, harmless
from tests.cases import entry, gastric

if TYPE_CHECKING:
    from tests.log.exports.conftest import Room


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
    assert line.split(" | ")[2] == f"{room.began.astimezone(zone) + timedelta(seconds=10):%H:%M:%S}"


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
