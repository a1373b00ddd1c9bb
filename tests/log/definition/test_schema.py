"""The schemas for editors, held by an independent validator: what the program reads is valid, a slip is not."""

from __future__ import annotations

import copy
import tomllib
from importlib.resources import files
from typing import Any

import pytest

from log.definition.load import shipped
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.definition.schema import DIALECT, schema
from log.rules.definitions import read_procedure

jsonschema = pytest.importorskip("jsonschema", reason="pip install jsonschema (extra dev)")

DEFINITION = schema("definition")
OVERRIDE = schema("override")
TOML = files("log.definition") / "shipped"

LOCAL = """
procedure = "three-lumen"
approved_by = "unit"
approved_on = "2026-03-01"
reason = "r"
leave_out = ["bleeding"]
[limits.oesophageal_ceiling]
max = 40
level = "medium"
[watch.checks.traction]
every_h = 0.5
[watch.deflation]
every_h = 6
for_min = 5
"""


def slips(told: dict[str, Any], value: Any) -> list[str]:
    """Dotted places of what the validator finds wrong, formats included."""
    checker = jsonschema.Draft202012Validator(told, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER)
    return [".".join(map(str, error.absolute_path)) for error in checker.iter_errors(value)]


def whole(name: str) -> dict[str, Any]:
    merged: dict[str, Any] = read_procedure(name).model_dump(mode="json", exclude_none=True)
    return merged


@pytest.mark.parametrize("told", [DEFINITION, OVERRIDE])
def test_it_is_a_schema_of_its_draft(told: dict[str, Any]) -> None:
    assert told["$schema"] == DIALECT == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(told)


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_definition_is_valid_merged_and_as_its_file_stands(name: str) -> None:
    assert slips(DEFINITION, whole(name)) == []
    raw = tomllib.loads((TOML / f"{name}.toml").read_text(encoding="utf-8"))
    assert raw["extends"]
    assert slips(DEFINITION, raw) == []


MUTATIONS = {
    "unknown key": lambda d: d.update(limit={}),
    "unknown key of a limit": lambda d: d["limits"]["gastric_volume"].update(maximum=3),
    "bound as text": lambda d: d["limits"]["gastric_volume"].update(min="200"),
    "no such level": lambda d: d["limits"]["gastric_volume"].update(level="urgent"),
    "no such tag": lambda d: d["rules"]["gastric_first"].update(tag="sure"),
    "lumens as text": lambda d: d["tube"].update(lumens="3"),
    "no such type of slot": lambda d: d["slots"]["volume"].update(type="amount"),
    "three ends of a range": lambda d: d["slots"]["volume"].update(said=[1, 2, 3]),
    "hours of nothing": lambda d: d["watch"]["check"][0].update(every_h=0),
    "a step that is never done": lambda d: d["milestone"][0].update(done=[]),
    "a kind without phrases": lambda d: d["kind"][0].pop("say"),
    "a name with a blank": lambda d: d.update(id="three lumen"),
    "two lead words": lambda d: d.update(lead_word="log this"),
}


NUMBERS_AS_TEXT = ("bound as text", "lumens as text")
"""The program reads "3" as 3; an editor had better say so."""


@pytest.mark.parametrize("slip", MUTATIONS)
def test_a_slip_is_found_in_a_whole_definition(slip: str) -> None:
    value = whole("three-lumen")
    MUTATIONS[slip](value)
    assert slips(DEFINITION, value)
    if slip in NUMBERS_AS_TEXT:
        return
    with pytest.raises(ValueError, match="validation error"):  # and the program says the same
        Procedure.model_validate(value)


@pytest.mark.parametrize("slip", [one for one in MUTATIONS if one != "no such type of slot"])
def test_a_slip_is_found_in_a_file_that_extends(slip: str) -> None:
    value = {"extends": "common", **whole("three-lumen")}
    MUTATIONS[slip](value)
    assert slips(DEFINITION, value)


def test_only_a_file_that_extends_may_leave_things_out() -> None:
    assert slips(DEFINITION, {"extends": "common", **whole("three-lumen")}) == []
    value = {"id": "own", "limits": {"gastric_volume": {"max": 300}}, "slots": {"volume": {"plausible": [1, 9]}}}
    assert slips(DEFINITION, {"extends": "three-lumen", "without": ["watch.step_down"], **value}) == []
    assert slips(DEFINITION, value)
    assert slips(DEFINITION, {"extends": 3, **value}) == ["extends"]


def test_an_item_of_a_list_has_to_be_whole_even_there() -> None:
    """log/definition/extends.py puts it in the place of the other; nothing of the other is taken over."""
    assert slips(DEFINITION, {"extends": "three-lumen", "milestone": [{"id": "depth", "title": "t"}]})


@pytest.mark.parametrize(
    ("slip", "place"),
    [
        (lambda d: d.pop("approved_by"), ""),
        (lambda d: d.update(approved_by=""), "approved_by"),
        (lambda d: d.update(approved_on="in March"), "approved_on"),
        (lambda d: d.update(phrases={}), ""),
        (lambda d: d["limits"]["oesophageal_ceiling"].update(max="40"), "limits.oesophageal_ceiling.max"),
        (lambda d: d["limits"]["oesophageal_ceiling"].update(unit="mL"), "limits.oesophageal_ceiling"),
        (lambda d: d["watch"]["checks"]["traction"].update(every_h=-1), "watch"),
    ],
)
def test_a_slip_in_an_override_is_found_where_it_stands(slip: Any, place: str) -> None:
    good = tomllib.loads(LOCAL)
    assert Override.model_validate(good)
    assert slips(OVERRIDE, good) == []
    bad = copy.deepcopy(good)
    slip(bad)
    assert slips(OVERRIDE, bad) == [place]


def test_what_an_editor_shows_of_a_key_is_what_the_model_says() -> None:
    limit = OVERRIDE["$defs"]["OverrideLimit"]["properties"]
    assert limit["max"]["description"] == "The highest value that keeps it, in the unit of the shipped limit."
    assert DEFINITION["$defs"]["Limit"]["properties"]["advice"]["description"].startswith(
        "Advice, in words for the finding"
    )
    undescribed = [key for key, told in OVERRIDE["properties"].items() if not told.get("description")]
    assert undescribed == []
