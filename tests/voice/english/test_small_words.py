"""What is said as a sentence means what the phrase means: "the airway is secured" is "airway secured"."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from log.basics.entry import Entry, NotUnderstood, Question, Understood
from log.definition.load import shipped
from tests.cases import grammars, phrases
from tests.voice.said import NEEDS_A_VOICE, check_logged
from voice.english.numbers import NUMBER_WORDS
from voice.english.small_words import SMALL_WORDS, with_small_words
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import Template
from voice.phrases.sample import Sample, sample
from voice.templates.expression import parse_template, strings
from voice.templates.grammar import ENTRIES

TIMES = 4


def said_with(text: str) -> set[str]:
    node = with_small_words(parse_template(text, {}), lambda slot: slot == "number")
    return {" ".join(words) for words in strings(node)}


def test_the_article_alone_comes_first_and_small_words_come_between() -> None:
    assert said_with("airway secured") == {
        f"{first}airway {between}secured"
        for first in ("", "the ")
        for between in ("", "is ", "are ", "has ", "have ", "has been ", "have been ")
    }


def test_what_may_be_the_first_word_has_no_verb_before_it() -> None:
    said = said_with("[gastric] balloon up")
    assert {"balloon is up", "the gastric balloon is up", "the balloon has been up"} <= said
    assert not any(words.startswith(("is", "are", "has", "have", "been")) for words in said)


def test_none_stands_before_a_number_or_right_after_it() -> None:
    assert said_with("{number} in") == {"{number} in"}
    assert said_with("volume {number}") == {"volume {number}", "the volume {number}"}
    assert said_with("pressure [is] {number} [now] up") == {
        f"{first}pressure {verb}{{number}} {now}up"
        for first in ("", "the ")
        for verb in ("", "is ")
        for now in ("", "now ")
    }


def test_small_words_that_are_written_get_none_before_them() -> None:
    assert "over the the stomach" not in said_with("air over [the] stomach")
    assert {"air is over the stomach", "the air over stomach"} <= said_with("air over [the] stomach")


def plainly(name: str) -> list[tuple[Template, Sample]]:
    """Every phrase of a definition a few times, said with small words here and there."""
    rng = random.Random(name)
    return [
        (template, sample(phrases(name), template, rng, small_words=True))
        for template in phrases(name).entries
        for _ in range(TIMES)
    ]


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_a_sentence_means_what_its_phrase_means_and_can_be_heard(name: str) -> None:
    heard = grammars(name)[ENTRIES].entry
    with_them = 0
    for _, said in plainly(name):
        meaning = understand(phrases(name), said.words)
        assert isinstance(meaning, Understood), said
        (item,) = meaning.items
        assert (item.candidates[0] if isinstance(item, Question) else item) == said.entry, said
        assert heard.accepts(said.words), said
        with_them += bool(SMALL_WORDS.intersection(said.words))
    assert with_them > 200


@pytest.mark.parametrize("name", shipped())
def test_the_article_never_takes_the_place_of_a_number(name: str) -> None:
    """It is nearly "three": "the five" must never be read as five."""
    for _, said in plainly(name):
        for pair in pairwise(said.words):
            assert not ("the" in pair and NUMBER_WORDS.intersection(pair)), said
    for text in ("the five in gastric", "oesophageal pressure the five", "oesophageal pressure three the five"):
        assert isinstance(understand(phrases(name), text), NotUnderstood), text


@pytest.mark.parametrize("name", shipped())
def test_a_question_and_a_denial_stay_what_they_are(name: str) -> None:
    for text in (
        "is the airway secured",
        "has the tube been removed",
        "are both balloons down",
        "the airway is not secured",
        "gastric five zero in is the airway secured",
        "removal started is that right",
    ):
        assert isinstance(understand(phrases(name), text), NotUnderstood), text


@pytest.mark.parametrize("name", shipped())
def test_a_cry_for_help_may_be_a_sentence(name: str) -> None:
    meaning = understand(phrases(name), "the airway is blocked", Listening(lead_word="log"))
    assert meaning == Understood(items=(Entry(kind="emergency", value="airway"),))


@NEEDS_A_VOICE
def test_sentences_are_heard(both: Ears) -> None:
    """None of these had been heard at all."""
    check_logged(
        both,
        {
            "the traction is on": Entry(kind="traction", value="on"),
            "both balloons are down": Entry(kind="balloon", site="both", value="down"),
            "the bleeding has stopped": Entry(kind="bleeding", value="stopped"),
            "the tube has been removed": Entry(kind="tube", value="out"),
            "the oesophageal pressure is thirty six": Entry(kind="pressure", site="oesophageal", value=36, unit="mmHg"),
        },
    )
