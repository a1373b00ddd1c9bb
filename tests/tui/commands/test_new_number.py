"""A new number with a limit is a few tables of a definition and no code: it is heard, read back, found beyond its
limit, and stands wherever people look.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from log.exports import FORMATS
from log.rules.definitions import read_procedure
from log.summaries.whole import Whole
from tests.cases import case_of
from tests.tui.conftest import Run
from tui.views.bedside import bedside
from voice.english.spoken import spoken

SUCTION = """
extends = "three-lumen"
id = "with-suction"
title = "Three-lumen tube with suction above it"

[slots.suction]
type = "number"
unit = "mm[Hg]"
said = [10, 300]
units = "<mercury>"

[[kind]]
id = "suction"
title = "Suction pressure"
group = "port"
reading = true
[[kind.say]]
site = "companion"
phrases = ["suction [pressure] at the companion port [is] {suction}"]

[limits.suction_pressure]
about = "suction pressure at the companion port"
of = { kind = "suction", site = "companion" }
unit = "mmHg"
max = 120
level = "medium"
tag = "derived"
advice = "Turn it down."
"""

FOUND = "suction pressure at the companion port 130 mmHg is above the limit (at most 120 mmHg). Turn it down."


@pytest.fixture(params=[SUCTION, SUCTION.replace('group = "port"\nreading = true\n', "")], ids=["said", "by its limit"])
def own(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """The definition, with and without a word on what the new kind is: that it has a limit is enough."""
    path = tmp_path / "own.toml"
    path.write_text(request.param, encoding="utf-8")
    return path


@pytest.fixture
def case(own: Path) -> Whole:
    """Read twice: kept, and not."""
    said = ((60, "suction at the companion port one two zero"), (120, "suction at the companion port one three zero"))
    return case_of(*said, name=str(own))


def written(case: Whole, name: str) -> str:
    text = FORMATS[name].write(case)
    assert isinstance(text, str)
    return text


def test_it_is_sound_and_can_be_typed(own: Path, run: Run) -> None:
    assert run("procedures", "check", own).done() == f"{own}: no problems\n"
    shown = " ".join(run("procedures", "show", own).done().split())
    assert "holds: companion suction [derived]" in shown.replace("Turn it down. ", "")
    words = "suction pressure at the companion port is one three zero"
    said = " ".join(run("say", "--definition", own, words).done().split())
    assert "130 mmHg · one-three-zero" in said
    assert f"MEDIUM: {FOUND}" in said


def test_it_is_read_back_aloud(case: Whole) -> None:
    line = case.record.lines[-1]
    said = spoken(case.procedure, line.entry)
    assert said == "companion suction pressure one hundred and thirty, one three zero, millimetres of mercury"


def test_it_is_found_beyond_its_limit_alone(case: Whole) -> None:
    assert [(one.raised.number, one.raised.rule, one.raised.message) for one in case.record.findings] == [
        (2, "suction_pressure", FOUND)
    ]


def test_it_stands_at_the_bedside(case: Whole) -> None:
    now = bedside(case.course, case.record, case.until)
    assert dict(now.sums)["readings"] == "companion suction pressure 130 mmHg (14:02) ABOVE: at most 120 mmHg"
    assert [one.message for one in now.findings] == [FOUND]


@pytest.mark.parametrize(
    ("name", "texts"),
    [
        ("handover-text", ("companion suction pressure 130 mmHg at 14:02", "ABOVE: at most 120 mmHg", FOUND)),
        ("note", ("## Readings", "| Companion suction pressure | 120 mmHg", "ABOVE: at most 120 mmHg |", FOUND)),
        ("debrief-text", ("suction pressure at the companion port | 130 mmHg | at most 120 mmHg | **outside**", FOUND)),
    ],
)
def test_the_team_takes_it_away(case: Whole, name: str, texts: tuple[str, ...]) -> None:
    told = written(case, name).replace("\\", "")
    for text in texts:
        assert text in told


def test_it_is_an_observation_and_an_issue_in_fhir(case: Whole) -> None:
    resources = [entry["resource"] for entry in json.loads(written(case, "fhir"))["entry"]]
    values = [one["valueQuantity"] for one in resources if one.get("code", {}).get("text") == "Suction pressure"]
    assert [(value["value"], value["code"]) for value in values] == [(120, "mm[Hg]"), (130, "mm[Hg]")]
    (issue,) = (one for one in resources if one["resourceType"] == "DetectedIssue")
    assert issue["detail"].startswith(FOUND)


def test_what_is_held_against_it_says_so_in_the_json_of_the_hand_over(own: Path, run: Run) -> None:
    run("say", "--definition", own, "--case", "bay-4", stdin="suction at the companion port one three zero\n").done()
    (reading,) = json.loads(run("handover", "bay-4", "--json").done())["readings"]
    assert (reading["name"], reading["value"]) == ("companion suction pressure", 130)
    assert reading["limits"] == [{"id": "suction_pressure", "low": None, "high": 120, "side": "outside"}]


def test_other_entries_are_held_against_what_they_were(own: Path) -> None:
    assert read_procedure(str(own)).limits.keys() - read_procedure("three-lumen").limits.keys() == {"suction_pressure"}
