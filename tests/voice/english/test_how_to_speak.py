"""The card beside the bed names the balloons of the tube and the kinds of entry of its definition."""

from __future__ import annotations

from tests import cases
from voice.english.how_to_speak import advice, ways


def test_a_tube_with_one_balloon_has_no_other_on_its_card() -> None:
    procedure = cases.phrases().procedure
    one = procedure.model_copy(update={"tube": procedure.tube.model_copy(update={"balloons": ("gastric",)})})
    said = [example for way in ways(one) for example in way.examples]
    assert "gastric's reading three five" in said
    assert not any("oesophageal" in example for example in said)


def test_a_definition_is_shown_only_the_kinds_it_has() -> None:
    procedure = cases.phrases().procedure
    without = procedure.model_copy(update={"kind": tuple(kind for kind in procedure.kind if kind.id != "clamp")})
    [way] = [way for way in ways(without) if way.about == "traction, clamps"]
    assert way.kinds == ("traction",)
    assert way.examples == ("one kilo of traction on",)


def test_the_lead_word_is_that_of_the_definition() -> None:
    procedure = cases.phrases().procedure.model_copy(update={"lead_word": "scribe"})
    assert any('say "scribe" first' in line for line in advice(procedure))
