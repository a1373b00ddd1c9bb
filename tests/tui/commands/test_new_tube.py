"""A tube is data: one with a single balloon is a list of one balloon and its own limit. What is about the other balloon
is not taken over, and the rules about it say nothing.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from log.exports import FORMATS
from log.rules.definitions import examine, read_procedure
from tests.tui.conftest import Run

ONE_BALLOON = """
extends = "common"
id = "one-balloon"
title = "Two-lumen tube with one balloon"

[tube]
lumens = 2
balloons = ["gastric"]

[limits.gastric_volume]
about = "gastric balloon volume"
of = { kind = "volume_in", site = "gastric", what = "total" }
unit = "mL"
min = 400
max = 550
level = "medium"
tag = "derived"
advice = "Invented for the tests."

# Two steps are worded for two balloons.
[[milestone]]
id = "balloons-flat"
title = "balloon flat"
before = "tube-in"
after = ["gastric-leak-test", "manometry"]
done = [{ kind = "balloon", site = "gastric", value = "down" }]
say = "gastric balloon deflated"
tag = "derived"

[[milestone]]
id = "decision"
title = "decide: what next?"
after = ["bleeding"]
since = "traction"
only_if = [{ kind = "bleeding", value = "continuing" }]
done = [{ kind = "decision" }]
say = "decision endoscopy"
tag = "derived"
"""

SAID = """airway secured capnography confirmed
scissors at the head of the bed
gastric leak test passed at two five zero
gastric balloon deflated
tube in
tube at five five at the lips
air heard over the stomach
gastric six zero in
x-ray confirms position
gastric total volume is three five zero
traction one kilo weight on
mark at five two at the lips
still bleeding
decision endoscopy
gastric pressure one zero
gastric aspirate one two zero
gastric volume five six zero
mark at four nine at the lips
"""

FOUND = {
    "gastric_volume",  # 350 mL under traction, then 560 mL
    "unclamped",
    "mark_migration",  # 3 cm
}
"""Those that nothing has ended: 60 mL before the film are past, and nobody waits for a pressure from outside."""


@pytest.fixture
def tube(tmp_path: Path) -> Path:
    """Its definition."""
    path = tmp_path / "one-balloon.toml"
    path.write_text(ONE_BALLOON, encoding="utf-8")
    return path


def test_its_definition_is_sound_and_speaks_of_no_other_balloon(tube: Path, run: Run) -> None:
    assert run("procedures", "check", tube).done() == f"{tube}: no problems\n"
    text = read_procedure(str(tube)).model_dump_json()
    assert '"oesophageal":"oesophageal [balloon]"' not in text
    assert '"site":"oesophageal"' not in text
    said = " ".join(run("procedures", "phrases", tube).done().split())
    assert "WHICH_BALLOON gastric balloon" in said


def test_rules_about_another_balloon_are_not_taken_over(tube: Path) -> None:
    ours, both = read_procedure(str(tube)), read_procedure("four-lumen")
    assert both.rules.keys() - ours.rules.keys() == {
        "gastric_first", "traction_first", "mark_missing", "gastric_down_first",
    }  # fmt: skip
    assert both.limits.keys() - ours.limits.keys() == {
        "oesophageal_pressure", "oesophageal_too_low", "oesophageal_ceiling", "oesophageal_start", "oesophageal_volume",
        "gastric_far",
    }  # fmt: skip
    steps = {step.id: step for step in ours.milestone}
    assert "oesophageal-balloon" not in steps
    assert steps["traction-released"].after == ("decision",), "what came before the step that is gone"
    assert steps["gastric-down"].after == ("traction-released",)


def test_a_case_runs_from_words_to_every_export(tube: Path, run: Run, tmp_path: Path) -> None:
    said = run("say", "--definition", tube, "--case", "bay-4", stdin=SAID)
    assert (said.code, said.err) == (0, ""), said
    assert "not understood" not in said.out
    found = json.loads(run("handover", "bay-4", "--json").done())
    assert {one["rule"] for one in found["findings"]} == FOUND
    assert [one["site"] for one in found["balloons"]] == ["gastric"]
    out = tmp_path / "out"
    run("export", "bay-4", "--to", "all", "--out", out)
    assert {path.name.removeprefix("bay-4") for path in out.iterdir()} == {one.suffix for one in FORMATS.values()}
    assert all(path.stat().st_size > 500 for path in out.iterdir())
    for path in out.glob("*.md"):
        rows = path.read_text(encoding="utf-8").lower().splitlines()
        assert not [row for row in rows if row.startswith(("| oesophageal", "| **oesophageal"))], path
    for command in ("watch", "debrief", "show", "verify"):
        assert run(command, "bay-4").code == 0, command
    assert "gastric" in run("transfer", "bay-4", "--altitude-ft", "8000").done()


def test_a_tube_of_its_own_names_says_where_its_balloons_lie(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    own = ONE_BALLOON.replace('balloons = ["gastric"]', 'balloons = ["anchor"]')
    path.write_text(own, encoding="utf-8")
    assert ("tube.balloons", 'say where they lie: in_stomach = "anchor"') in examine(str(path))[1]
    path.write_text(own.replace('["anchor"]', '["anchor"]\nin_stomach = "achor"'), encoding="utf-8")
    assert ("tube.in_stomach", 'the tube has no balloon called "achor"') in examine(str(path))[1]


def test_what_a_file_says_itself_of_a_balloon_it_lacks_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    own = """
[[order]]
id = "mine"
first = { kind = "xray" }
then = { kind = "volume_in", site = "oesophageal" }
level = "low"
tag = "derived"
message = "-"
[rules.gastric_first]
level = "low"
tag = "derived"
message = "-"
"""
    path.write_text(ONE_BALLOON + own, encoding="utf-8")
    found = dict(examine(str(path))[1])
    assert 'the tube has no balloon called "oesophageal"' in found.values()
    assert found["rules.gastric_first"] == "nothing reads it: the tube has no second balloon"
