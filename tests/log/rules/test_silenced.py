"""A plan that is made silences the reminder to make one, and nothing else."""

from __future__ import annotations

from datetime import timedelta

import pytest

from log.rules.course import check
from tests import cases
from tests.log.rules.test_rules import BEGAN, BOTH, HELD, record


def due_at(name: str, hours: float, *entries: str) -> list[str]:
    found = check(cases.procedure(name), record((*HELD[name], *entries)), BEGAN + timedelta(hours=hours))
    return [one.rule for one in found if one.rule.startswith("since-gastric-inflation")]


@BOTH
@pytest.mark.parametrize(
    ("decided", "told"),
    [
        ("shunt", []),
        ("endoscopy", []),
        ("oesophageal+balloon", ["since-gastric-inflation-12h"]),
        ("removal", ["since-gastric-inflation-12h"]),
    ],
)
def test_a_definitive_plan_silences_the_reminder_at_12_h(name: str, decided: str, told: list[str]) -> None:
    # P15, P31: 12 h, seek other control within this
    assert due_at(name, 13) == ["since-gastric-inflation-12h"]
    assert due_at(name, 13, f"decision - {decided}") == told


@BOTH
def test_no_plan_silences_the_24_h(name: str) -> None:
    assert due_at(name, 25, "decision - shunt") == ["since-gastric-inflation-24h"]


@BOTH
def test_a_plan_that_is_taken_on_later_ends_the_reminder(name: str) -> None:
    assert due_at(name, 13, "decision - oesophageal+balloon", "decision - shunt", "decision - removal") == []
