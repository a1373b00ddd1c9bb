"""What people say to each other and what sounds like an entry: the engines may hear it, and nothing of it is logged."""

from __future__ import annotations

import random

import pytest

from log.basics.entry import NotUnderstood
from log.definition.load import shipped
from tests import cases
from tests.voice.said import NEEDS_A_VOICE, check_heard
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, understand
from voice.phrases.sample import said
from voice.templates.grammar import ASKED, ENTRIES


@pytest.mark.parametrize("name", shipped())
def test_it_can_be_heard_and_means_nothing(name: str) -> None:
    phrases, rng = cases.phrases(name), random.Random(1)
    grammars = cases.grammars(name)
    for words in [said(phrases, node, rng) for node in phrases.overheard for _ in range(4)]:
        for grammar in (ENTRIES, ASKED):
            assert grammars[grammar].entry.accepts(words), words
            assert grammars[grammar].entry.accepts(("right", "log", *words)), words
        for listening in (Listening(), Listening(question_open=True), Listening(in_talk=True)):
            assert isinstance(understand(phrases, words, listening), NotUnderstood), words


@NEEDS_A_VOICE
def test_no_entry_is_made_of_the_half_of_an_order_or_of_another_tube(both: Ears) -> None:
    """Of these a given dose, the depth of the tube in the case and the pressure of its balloon had been logged."""
    check_heard(
        both,
        nothing=(
            "give one gram of tranexamic acid",
            "e t tube twenty two at the teeth",
            "cuff pressure is twenty five",
        ),
        one=("one gram of tranexamic acid given", "gastric pressure is twenty five", "fentanyl fifty given"),
    )


@NEEDS_A_VOICE
def test_no_entry_is_made_of_an_order_an_opposite_or_a_word_that_no_phrase_has(both: Ears) -> None:
    """Of these a clamp, a volume, a wrong position, a complete kit and a secured airway had been logged."""
    check_heard(
        both,
        nothing=(
            "clamp the gastric port",
            "inflate the gastric balloon with fifty",
            "x-ray shows good position",
            "kit incomplete",
            "airway unsecured",
        ),
        one=(
            "clamped the gastric port",
            "inflated the gastric balloon with fifty",
            "x-ray shows bad position",
            "kit complete",
            "manometer zeroed",
            "manometer calibrated",
        ),
    )
