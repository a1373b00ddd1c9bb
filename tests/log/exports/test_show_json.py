"""A case for other programs: every line with its state, every finding with its life."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from log.exports.show_json import plain
from tests.cases import GOOD, PLACED, case_of


def _told(*said: Any) -> Mapping[str, Any]:
    return plain(case_of(*said))


def test_each_line_says_its_state_and_its_entry() -> None:
    lines = _told(*GOOD)["lines"]
    assert {line["state"] for line in lines} == {"stands", "asked", "struck"}
    depth = next(line for line in lines if line["kind"] == "depth")
    assert (depth["text"], depth["value"], depth["unit"], depth["site"]) == (
        "tube depth 55 cm at the lips",
        55,
        "cm",
        "lips",
    )
    [asked] = [line for line in lines if line["state"] == "asked"]
    assert [one["value"] for one in asked["candidates"]] == [50, 15]


def test_a_finding_is_struck_with_its_line_and_settled_by_a_correction() -> None:
    findings = _told(
        *PLACED,
        (500, "oesophageal pressure four nine"),
        (505, "scratch that"),
        (520, "oesophageal pressure five zero"),
        (525, "correct last to three two"),
    )["findings"]
    ceilings = [one for one in findings if one["rule"] == "oesophageal_ceiling"]
    assert [one["state"] for one in ceilings] == ["back in range", "struck", "settled"]
    assert (ceilings[0]["line"], ceilings[0]["ended_by"]) == (14, 15)
    for one in ceilings:
        assert one["raised_at"] < one["back_at"] and one["ended_how"]


def test_an_open_finding_is_active_and_has_no_end() -> None:
    [found] = [one for one in _told((10, "tube in"))["findings"] if one["rule"] == "no_scissors"]
    assert (found["level"], found["line"], found["state"], found["back_at"]) == ("medium", 1, "active", None)
    assert found["text"] and found["source"].startswith("[")
