"""Each format carries the cautions, times, units and corrections in a form that other programs read alike.

Golden files lie in tests/log/golden. After a wanted change write them anew with TAMPONADE_GOLDEN=write and read the
difference.
"""

from __future__ import annotations

import os
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from log.basics.errors import InputError
from log.basics.visible import visible
from log.definition.load import in_force
from log.exports import FORMATS
from log.exports.markdown import escaped
from log.rules.definitions import of_case, read_procedure
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


@pytest.mark.parametrize("name", TEXTS)
def test_no_export_can_steer_a_terminal(name: str, new_room: type[Room]) -> None:
    room = new_room(label="\x1b[2J\x9b31m\x7f \u202ereversed\u200b \u2028")
    room.say(10, entry("note", "\x1b]0;title\x07"), heard="\x00\x07\x9b")
    text = text_of(name, room)
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl") and c not in "\r\n"]
    assert text.encode()


def test_control_characters_are_shown_not_dropped() -> None:
    assert visible("a\x1bb\x7f\nc\u2028") == "a␛b\N{REPLACEMENT CHARACTER} c\N{REPLACEMENT CHARACTER}"


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_the_definition_of_a_case_is_the_one_it_was_begun_with(name: str, new_room: type[Room]) -> None:
    shipped = in_force(read_procedure(name), None)
    room = new_room(shipped.procedure, definition=shipped.text)
    assert of_case(room.facts) == shipped.procedure
    room.say(10, gastric(250), entry("traction", "on"))
    assert room.note().count("**still open**") >= 3


@pytest.mark.parametrize("text", [None, "{}", "not json"])
def test_a_case_whose_definition_cannot_be_read_is_reported_in_one_line(text: str | None, new_room: type[Room]) -> None:
    facts = new_room(definition=text).facts if text else []
    with pytest.raises(InputError) as told:
        of_case(facts)
    assert "\n" not in str(told.value)


def test_the_facts_are_as_they_were_after_an_export(whole_case: Room) -> None:
    before = whole_case.kept
    first = {name: export.write(whole_case.whole) for name, export in FORMATS.items()}
    assert all(first[name] == text_of(name, whole_case) for name in TEXTS)
    assert whole_case.kept == before
