"""The sentences that the ear expects beside phrases."""

from __future__ import annotations

from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from tests.cases import phrases
from voice.phrases.language import as_said, numbers, numbers_as_one, spoken_sentences
from voice.templates.language import ANY_NUMBER, START


def test_the_sentences_are_words_and_numbers_alone() -> None:
    words = {word for said in as_said() for word in said}
    assert len(as_said()) > 4000
    assert all(
        word == ANY_NUMBER or word.replace("'", "").replace("-", "").replace(".", "").isalnum() for word in words
    )
    assert all(word == word.lower() for word in words)


def test_every_word_that_the_dictionary_lacks_is_spelled_once_in_sounds() -> None:
    lines = (files("voice.english") / "pronounced.txt").read_text(encoding="utf-8").splitlines()
    spelled = [line.split() for line in lines]
    assert len({word for word, *_ in spelled}) == len(spelled)
    assert all(sound.isupper() for _, *sounds in spelled for sound in sounds)


@given(st.integers(0, 9_999))
def test_any_number_is_heard_as_num2words_says_it(value: int) -> None:
    said = num2words(value).replace("-", " ").replace(",", "")
    assert numbers().accepts(said.split())


@pytest.mark.parametrize(
    "said", ["one five", "thirty six point five", "a hundred and ninety", "twelve hundred", "one oh five"]
)
def test_numbers_are_heard_as_people_say_them(said: str) -> None:
    assert numbers().accepts(said.split())
    assert numbers_as_one(("at", *said.split(), "a", "tube")) == ("at", ANY_NUMBER, "a", "tube")


def test_what_a_hospital_calls_things_and_the_lead_word_are_expected() -> None:
    found = spoken_sentences(phrases(), "jot").language
    assert found.cost("jot", START) < 1.0
    assert found.cost("gastric", "jot") < found.cost("gastric", "gastric")
    assert {"terlipressin", "tamponade", "capnography"} <= found.plain.keys()
