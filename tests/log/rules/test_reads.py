"""What the program reads of a definition: nothing that is read is missing, nothing stands there that is not read, and
no name is misspelt in silence, neither in a definition nor in a rule.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from log.definition import limits
from log.definition.kinds import ORIGINAL as KINDS
from log.definition.kinds import Traits
from log.definition.limits import Of
from log.definition.load import in_force, shipped
from log.definition.procedure import Procedure
from log.definition.reads import Read, lacking, unread
from log.rules import READS
from log.rules.comparisons import measured
from log.rules.course import course_of
from log.rules.definitions import examine, read_procedure
from log.rules.rule import Said, findings, rule
from log.state.tube import Step
from tests.cases import procedure
from tests.log.rules.test_rules import UP, record


def problems(tmp_path: Path, text: str) -> dict[str, str]:
    """What is wrong with a definition that adds this to the three-lumen tube."""
    path = tmp_path / "own.toml"
    path.write_text(f'extends = "three-lumen"\nid = "own"\n{text}', encoding="utf-8")
    return dict(examine(str(path))[1])


LIMIT = """
[limits.cuff]
about = "cuff pressure"
unit = "mmHg"
max = 25
level = "low"
tag = "derived"
advice = "-"
"""


# ---- a definition ----------------------------------------------------------------------------------------------------


def test_a_limit_that_holds_nothing_is_an_error_that_names_it(tmp_path: Path) -> None:
    found = problems(tmp_path, LIMIT)
    assert list(found) == ["limits.cuff"]
    assert found["limits.cuff"].startswith("nothing reads it: say which number it holds")


def test_a_rule_that_nothing_reads_is_an_error_that_names_it(tmp_path: Path) -> None:
    text = '[rules.gastric_frist]\nlevel = "high"\ntag = "derived"\nmessage = "-"\n'
    assert problems(tmp_path, text) == {"rules.gastric_frist": "nothing reads it: the program has no rule of this name"}


@pytest.mark.parametrize(
    ("of", "field", "what"),
    [
        ('{ kind = "presure" }', "of.kind", 'there is no kind of entry named "presure"'),
        ('{ kind = "xray" }', "of.kind", 'no number is said with "xray"'),
        ('{ kind = "pressure", site = "gastrik" }', "of.site", '"gastrik" is never said with "pressure"'),
        ('{ kind = "vital", detail = "pulse" }', "of.detail", '"pulse" is never said with "vital"'),
        ('{ kind = "pressure", site = "gastric", what = "total" }', "of.what", '"total" is about volume_in'),
        ('{ kind = "pressure", when = "balloon up" }', "of.site", '"balloon up" is about one balloon: say which'),
        ('{ kind = "pressure", unless = "ceiling" }', "of.unless", 'there is no limit named "ceiling"'),
        ('{ kind = "depth" }', "unit", '"mmHg" is no unit of depth: write cm'),
        ('{ kind = "pressure", what = "totl" }', "of.what", "'said', 'total'"),
        ('{ kind = "pressure", side = "gastric" }', "of.side", "not a known key"),
    ],
)
def test_a_limit_of_a_number_that_nobody_can_say_is_an_error(tmp_path: Path, of: str, field: str, what: str) -> None:
    found = problems(tmp_path, f"{LIMIT}of = {of}\n")
    assert what in found[f"limits.cuff.{field}"], found


def test_a_limit_of_what_can_be_said_is_none(tmp_path: Path) -> None:
    for of in ('{ kind = "pressure" }', '{ kind = "vital", detail = "mean pressure" }', '{ kind = "manometry" }'):
        assert problems(tmp_path, f"{LIMIT}of = {of}\n") == {}


@pytest.mark.parametrize("name", shipped())
def test_a_rule_that_the_program_reads_has_to_be_there(name: str) -> None:
    """As if somebody had misspelt a name that a rule declares."""
    misspelt = (*READS, Read("gastric_frist"), Read("shown_later", later=True))
    shipped = procedure(name)
    missing = dict.fromkeys(("rules.gastric_frist", "rules.shown_later"), "is missing: the rules need it")
    assert dict(lacking(shipped, misspelt)) == missing
    assert set(dict(lacking(shipped, misspelt, old=True))) == {"rules.gastric_frist"}, "older cases are kept without"
    assert dict(lacking(shipped, READS)) == dict(unread(shipped, READS)) == {}


# ---- a rule in code --------------------------------------------------------------------------------------------------


def test_a_name_that_a_rule_declares_and_does_not_say_is_an_error_at_import() -> None:
    with pytest.raises(LookupError, match='declares "skin_broken" and does not say it'):

        @rule("skin_broken")
        def skin(procedure: Procedure, step: Step) -> Iterator[Said]:
            yield Said("skin_borken")


def test_a_name_that_a_rule_says_and_does_not_declare_is_an_error() -> None:
    @rule("skin_broken")
    def skin(procedure: Procedure, step: Step) -> Iterator[Said]:
        yield Said("skin_broken")
        yield Said("skin_marked")

    (step,) = course_of(procedure(), record(("skin - broken",))).steps
    with pytest.raises(LookupError, match='says "skin_marked" and does not declare it'):
        list(findings((skin,), procedure(), step))


def test_no_rule_is_declared_twice() -> None:
    names = [read.name for read in READS]
    assert len(names) == len(set(names))


# ---- one generator ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_a_finding_of_a_limit_is_a_number_outside_its_bounds_and_no_other(name: str) -> None:
    spoken = (
        "head_up - 20", *UP[name], "volume_in gastric 150", "volume_in gastric 50", "pressure oesophageal 46",
        "pressure oesophageal 24", "pressure - 50", "depth lips 48", "traction - 1.2 weight", "pressure gastric 40",
    )  # fmt: skip
    course = course_of(procedure(name), record(spoken))
    found = [(one.number, one.rule) for stage in course.stages for one in stage.findings]
    outside = [(one.line, one.limit) for one in measured(course.procedure, course.steps) if one.side == "outside"]
    assert sorted(one for one in found if one[1] in course.procedure.limits) == sorted(outside)
    assert len(outside) >= 7


def test_a_number_beyond_the_ceiling_is_not_reported_again_by_the_working_range() -> None:
    course = course_of(procedure(), record((*UP["three-lumen"], "pressure oesophageal 46")))
    last = [one.limit for one in measured(course.procedure, course.steps) if one.line == len(course.steps)]
    assert last == ["oesophageal_ceiling"]


# ---- definitions from before limits and kinds said what they are -----------------------------------------------------


def test_the_shipped_files_say_what_the_original_limits_and_kinds_are() -> None:
    """Both ways of knowing are one: what stands in the file, and what the name tells of an older case."""
    folder = files("log.definition") / "shipped"
    raw = [tomllib.loads((folder / f"{name}.toml").read_text("utf-8")) for name in ("around", "common", "four-lumen")]
    of = {name: Of.model_validate(limit["of"]) for one in raw for name, limit in one.get("limits", {}).items()}
    far = limits.ORIGINAL["gastric_volume"].model_copy(update={"unless": "gastric_far"})  # the one that yields since
    assert {name: of[name] for name in limits.ORIGINAL} == {**limits.ORIGINAL, "gastric_volume": far}
    kinds = {kind["id"]: kind for one in raw for kind in one.get("kind", ())}
    for name, traits in KINDS.items():
        told = {key: kinds[name][key] for key in ("group", "reading", "total") if key in kinds[name]}
        assert Traits(**told) == traits, name


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_a_definition_is_kept_as_it_always_was_and_reads_the_same(name: str) -> None:
    """Older versions read it too: nothing of what they know is written anew."""
    text = in_force(procedure(name), None).text
    kept = json.loads(text)
    said_anew = {name for name, limit in kept["limits"].items() if "of" in limit}
    assert said_anew & limits.ORIGINAL.keys() == {"gastric_volume"}, "yields since to the most of any tube"
    traits = {"group", "reading", "total"}
    assert not {kind["id"] for kind in kept["kind"] if traits & kind.keys()} & KINDS.keys(), "only kinds added since"
    assert kept["tube"].keys() == {"balloons", "lumens", "note"}
    again = Procedure.model_validate_json(text)
    assert again == procedure(name)
    assert in_force(again, None).text == text


def test_what_is_not_original_is_kept_with_the_case(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(f'extends = "three-lumen"\nid = "own"\n{LIMIT}of = {{ kind = "pressure" }}\n', encoding="utf-8")
    kept = json.loads(in_force(read_procedure(str(path)), None).text)
    assert kept["limits"]["cuff"]["of"]["kind"] == "pressure"
