"""`handover` and `debrief`: one screen however narrow, one page however long the case, the same as plain figures."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.tui.conftest import Run

PLACED = (
    "scissors at the head of the bed",
    "gastric leak test passed at two five zero",
    "tube in",
    "tube at five five at the lips",
    "gastric five zero in",
    "x-ray confirms position",
    "gastric two zero zero in",
    "traction one kilo weight on",
    "mark at five two at the lips",
    "oesophageal four zero in",
    "oesophageal pressure four eight",
    "oesophageal pressure three five",
    "gastric in fifty",
)
CAUTION = "Not a medical device"


@pytest.fixture
def placed(run: Run) -> str:
    run("say", "--case", "bay-4", *PLACED).done()
    return "bay-4"


@pytest.mark.parametrize("command", ["handover", "debrief"])
@pytest.mark.parametrize("columns", [80, 120])
def test_no_line_is_wider_than_the_screen(
    run: Run, placed: str, monkeypatch: pytest.MonkeyPatch, command: str, columns: int
) -> None:
    monkeypatch.setattr("shutil.get_terminal_size", lambda: (columns, 40))
    told = run(command, placed).done()
    assert max(map(len, told.splitlines())) <= columns
    assert CAUTION in told


def test_the_hand_over_tells_what_the_next_team_acts_on(run: Run, placed: str) -> None:
    told = " ".join(run("handover", placed).done().split())
    for text in (
        "gastric balloon",
        "265 or 300 mL?",
        "35 mmHg",
        "1 kg",
        "9.8",
        "head of the bed",
        "counts in no total",
    ):
        assert text in told, text


def test_the_hand_over_as_json(run: Run, placed: str) -> None:
    found = json.loads(run("handover", placed, "--json").done())
    gastric, oesophageal = found["balloons"]
    assert (gastric["site"], gastric["volume_mL"]) == ("gastric", 265)
    assert gastric["may_hold_mL"] == [265, 300]
    assert oesophageal["pressure_mmHg"] == 35
    assert found["traction"]["force_N"] == pytest.approx(9.81, abs=0.01)  # 1 kg, standard gravity (SI brochure)
    assert found["mark"]["moved_cm"] == 0
    assert "oesophageal_ceiling" not in {one["rule"] for one in found["findings"]}  # back in range
    (asked,) = found["not_confirmed"]
    assert {one["value"] for one in asked["candidates"]} == {15, 50}
    assert CAUTION in " ".join(found["cautions"])


def test_the_debriefing_as_json(run: Run, placed: str) -> None:
    found = json.loads(run("debrief", placed, "--json").done())
    steps = {step["id"]: step for step in found["steps"]}
    assert steps["tube-in"]["state"] == "reached"
    (over,) = (one for one in found["numbers"] if one["where"] == "outside" and one["limit"] == "oesophageal_ceiling")
    assert (over["value"], over["high"], over["margin"]) == (48, 45, -3)


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_page_to_sign_is_one_page_however_long_the_case(run: Run, tmp_path: Path, placed: str, paper: str) -> None:
    for reading in ("two eight", "three one", "four six", "three zero"):
        run("say", "--case", placed, *(f"oesophageal pressure {reading}" for _ in range(15))).done()
    run("handover", placed, "--pdf", tmp_path / "page.pdf", "--paper", paper).done()
    (page,) = PdfReader(tmp_path / "page.pdf").pages
    assert CAUTION in " ".join(page.extract_text().split())
    width, height = float(page.mediabox.width), float(page.mediabox.height)
    wanted = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}[paper]  # ISO 216; ANSI/ASME Y14.1
    assert (width, height) == pytest.approx(wanted, abs=0.5)


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("handover", "nobody"), 3, "there is no case named"),
        (("debrief", "nobody"), 3, "there is no case named"),
        (("handover", "bay-4", "--now", "2001-01-01T00:00:00Z"), 3, "before"),
        (("handover", "bay-4", "--now", "25:99"), 3, "is not a time"),
        (("handover", "bay-4", "--pdf", "no-such-folder/page.pdf"), 3, "there is no such folder"),
    ],
)
def test_what_cannot_be_used_is_reported_in_one_line(
    run: Run, placed: str, arguments: tuple[str, ...], code: int, told: str
) -> None:
    run(*arguments).refused(code, told)


def test_an_empty_case_is_handed_over_as_one_in_which_nothing_is_known(run: Run) -> None:
    run("say", "--case", "empty", "good morning")
    told = run("handover", "empty").done()
    assert "NOT LOGGED" in told
    assert "nothing is logged" in told
