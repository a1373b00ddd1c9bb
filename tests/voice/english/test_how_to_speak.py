"""The card beside the bed shows nothing that the log does not understand."""

from __future__ import annotations

import pytest

from log.basics.entry import Entry, Question, Understood
from log.definition.load import shipped
from log.rules.definitions import read_procedure
from tests import cases
from voice.english.how_to_speak import advice, ways
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import compile_phrases


@pytest.mark.parametrize("name", shipped())
def test_every_example_is_understood_as_what_it_stands_for(name: str) -> None:
    pytest.importorskip("voice.meaning.frames", reason="sentences are read by frames")
    procedure = read_procedure(name)
    phrases = compile_phrases(procedure)
    for way in ways(procedure):
        for kind, example in zip(way.kinds, way.examples, strict=True):
            lead = "" if way.about == "emergency" else f"{procedure.lead_word} "
            found = understand(phrases, lead + example, Listening(procedure.lead_word))
            assert isinstance(found, Understood), example
            [item] = found.items
            assert not isinstance(item, Question) or item.why == "sound alike", example
            entry = item if isinstance(item, Entry) else item.candidates[0]
            assert entry.kind == kind, example


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
