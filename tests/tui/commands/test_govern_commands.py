"""What whoever governs the definitions types: diff, review and schema; and that nothing runs by limits that
nobody has set.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from log.definition.load import config_folder, read_override
from log.definition.schema import schema
from log.rules.definitions import read_procedure
from log.store.folder import cases_folder
from tests.tui.conftest import Run, recording
from tui.commands.procedures.review import age, screen

CHILD = "three-lumen-child"
SET = f"""
procedure = "{CHILD}"
approved_by = "children's group"
approved_on = 2026-03-01
reason = "no value is shipped"
[limits]
first_gastric_volume = {{ max = 20 }}
gastric_volume = {{ min = 60, max = 100 }}
oesophageal_pressure = {{ min = 20, max = 30 }}
oesophageal_ceiling = {{ max = 30 }}
insertion_depth = {{ min = 25 }}
traction_mass = {{ max = 0.3 }}
mark_migration = {{ max = 1 }}
head_up = {{ min = 30 }}
gastric_pressure_rise = {{ max = 7 }}
gastric_step = {{ max = 20 }}
oesophageal_start = {{ max = 22 }}
"""
LOCAL = """
procedure = "three-lumen"
approved_by = "tamponade protocol group"
approved_on = 2026-03-01
reason = "our manometers read 2 mmHg low"
leave_out = ["oesophageal-leak-test"]
[limits.oesophageal_ceiling]
max = 48
[limits.mark_migration]
max = 2
"""


def written(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


# ---- a child's limits ------------------------------------------------------------------------------------------------


def test_nothing_runs_by_limits_that_nobody_has_set(run: Run, tmp_path: Path) -> None:
    sound = recording(tmp_path / "silence.wav", b"")
    for command in (("say", "time mark"), ("replay", sound), ("listen", "--plain", "--audio", sound), ("hear", sound)):
        ran = run(*command, "--definition", CHILD)
        ran.refused(3, CHILD, "gastric_volume", "mark_migration", f"{CHILD}.toml", f"tamponade procedures show {CHILD}")
        assert ran.out == ""
    assert not cases_folder().exists() or list(cases_folder().iterdir()) == []


def test_with_a_sites_limits_it_runs_by_those(run: Run, tmp_path: Path) -> None:
    ran = run("say", "gastric in five zero", "--definition", CHILD, "--local", written(tmp_path / "c.toml", SET))
    assert "at most 20 mL" in ran.done()
    written(config_folder() / f"{CHILD}.toml", SET)
    assert "at most 20 mL" in run("say", "gastric in five zero", "--definition", CHILD).done()


def test_what_is_wanted_is_shown_with_hints_and_sources(run: Run, tmp_path: Path) -> None:
    shown = run("procedures", "show", CHILD).done()
    assert shown.count("not set: your site has to") == 11
    assert "50 mL at a time to a maximum of 150 mL (16 Fr tube) [published] P8: children's hospital" in shown
    assert "to set: min and max." in shown
    shown = run("procedures", "show", CHILD, "--local", written(tmp_path / "c.toml", SET)).done()
    assert "not set" not in shown
    assert run("procedures", "check", CHILD, "--local", tmp_path / "c.toml").done().endswith("no problems\n")


# ---- diff ------------------------------------------------------------------------------------------------------------


def test_two_tubes_side_by_side_on_one_screen(run: Run) -> None:
    told = run("procedures", "diff", "three-lumen", "four-lumen").done()
    assert "    bounds: 200 to 300 mL -> 400 to 500 mL" in told
    assert "Not a medical device" in told
    assert told.index("TUBE") < told.index("LIMITS") < told.index("STEPS")
    lines = told.splitlines()
    assert len(lines) <= 55
    assert max(map(len, lines)) <= 120


def test_a_definition_against_itself_with_an_override(run: Run, tmp_path: Path) -> None:
    local = written(tmp_path / "l.toml", LOCAL)
    told = run("procedures", "diff", "three-lumen", "three-lumen", "--local", local).done()
    assert "bounds: at most 45 mmHg -> at most 48 mmHg" in told
    assert run("procedures", "diff", "three-lumen", "three-lumen").done().endswith("nothing differs\n")


def test_differences_for_programs(run: Run) -> None:
    told = json.loads(run("procedures", "diff", "three-lumen", "four-lumen", "--json").done())
    assert (told["first"], told["second"], told["local"]) == ("three-lumen", "four-lumen", None)
    bounds = {"group": "limits", "name": "gastric_volume", "field": "bounds"}
    assert {**bounds, "first": "200 to 300 mL", "second": "400 to 500 mL"} in told["differences"]
    assert json.loads(run("procedures", "diff", CHILD, CHILD, "--json").done())["differences"] == []


def test_what_cannot_be_compared_is_refused(run: Run, tmp_path: Path) -> None:
    run("procedures", "diff", "three-lumen", "five-lumen").refused(3, "five-lumen", "three-lumen")
    local = written(tmp_path / "c.toml", SET)
    run("procedures", "diff", CHILD, "three-lumen", "--local", local).refused(3, str(local), CHILD)


# ---- review ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [80, 120])
def test_an_override_on_one_screen_the_looser_first(tmp_path: Path, width: int) -> None:
    procedure = read_procedure("three-lumen")
    override = read_override(written(tmp_path / "l.toml", LOCAL), procedure)
    lines = list(screen(procedure, override, date(2026, 11, 26), width))
    assert max(map(len, lines)) <= width
    assert len(lines) <= 55
    told = "\n".join(lines)
    for part in (
        "approved by tamponade protocol group on 2026-03-01, 8 months ago",
        "reason: our manometers read 2 mmHg low",
        "! 2 of 3 changes LOOSER THAN SHIPPED OR LEFT OUT",
        "!! LOOSER: oesophageal balloon pressure",
        "at most 45 mmHg [published",
        "!! LEFT OUT: oesophageal leak test",
        "   stricter: movement of the mark",
        "Nothing to mend.",
        "! Not a medical device.",
    ):
        assert part in told
    assert told.index("!! LEFT OUT") < told.index("   stricter")


def test_review_by_the_definition_that_the_file_names(run: Run, tmp_path: Path) -> None:
    assert (
        "(four-lumen, version"
        in run("procedures", "review", written(tmp_path / "l.toml", LOCAL.replace("three-lumen", "four-lumen"))).done()
    )
    assert "0 of 11 changes looser" in run("procedures", "review", written(tmp_path / "c.toml", SET)).done()


def test_what_a_site_has_not_set_is_shown_and_refused(run: Run, tmp_path: Path) -> None:
    path = written(tmp_path / "c.toml", SET.replace("mark_migration = { max = 1 }\n", ""))
    ran = run("procedures", "review", path)
    ran.refused(3, "mark_migration")
    assert "limits.mark_migration: has to be set before a case can be kept: write max (cm)" in ran.out


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("approved_by = 3", "does not say which definition"),
        ('procedure = "none"', 'there is no definition named "none"'),
        ("procedure =", "not valid TOML"),
    ],
)
def test_a_file_that_is_no_override_is_refused(run: Run, tmp_path: Path, text: str, told: str) -> None:
    run("procedures", "review", written(tmp_path / "l.toml", text)).refused(3, told)


def test_all_that_does_not_fit_is_reported(run: Run, tmp_path: Path) -> None:
    text = LOCAL.replace("[limits.mark_migration]", "[limits.mark]").replace("leak-test", "leek-test")
    ran = run("procedures", "review", written(tmp_path / "l.toml", text))
    assert ran.code == 3
    assert "limits.mark: not a limit of three-lumen; there are" in ran.out
    assert "leave_out: oesophageal-leek-test is not a milestone" in ran.out
    assert ran.err.startswith("2 problems in ")


@pytest.mark.parametrize(
    ("approved", "told"),
    [
        (date(2026, 11, 27), "WHICH IS STILL TO COME"),
        (date(2026, 11, 26), "0 days ago"),
        (date(2026, 11, 25), "1 day ago"),
        (date(2026, 9, 26), "61 days ago"),
        (date(2026, 9, 25), "2 months ago"),
        (date(2024, 11, 27), "23 months ago"),
        (date(2024, 11, 26), "2 years ago"),
    ],
)
def test_how_old_an_approval_is(approved: date, told: str) -> None:
    assert age(approved, date(2026, 11, 26)) == told


# ---- schema ----------------------------------------------------------------------------------------------------------


def test_the_schemas_are_printed(run: Run) -> None:
    assert json.loads(run("procedures", "schema").done()) == schema("override")
    assert json.loads(run("procedures", "schema", "definition").done()) == schema("definition")
    assert run("procedures", "schema", "case").code == 2


# ---- check -----------------------------------------------------------------------------------------------------------


def test_a_file_of_local_changes_is_checked_as_what_it_is(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "changes.toml"
    path.write_text(LOCAL, encoding="utf-8")
    assert run("procedures", "check", path).done() == f"{path}: local changes to three-lumen, no problems\n"
    path.write_text(LOCAL.replace("oesophageal_ceiling", "oesophageal_cieling"), encoding="utf-8")
    ran = run("procedures", "check", path)
    assert (ran.code, ran.err) == (3, f"1 problem in {path}\n")
    assert ran.out.startswith("limits.oesophageal_cieling: not a limit of three-lumen; there are ")
