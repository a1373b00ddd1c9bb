"""What people say to each other and what sounds like an entry: the engines may hear it, and nothing of it is logged."""

from __future__ import annotations

import random

import pytest

from log.load import load, read_procedure, shipped
from log.spoken import NotUnderstood
from tests.voice.said import NEEDS_A_VOICE, made_of
from voice import models
from voice.compiling import compile_grammars
from voice.grammar import ASKED, ENTRIES
from voice.listener import Ears
from voice.matcher import Situation, understand
from voice.phrases import compile_phrases, sample_overheard


@pytest.mark.parametrize("name", shipped())
def test_it_can_be_heard_and_means_nothing(name: str) -> None:
    phrases, rng = compile_phrases(read_procedure(name)), random.Random(1)
    grammars = compile_grammars(phrases, None)
    for _ in range(500):
        words = sample_overheard(phrases, rng)
        for grammar in (ENTRIES, ASKED):
            assert grammars[grammar].entry.accepts(words), words
            assert grammars[grammar].entry.accepts(("right", "log", *words)), words
        for situation in (Situation(), Situation(asked=True), Situation(in_talk=True)):
            assert isinstance(understand(phrases, words, situation), NotUnderstood), words


@NEEDS_A_VOICE
def test_no_entry_is_made_of_the_half_of_an_order_or_of_another_tube() -> None:
    """Of these a given dose, the depth of the tube in the case and the pressure of its balloon had been logged."""
    phrases, model = compile_phrases(load("three-lumen").procedure), models.default_model(models.models_dir())
    assert model is not None
    with Ears(phrases, None, "both", model.path) as ears:
        for text in (
            "give one gram of tranexamic acid",
            "e t tube twenty two at the teeth",
            "cuff pressure is twenty five",
            "fentanyl fifty given",
        ):
            assert made_of(ears, text) == [], text
        assert len(made_of(ears, "one gram of tranexamic acid given")) == 1
        assert len(made_of(ears, "gastric pressure is twenty five")) == 1
