"""Each sort of trouble is found as soon as it is said, and bleeding is trouble once it had stopped."""

from __future__ import annotations

import pytest

from log.definition.load import shipped
from log.rules.trouble import TROUBLES, rule_of
from tests import cases
from tests.log.rules.test_rules import BOTH, FULL, HELD, found


@BOTH
@pytest.mark.parametrize("trouble", TROUBLES)
def test_trouble_is_found_where_it_is_said(name: str, trouble: str) -> None:
    assert found(name, *FULL[name], f"trouble - - {trouble}") == [rule_of(trouble)]


def test_a_trouble_without_a_rule_is_logged_and_not_judged() -> None:
    assert found("three-lumen", "trouble - - hiccup") == []


@pytest.mark.parametrize("name", shipped())
def test_everything_that_can_be_said_to_be_trouble_has_its_rule(name: str) -> None:
    procedure = cases.procedure(name)
    kind = procedure.kind_named("trouble")
    assert kind is not None
    assert procedure.speech is not None
    frames = {frame.detail for frame in procedure.speech.frame if frame.kind == "trouble"}
    said = frames | {say.detail for say in kind.say}
    assert said == set(TROUBLES)


@BOTH
def test_bleeding_after_it_had_stopped_with_balloons_up(name: str) -> None:
    held = HELD[name]
    assert found(name, *held, "bleeding - continuing") == []
    stopped = (*held, "bleeding - continuing", "bleeding - stopped")
    assert found(name, *stopped, "bleeding - stopped") == []
    assert found(name, *stopped, "bleeding - restarted") == ["bleeds_after_stop"]
    assert found(name, *stopped, "bleeding - continuing") == ["bleeds_after_stop"]
    assert found(name, *stopped, "bleeding - restarted", "bleeding - continuing") == [], "once"


@BOTH
def test_bleeding_after_a_cut(name: str) -> None:
    cut = (*HELD[name], "bleeding - stopped", "emergency - cut", "tube - out")
    assert found(name, *cut, "bleeding - restarted") == ["bleeds_again"]
    never_stopped = (*HELD[name], "emergency - cut", "tube - out")
    assert found(name, *never_stopped, "bleeding - continuing") == ["bleeds_again"]


@pytest.mark.parametrize(
    ("trouble", "ends", "does_not"),
    [
        ("gastric balloon burst", "tube out", "x-ray confirms position"),
        ("gastric balloon leaking", "gastric balloon deflated", "tube at five five at the lips"),
        ("tube slipped", "x-ray confirms position", "gastric port clamped"),
        ("traction has slipped", "traction one kilo weight", "traction released"),
        ("capnography flat", "airway secured capnography confirmed", "bleeding stopped"),
        ("stridor", "tube out", "bleeding stopped"),
        ("stridor", "airway secured capnography confirmed", "traction released"),
        ("chest pain", None, "tube out"),
    ],
)
def test_trouble_stands_until_it_is_over(trouble: str, ends: str | None, does_not: str) -> None:
    """With the tube go its balloons and its traction; what has happened to the patient stands."""
    begun = ((10, "tube in"), (20, "gastric two five zero in"), (30, trouble))
    [raised] = [one for one in cases.case_of(*begun).record.open_findings if one.number == 3 and one.rule in RULES]
    for words, stands in ((does_not, True), (ends, False)):
        if words is not None:
            then = cases.case_of(*begun, (40, words)).record.open_findings
            assert any((one.rule, one.number) == (raised.rule, 3) for one in then) == stands, words


RULES = frozenset(map(rule_of, TROUBLES))
