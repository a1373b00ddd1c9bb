"""The lead word comes first or after hesitations, for the matcher and for what is kept of a recording alike."""

from __future__ import annotations

import pytest

from log.basics.entry import Entry, Understood
from voice.meaning.lead_word import after_hesitations, after_lead_word
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import Phrases

FIFTY = Understood(items=(Entry(kind="volume_in", site="gastric", value=50, unit="mL"),))


@pytest.mark.parametrize(
    ("said", "rest"),
    [
        ("log tube in", "tube in"),
        ("um log tube in", "tube in"),
        ("okay so um log tube in", "tube in"),
        ("log um tube in", "um tube in"),
        ("log", ""),
        ("tube in", None),
        ("please write log tube in", None),
        ("um", None),
        ("", None),
    ],
)
def test_what_is_said_after_the_lead_word(phrases: Phrases, said: str, rest: str | None) -> None:
    found = after_lead_word(phrases.procedure, tuple(said.split()), "log")
    assert (None if found is None else " ".join(found)) == rest


def test_hesitations_are_nothing_but_the_lead_word_is_something(phrases: Phrases) -> None:
    assert after_hesitations(phrases.procedure, ("um", "so", "log", "um")) == ("log", "um")
    with_log = phrases.procedure.model_copy(update={"fillers": ("um", "log")})
    assert after_hesitations(with_log, ("um", "log", "tube")) == ("log", "tube")


@pytest.mark.parametrize(
    "said", ["log gastric in five zero", "um log gastric in five zero", "so um log um gastric in five zero"]
)
def test_an_entry_after_a_hesitation_is_understood(phrases: Phrases, said: str) -> None:
    assert understand(phrases, said, Listening(lead_word="log")) == FIFTY
    assert understand(phrases, said.replace("log", "scribe"), Listening(lead_word="scribe")) == FIFTY


@pytest.mark.parametrize("lead_word", ["log", "scribe"])
def test_an_answer_may_begin_with_the_lead_word_that_is_in_use(phrases: Phrases, lead_word: str) -> None:
    said = f"um {lead_word} five zero"
    answer = understand(phrases, said, Listening(lead_word=lead_word, question_open=True))
    assert answer == Understood(items=(Entry(kind="number", value=50),))
