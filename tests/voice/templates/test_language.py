"""The chances of words after each other: worked by hand, and always those of one word of all."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voice.templates.language import ANY_NUMBER, END, START, language

WORD = st.sampled_from(("gastric", "in", "up", ANY_NUMBER))


def test_a_language_of_three_sentences_worked_by_hand() -> None:
    """Witten and Bell's mixture, from memory: after "in" came three words of two sorts, so 2 / (3 + 2) of the chance is
    shared out by how often a word comes at all; of 14 words of four sorts, "up" is two, and "#" none.
    """
    found = language([("in", "up"), ("in", "up"), ("in",)], (), "log")
    alone = (2 + 4 / 5) / (14 + 4)
    assert math.exp(-found.plain["up"]) == pytest.approx(alone)
    assert math.exp(-found.plain[ANY_NUMBER]) == pytest.approx((4 / 5) / (14 + 4))
    assert math.exp(-found.otherwise["in"]) == pytest.approx(2 / 5)
    assert math.exp(-found.cost("up", "in")) == pytest.approx(3 / 5 * 2 / 3 + 2 / 5 * alone)
    assert found.cost(ANY_NUMBER, "in") == pytest.approx(found.otherwise["in"] + found.plain[ANY_NUMBER])


@given(st.lists(st.lists(WORD, max_size=5), min_size=1, max_size=6), st.sets(WORD))
def test_one_of_all_words_comes_next(sentences: list[list[str]], words: set[str]) -> None:
    found = language(sentences, words, "log")
    for before in (START, "log", *found.plain):
        assert sum(math.exp(-found.cost(word, before)) for word in found.plain) == pytest.approx(1.0)
    assert {END, ANY_NUMBER, *words} <= found.plain.keys()


def test_what_was_seen_is_likelier_than_what_was_not() -> None:
    found = language([("gastric", "in"), ("gastric", "in"), ("gastric", "up")], ("down",), "log")
    costs = [found.cost(word, "gastric") for word in ("in", "up", "down")]
    assert costs == sorted(costs)
    with pytest.raises(KeyError):
        found.cost("sideways", "gastric")
