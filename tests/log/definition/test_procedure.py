"""Definitions: the shipped ones can be trusted, a broken one is refused with everything that is wrong with it, and a
hospital's own limits say whose they are.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from log.definition.check import problems
from log.definition.limits import ORIGINAL, Limit
from log.definition.load import BrokenDefinition, InForce, in_force, read_override, shipped
from log.definition.override import Override, OverrideLimit, apply
from log.definition.procedure import Procedure
from log.definition.slots import part_names, slot_names
from log.rules import READS
from log.rules.definitions import load, read_procedure

TOML = files("log.definition") / "shipped"
WHOLE = (TOML / "common.toml").read_text(encoding="utf-8")


def broken(tmp_path: Path, text: str) -> dict[str, str]:
    """Path -> problem of a definition file with this text."""
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BrokenDefinition) as error:
        read_procedure(str(path))
    told = str(error.value)
    assert told.startswith(f"{path}: ")
    assert "\n" not in told
    return dict(error.value.problems)


def own(more: str = "") -> str:
    """A hospital's own definition, made from a shipped one."""
    return f'extends = "three-lumen"\nid = "own"\n{more}'


def whole(*changes: tuple[str, str]) -> str:
    """A definition that stands alone, with changes to its text; each must find its place."""
    three = (TOML / "three-lumen.toml").read_text(encoding="utf-8").replace('extends = "common"', "")
    three, *steps = re.split(r"(?m)^(?=\[\[milestone\]\]$)", three)
    text, new = WHOLE, ""
    for step in steps:
        name = re.findall('^id = "(.+)"$', step, re.MULTILINE)[0]
        shipped_step = rf'(?ms)^\[\[milestone\]\]\nid = "{name}"\n.*?^\n'
        if re.search(shipped_step, text) is not None:
            before, after = re.split(shipped_step, text)
            text = f"{before}{step.strip()}\n\n{after}"
        else:
            new += step
    head, _, tables = three.partition("[tube]")
    text = text.replace('[tube]\nballoons = ["gastric", "oesophageal"]\n', "")
    text = f"{head}\n{text}\n[tube]{tables}\n{new}"
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


# ---- the shipped ones ----------------------------------------------------------------------------------------------


def test_two_tubes_and_one_for_children_are_shipped() -> None:
    assert shipped() == ("four-lumen", "three-lumen", "three-lumen-child")


@pytest.mark.parametrize("name", shipped())
def test_a_shipped_definition_loads_without_a_problem(name: str) -> None:
    procedure = read_procedure(name)
    assert procedure.id == name
    assert list(problems(procedure, READS)) == []
    far, of = "gastric_far" in procedure.limits, {name: procedure.limits[name].of for name in ORIGINAL}
    assert far != name.endswith("child"), "a figure for adults"
    own = {"gastric_volume": ORIGINAL["gastric_volume"].model_copy(update={"unless": "gastric_far"})} if far else {}
    assert of == {**ORIGINAL, **own}
    companion = procedure.companion is not None
    assert set(procedure.rules) == {read.name for read in READS if read.applies_to(procedure.tube, companion)}
    assert (procedure.companion is not None) == name.startswith("three-lumen"), "the other drains the oesophagus itself"


@pytest.mark.parametrize("name", shipped())
def test_every_clinical_word_of_a_shipped_definition_says_where_it_comes_from(name: str) -> None:
    procedure = read_procedure(name)
    backed = [
        *procedure.limits.values(),
        *procedure.rules.values(),
        *procedure.order,
        *(due for clock in procedure.clock for due in clock.due),
    ]
    for part in backed:
        cited = procedure.cite(part)
        assert cited.startswith(f"[{part.tag}] ")
        assert (part.tag == "local") == (isinstance(part, Limit) and part.site_sets is not None)
        if part.tag == "published":
            assert part.source
        if part.tag == "common practice":
            assert cited == "[common practice] no source"


def test_a_definition_is_loaded_by_name_or_by_path(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(own('title = "Our tube"'), encoding="utf-8")
    procedure = read_procedure(str(path))
    assert (procedure.id, procedure.title) == ("own", "Our tube")
    assert procedure.limits == read_procedure("three-lumen").limits
    path.write_text(whole(), encoding="utf-8")
    assert read_procedure(str(path)) == read_procedure("three-lumen")


def test_what_extends_a_definition_replaces_items_of_the_same_id_in_their_place(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        own("""
[[kind]]
id = "airway"
title = "Tracheal tube"
[[kind.say]]
value = "secured"
phrases = ["airway secured"]
[[kind]]
id = "weather"
title = "Weather"
[[kind.say]]
phrases = ["it rains"]
[limits.gastric_volume]
max = 300
"""),
        encoding="utf-8",
    )
    procedure, base = read_procedure(str(path)), read_procedure("three-lumen")
    assert [kind.id for kind in procedure.kind] == [*(kind.id for kind in base.kind), "weather"]
    assert procedure.title_of("airway") == "Tracheal tube"
    assert procedure.limits["gastric_volume"] == base.limits["gastric_volume"].model_copy(update={"max": 300.0})


@pytest.mark.parametrize("name", ["five-lumen", "", "nowhere.toml"])
def test_a_definition_that_is_not_there_is_reported(name: str) -> None:
    with pytest.raises(BrokenDefinition, match=r"there is no definition named|there is no such file|cannot be read"):
        read_procedure(name)


# ---- broken ones ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "path", "problem"),
    [
        ("lead_word =", "leed_word =", "leed_word", "not a known key"),
        ("lumens = 3", "lumen = 3", "tube.lumen", "not a known key"),
        ("lumens = 3", "lumens = 30", "tube.lumens", "less than or equal to 6"),
        ('max = 50\nlevel = "high"', 'mx = 50\nlevel = "high"', "limits.first_gastric_volume.mx", "not a known key"),
        ("max = 50\n", "", "limits.first_gastric_volume", "has neither min nor max"),
        ("min = 25\nmax = 45", "min = 46\nmax = 45", "limits.oesophageal_pressure", "min 46 is above max 45"),
        ("max = 50\n", "max = nan\n", "limits.first_gastric_volume.max", "finite"),
        ("max = 50\n", "max = inf\n", "limits.first_gastric_volume.max", "finite"),
        ('max = 50\nlevel = "high"', 'max = 50\nlevel = "loud"', "limits.first_gastric_volume.level", "'high'"),
        ('max = 50\nlevel = "high"', "max = 50", "limits.first_gastric_volume.level", "Field required"),
        ('tag = "published"', 'tag = "rumour"', "order[0].tag", "'published'"),
        ('source = ["P1", "P2", "P3", "P5"]\nmessage = "tube', 'message = "tube', "order[0]", "names no source"),
        ("said = [1, 700]", "said = [700, 1]", "slots.volume", "said runs from 700 down to 1"),
        ("said = [1, 700]", "said = [1, 7000]", "slots.volume", "within 0 to 999"),
        ("said = [1, 700]", "sayd = [1, 700]", "slots.volume.sayd", "not a known key"),
        ("plausible = [5, 600]", "plausible = [600, 5]", "slots.volume", "plausible runs from 600 down to 5"),
        ('gives = "site"\n', 'gives = "sight"\n', "slots.site.gives", "'site'"),
        ("after_h = 24", "after_h = 0", "clock[0].due[0].after_h", "greater than 0"),
        ("after_h = 24", "after_hours = 24", "clock[0].due[0].after_hours", "not a known key"),
        ('id = "volume_in"', 'id = "Volume in"', "kind[25].id", "pattern"),
        ('role = "command"', 'role = "comand"', "kind[43].role", "'entry'"),
        ('phrases = ["<x_ray> (taken|done)"]', "phrases = []", "kind[30].say[3].phrases", "at least 1"),
        ('lead_word = "log"', 'lead_word = "the log"', "lead_word", "pattern"),
    ],
)
def test_a_part_that_is_not_valid_is_reported_with_its_path(
    tmp_path: Path, old: str, new: str, path: str, problem: str
) -> None:
    problems = broken(tmp_path, whole((old, new)))
    assert problem in problems[path], problems


@pytest.mark.parametrize(
    ("old", "new", "path", "problem"),
    [
        ('source = ["P13", "P25"]', 'source = ["P13", "P99"]', "limits.oesophageal_pressure.source", '"P99"'),
        ('source = ["P30"]', 'source = ["X1"]', "rules.gastric_down_first.source", '"X1"'),
        ('source = ["M2"]', 'source = ["M3"]', "clock[0].due[0].source", '"M3"'),
        ('"P3", "P5"]\nmessage = "tube', '"P0"]\nmessage = "tube', "order[0].source", '"P0"'),
        (
            'first = { kind = "airway"',
            'first = { kind = "air"',
            "order[0].first.kind",
            'there is no kind of entry named "air"',
        ),
        (
            'then = { kind = "volume_in", site = "gastric" }',
            'then = { kind = "volume_in", site = "duodenal" }',
            "order[3].then.site",
            'the tube has no balloon called "duodenal"',
        ),
        ('starts = { kind = "tube", value = "in" }', 'starts = { kind = "tubes" }', "clock[0].starts.kind", '"tubes"'),
        ('stops = [{ kind = "tube", value = "out" },', 'stops = [{ kind = "end" },', "clock[0].stops[0].kind", '"end"'),
        ('"{site} {volume} in"', '"{site} {volum} in"', "kind[25].say[0].phrases[0]", 'there is no slot named "volum"'),
        (
            '"<x_ray> (taken|done)"',
            '"<x_rays> (taken|done)"',
            "kind[30].say[3].phrases[0]",
            'there is no part named "x_rays"',
        ),
        ('units = "<mils>"', 'units = "<mills>"', "slots.volume.units", 'there is no part named "mills"'),
        ('"{site} {volume} in"', '"{site} {volume} {volume}"', "kind[25].say[0].phrases[0]", "already filled"),
        (
            'phrases = ["<x_ray> (taken|done)"]',
            'phrases = ["<x_ray> {depth}"]',
            "kind[30].say[3].phrases[0]",
            "fills value",
        ),
        ("[limits.mark_migration]", "[limits.mark_migrates]", "limits.mark_migration", "is missing: the rules need it"),
        ("[rules.x_ray_wrong]", "[rules.x_ray_right]", "rules.x_ray_wrong", "is missing: the rules need it"),
        (
            'id = "depth-before-inflation"',
            'id = "airway-before-tube"',
            "order[3].id",
            '"airway-before-tube" stands twice',
        ),
        ('id = "volume_total"', 'id = "volume_in"', "kind[26].id", '"volume_in" stands twice'),
        ('id = "since-gastric-inflation"', 'id = "since-insertion"', "clock[1].id", '"since-insertion" stands twice'),
    ],
)
def test_a_name_that_leads_nowhere_is_reported_with_its_path(
    tmp_path: Path, old: str, new: str, path: str, problem: str
) -> None:
    problems = broken(tmp_path, whole((old, new)))
    assert problem in problems[path], problems


@pytest.mark.parametrize("half", [0, 1])
def test_no_limit_and_no_rule_has_a_default(tmp_path: Path, half: int) -> None:
    needed = sorted({f"limits.{name}" for name in ORIGINAL} | {f"rules.{read.name}" for read in READS})[half::2]
    text = whole()
    for missing in needed:
        text = re.sub(rf"(?ms)^\[{missing}\]\n.*?(?=^\[|\Z)", "", text)
    assert broken(tmp_path, text) == dict.fromkeys(needed, "is missing: the rules need it")


@pytest.mark.parametrize(
    ("old", "new", "path", "problem"),
    [
        (
            'passed = "lungs silent"',
            'passed = "lungs quiet"',
            "position[0].passed",
            'there is no position check that passed named "lungs quiet"',
        ),
        ('tag = "derived"\nsource = ["P1"]\n\n# ---- clocks', 'tag = "derived"\nsource = ["X1"]\n\n# ---- clocks',
         "manometry.source", 'there is no source named "X1"'),
        ('source = ["P10", "P12"]\n[[emergency', 'source = ["X1"]\n[[emergency',
         "emergency.airway[0].source", 'there is no source named "X1"'),
        ('note = "P3: 2 cm, P1: 3 cm"\ntag = "published"\nsource = ["P1", "P3"]',
         'note = "-"\ntag = "published"\nsource = ["X1"]', "companion.source", 'there is no source named "X1"'),
        ('done = [{ kind = "vital" }]', 'done = [{ kind = "vitals" }]',
         "watch.chosen[0].done[0].kind", 'there is no kind of entry named "vitals"'),
    ],
)  # fmt: skip
def test_what_surrounds_the_tube_hangs_together_too(
    tmp_path: Path, old: str, new: str, path: str, problem: str
) -> None:
    assert broken(tmp_path, whole((old, new))) == {path: problem}


def test_all_that_is_wrong_is_reported_at_once(tmp_path: Path) -> None:
    problems = broken(
        tmp_path,
        whole(
            ("max = 2.5", "mx = 2.5"),
            ("said = [1, 700]", "said = [700, 1]"),
            ("lumens = 3", 'lumens = "three"'),
            ("after_h = 24", "after_h = -1"),
        ),
    )
    assert set(problems) == {"limits.mark_migration.mx", "slots.volume", "tube.lumens", "clock[0].due[0].after_h"}
    problems = broken(
        tmp_path,
        whole(
            ('source = ["P30"]', 'source = ["X1"]'),
            ('first = { kind = "airway"', 'first = { kind = "air"'),
            ("[limits.mark_migration]", "[limits.x]"),
            ("[rules.x_ray_wrong]", "[rules.x]"),
            ('units = "<mils>"', 'units = "<m>"'),
            ('id = "depth-before-inflation"', 'id = "airway-before-tube"'),
        ),
    )
    assert set(problems) == {
        "rules.gastric_down_first.source",
        "order[0].first.kind",
        "limits.mark_migration",
        "rules.x_ray_wrong",
        "rules.x",
        "slots.volume.units",
        "order[3].id",
    }


def test_an_id_that_stands_twice_in_a_file_that_extends_another_is_reported(tmp_path: Path) -> None:
    """Neither of the two may win silently."""
    twice = """
[[order]]
id = "{id}"
first = {{ kind = "airway" }}
then = {{ kind = "depth" }}
level = "low"
tag = "common practice"
message = "m"
"""
    replaced = broken(tmp_path, own(twice.format(id="airway-before-tube") * 2))
    assert replaced == {"order[1].id": '"airway-before-tube" stands twice'}
    assert broken(tmp_path, own(twice.format(id="ours") * 2)) == {"order[9].id": '"ours" stands twice'}


def test_a_file_that_is_no_toml_or_no_text_is_reported(tmp_path: Path) -> None:
    assert "(file)" in broken(tmp_path, "[limits\n")
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BrokenDefinition, match="cannot be read"):
        read_procedure(str(tmp_path / "own.toml"))
    assert broken(tmp_path, 'extends = "nothing"') == {"extends": 'there is no shipped definition named "nothing"'}


# ---- local overrides -----------------------------------------------------------------------------------------------


APPROVED = 'procedure = "three-lumen"\napproved_by = "the head of the unit"\napproved_on = 2025-02-01\n'


STEP = """
[[milestone]]
id = "mine"
title = "tube secured"
after = ["tube-in"]
done = [{ kind = "tube", value = "secured" }]
say = "tube secured"
tag = "local"
"""


def override(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "local.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refused(tmp_path: Path, text: str) -> Mapping[str, str]:
    """Path -> problem of an override with this text."""
    with pytest.raises(BrokenDefinition) as error:
        read_override(override(tmp_path, text), read_procedure("three-lumen"))
    return dict(error.value.problems)


def test_an_override_changes_the_limit_and_says_whose_it_is(tmp_path: Path) -> None:
    path = override(tmp_path, APPROVED + '[limits.oesophageal_ceiling]\nmax = 40\nlevel = "medium"\n')
    changed = load("three-lumen", path)
    plain = read_procedure("three-lumen")
    limit, was = changed.procedure.limits["oesophageal_ceiling"], plain.limits["oesophageal_ceiling"]
    assert (limit.min, limit.max, limit.level) == (None, 40, "medium")
    assert (limit.tag, limit.source) == ("local", ("local",))
    assert (
        changed.procedure.cite(limit) == "[local] local: local protocol approved by the head of the unit on 2025-02-01"
    )
    assert limit.advice == f"{was.advice} (Shipped: at most 45 mmHg, P1, P6, P13, P22.)"
    assert limit.about == was.about
    assert {name: part for name, part in changed.procedure.limits.items() if name != "oesophageal_ceiling"} == {
        name: part for name, part in plain.limits.items() if name != "oesophageal_ceiling"
    }
    assert changed.procedure.kind == plain.kind
    assert list(problems(changed.procedure, READS)) == []


def test_an_override_may_change_one_bound_only(tmp_path: Path) -> None:
    path = override(tmp_path, APPROVED + "[limits.gastric_volume]\nmin = 250\n")
    limit = load("three-lumen", path).procedure.limits["gastric_volume"]
    assert (limit.min, limit.max, limit.level) == (250, 300, "medium")


def test_a_site_adds_a_step_of_its_own_and_it_is_called_local(tmp_path: Path) -> None:
    changed = load("three-lumen", override(tmp_path, APPROVED + STEP))
    added = changed.procedure.milestone[-1]
    assert (added.id, added.tag, added.source) == ("mine", "local", ("local",))
    assert changed.procedure.cite(added).startswith("[local] local: local protocol approved by the head of the unit")
    assert list(problems(changed.procedure, READS)) == []


@pytest.mark.parametrize(
    ("text", "path", "problem"),
    [
        (APPROVED + "[limits.gastric]\nmax = 1\n", "limits.gastric", "not a limit of three-lumen; there are "),
        (APPROVED + "[limits.gastric_volume]\nmin = 320\n", "limits.gastric_volume", "min 320 is above max 300"),
        (APPROVED + "[limits.gastric_volume]\nmin = 9\nmax = 8\n", "limits.gastric_volume", "min 9 is above max 8"),
        (APPROVED + "[limits.gastric_volume]\nmx = 8\n", "limits.gastric_volume.mx", "not a known key"),
        (APPROVED + "[limits.gastric_volume]\nmax = nan\n", "limits.gastric_volume.max", "finite"),
        (APPROVED + '[limits.gastric_volume]\nunit = "L"\n', "limits.gastric_volume.unit", "not a known key"),
        (APPROVED + '[limits]\n[[kind]]\nid = "x"\n', "kind", "not a known key"),
        (APPROVED.replace("three", "four") + "[limits]\n", "procedure", 'is for "four-lumen", but the definition'),
        (APPROVED.replace("approved_by", "approver") + "[limits]\n", "approved_by", "Field required"),
        (APPROVED.replace("the head of the unit", "") + "[limits]\n", "approved_by", "at least 1"),
        (APPROVED.replace("approved_on = 2025-02-01", "") + "[limits]\n", "approved_on", "Field required"),
        (APPROVED.replace("2025-02-01", '"soon"') + "[limits]\n", "approved_on", "valid date"),
        (APPROVED, "limits", "Field required"),
        (APPROVED + 'leave_out = ["nap"]\n', "leave_out", "nap is not a milestone of three-lumen; there are time-out"),
        (APPROVED + STEP.replace("tube-in", "nap"), "milestone[0].after", 'there is no milestone named "nap"'),
        (APPROVED + STEP.replace('"tube-in"', '"tube-in", "mine"'), "milestone[0].after", "before itself"),
    ],
)
def test_an_override_that_does_not_fit_is_refused(tmp_path: Path, text: str, path: str, problem: str) -> None:
    problems = refused(tmp_path, text)
    assert problem in problems[path], problems


def test_everything_that_does_not_fit_in_an_override_is_reported_at_once(tmp_path: Path) -> None:
    problems = refused(
        tmp_path,
        APPROVED.replace("three", "four")
        + """
[limits.gastric_volume]
min = 320
[limits.gastrc_volume]
max = 300
[limits.oesophageal_presure]
max = 300
""",
    )
    assert set(problems) == {"procedure", "limits.gastric_volume", "limits.gastrc_volume", "limits.oesophageal_presure"}


def test_an_override_of_the_user_is_used_without_being_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("log.definition.load.config_folder", lambda: tmp_path)
    assert load("three-lumen").override is None
    (tmp_path / "three-lumen.toml").write_text(APPROVED + "[limits.traction_mass]\nmax = 0.5\n", encoding="utf-8")
    assert load("three-lumen").procedure.limits["traction_mass"].max == 0.5
    assert load("four-lumen").override is None
    (tmp_path / "three-lumen.toml").write_text("nonsense", encoding="utf-8")
    with pytest.raises(BrokenDefinition):
        load("three-lumen")


def test_an_override_that_is_named_has_to_be_there(tmp_path: Path) -> None:
    with pytest.raises(BrokenDefinition, match="there is no such file"):
        load("three-lumen", tmp_path / "none.toml")


def test_a_limit_the_definition_does_not_have_cannot_be_applied() -> None:
    local = Override(
        procedure="three-lumen", approved_by="unit", approved_on=date(2025, 2, 1), limits={"none": OverrideLimit(max=1)}
    )
    with pytest.raises(KeyError):
        apply(read_procedure("three-lumen"), local)


# ---- what is kept with the case ------------------------------------------------------------------------------------


def forced(name: str, **limits: OverrideLimit) -> InForce:
    local = Override(procedure=name, approved_by="unit", approved_on=date(2025, 2, 1), limits=limits)
    return in_force(read_procedure(name), local if limits else None)


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_the_text_that_is_kept_reads_back_as_the_same_definition(name: str) -> None:
    local = {"mark_migration": OverrideLimit(max=2), "traction_mass": OverrideLimit(min=0.25)}
    for kept in (forced(name), forced(name, **local)):
        again = Procedure.model_validate_json(kept.text)
        assert again == kept.procedure
        assert in_force(again, None).text == kept.text
        assert in_force(again, None).sha256 == kept.sha256


def test_the_fingerprint_changes_with_every_override() -> None:
    prints = {
        forced("three-lumen").sha256,
        forced("four-lumen").sha256,
        forced("three-lumen", mark_migration=OverrideLimit(max=2)).sha256,
        forced("three-lumen", mark_migration=OverrideLimit(max=3)).sha256,
        forced("three-lumen", mark_migration=OverrideLimit(max=3, level="low")).sha256,
    }
    assert len(prints) == 5
    assert forced("three-lumen").sha256 == forced("three-lumen").sha256


def test_definitions_are_frozen() -> None:
    procedure = read_procedure("three-lumen")
    with pytest.raises(ValueError, match="frozen"):
        procedure.lead_word = "hey"


def test_names_in_a_template() -> None:
    assert slot_names("{site} pressure [is] {pressure!} <x_ray> {new-value}") == ("site", "pressure", "new-value")
    assert part_names("<x_ray> {site} (<last>|it)") == ("x_ray", "last")


def test_the_number_of_a_kind_is_the_one_in_the_unit_that_is_logged() -> None:
    procedure = read_procedure("three-lumen")
    slots = {kind.id: procedure.number_slot(kind.id) for kind in procedure.kind}
    assert slots["traction"] == procedure.slots["kilos"]
    assert slots["volume_in"] == procedure.slots["volume"]
    assert slots["tube"] is None
    assert procedure.number_slot("nothing") is None
    assert procedure.title_of("nothing_at_all") == "Nothing at all"


def test_the_shipped_files_are_plain_toml() -> None:
    for name in (*shipped(), "common"):
        assert tomllib.loads((TOML / f"{name}.toml").read_text(encoding="utf-8"))
