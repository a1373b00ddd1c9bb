"""The search against every sentence and every timing of small graphs."""

from __future__ import annotations

from itertools import groupby, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voice.engines.beam import BLANK, Beam, Floats, any_sounds, best_ways
from voice.templates.acceptor import Acceptor
from voice.templates.language import ANY_NUMBER, END, START, Sentences, language
from voice.templates.sound_graph import UNKNOWN, Costs, sentence_graph, sound_graph

SAID = {"a": [[1]], "aa": [[1, 1]], "ab": [[1, 2]], "b": [[2]], "ba": [[2, 1], [2, 3]], "not": [[3]]}
"""Words that begin alike, one with a sound twice, one with two pronunciations."""

NEGATED = (frozenset[str](), frozenset({"not"}), frozenset[str]())
ENTRY = Acceptor(({"a": 1, "ab": 2, "ba": 2}, {"aa": 2, "b": 2}, {}), frozenset({2}), NEGATED)
THEN = Acceptor(({"a": 1}, {"b": 2}, {}), frozenset({1, 2}))
EVERYTHING = Beam(behind=1e9, ways=10_000_000)
COSTS = Costs(turned=0.7, another_entry=1.3)
Words = tuple[str, ...]


def sentences(longest: int) -> dict[Words, float]:
    """Every sentence of up to so many words, and what it costs."""
    found = {}
    for many in range(1, longest + 1):
        for words in product(sorted(SAID), repeat=many):
            turned = COSTS.turned * sum(word == "not" for word in words)
            if ENTRY.accepts(words):
                found[words] = turned
            for cut in range(1, many):
                if ENTRY.accepts(words[:cut]) and THEN.accepts(words[cut:]):
                    found[words] = turned + COSTS.another_entry
    return found


def timings(chances: Floats, sounds: list[int]) -> float:
    """Sum over every sequence of frames that becomes these sounds when repeats and then blanks are taken out."""
    total = -np.inf
    for path in product(range(chances.shape[1]), repeat=len(chances)):
        if [sound for sound, _ in groupby(path) if sound != BLANK] == sounds:
            total = np.logaddexp(total, sum(chances[frame, sound] for frame, sound in enumerate(path)))
    return float(total)


def every_way(chances: Floats) -> dict[Words, float]:
    """What each sentence scores, all pronunciations together."""
    scores = {}
    for words, cost in sentences(3).items():
        ways = product(*(SAID[word] for word in words))
        total = np.logaddexp.reduce([timings(chances, [s for part in way for s in part]) for way in ways])
        if total > -np.inf:
            scores[words] = float(total) - cost
    return scores


def chances_of(seed: int, frames: int) -> Floats:
    raw = np.random.default_rng(seed).normal(0, 1.5, (frames, 4))
    return np.asarray(raw - np.log(np.exp(raw).sum(1, keepdims=True)), np.float32)


GRAPH = sound_graph(ENTRY, THEN, SAID, COSTS)


@given(st.integers(0, 10_000), st.integers(1, 5))
def test_every_sentence_has_the_chance_of_all_its_timings(seed: int, frames: int) -> None:
    chances = chances_of(seed, frames)
    wanted = every_way(chances)
    found = {way.words: way.score for way in best_ways(chances, GRAPH, 1000, EVERYTHING)}
    assert {words for words in found if len(words) <= 3} == set(wanted)
    for words, score in wanted.items():
        assert found[words] == pytest.approx(score, abs=2e-3)


@given(st.integers(0, 10_000))
def test_the_likeliest_comes_first_and_a_beam_only_takes_away(seed: int) -> None:
    chances = chances_of(seed, 6)
    everything = best_ways(chances, GRAPH, 1000, EVERYTHING)
    assert list(everything) == sorted(everything, key=lambda way: -way.score)
    all_scores = {way.words: way.score for way in everything}
    for way in best_ways(chances, GRAPH, 3, Beam(behind=4.0, ways=6)):
        assert way.score <= all_scores[way.words] + 2e-3


def test_the_same_sound_twice_needs_a_blank_between() -> None:
    sure = np.log(np.full((3, 4), 0.01, np.float32))
    sure[:, 1] = np.log(0.97)
    only = Acceptor(({"aa": 1}, {}), frozenset({1}))
    graph = sound_graph(only, None, SAID)
    assert best_ways(sure[:2], graph, 1, EVERYTHING) == ()
    (way,) = best_ways(sure, graph, 1, EVERYTHING)
    assert way.score == pytest.approx(float(sure[0, 1] + sure[1, 0] + sure[2, 1]), abs=1e-4)


LANGUAGE = language([("a", "b"), ("a", ANY_NUMBER), ("b", ANY_NUMBER, "a")], ("ba",), "not")
NUMBERS = Acceptor(({"one": 1}, {"one": 2}, {}), frozenset({1, 2}))
SPOKEN = {"a": [[1]], "b": [[2]], "ba": [[2, 1]], "not": [[3]], "one": [[3, 1]]}
DEAR = Costs(weight=0.6, number_word=0.4, unknown=1e3, unknown_sound=1e3)
SENTENCES = sentence_graph(Sentences(LANGUAGE, NUMBERS), SPOKEN, 4, DEAR)


def cheapest(words: Words) -> float:
    """What the words of a sentence cost at least, those of a number as one or as several."""

    def onward(before: str, rest: Words) -> float:
        if not rest:
            return LANGUAGE.cost(END, before)
        if rest[0] != "one":
            return LANGUAGE.cost(rest[0], before) + onward(rest[0], rest[1:])
        ends = (many for many in (1, 2) if rest[:many] == ("one",) * many)
        return LANGUAGE.cost(ANY_NUMBER, before) + min(onward(ANY_NUMBER, rest[many:]) for many in ends)

    return DEAR.weight * onward(START, words) + DEAR.number_word * words.count("one")


@given(st.integers(0, 10_000), st.integers(2, 4))
def test_a_sentence_costs_what_its_words_do_after_each_other(seed: int, frames: int) -> None:
    """A word that was seen may be reached as one that was not, too: at most twice the chance for each."""
    chances = chances_of(seed, frames)
    found = {way.words: way.score for way in best_ways(chances, SENTENCES, 1000, EVERYTHING)}
    for words in (("a",), ("a", "b"), ("ba",), ("not", "a"), ("one",), ("a", "one"), ("one", "one")):
        sounds = [sound for word in words for sound in SPOKEN[word][0]]
        whole = timings(chances, sounds) - cheapest(words)
        if len(sounds) > frames or whole == -np.inf:
            assert words not in found
        else:
            assert whole - 2e-3 <= found[words] <= whole + np.log(2) * (len(words) + words.count("one")) + 2e-3


def test_sounds_that_nobody_knows_are_one_unknown_word() -> None:
    graph = sentence_graph(Sentences(LANGUAGE, NUMBERS), SPOKEN, 5, Costs(unknown=3.0, unknown_sound=1.0))
    sure = np.log(np.full((5, 5), 0.001, np.float32))
    for frame, sound in enumerate((1, 4, 3, 4, 2)):
        sure[frame, sound] = np.log(0.996)
    assert best_ways(sure, graph, 1, EVERYTHING)[0].words == ("a", UNKNOWN, "b")


def test_words_that_have_no_sounds_cannot_be_said() -> None:
    graph = sound_graph(Acceptor(({"a": 1, "unsaid": 1}, {}), frozenset({1})), None, SAID)
    assert graph.words == ("a",)


def test_nothing_is_no_utterance() -> None:
    chances = np.log(np.full((5, 4), 0.01, np.float32))
    chances[:, BLANK] = np.log(0.97)
    assert any_sounds(chances) == 0.0
    assert best_ways(chances[:0], GRAPH, 3) == ()
    chances[1], chances[3] = np.log([0.01, 0.97, 0.01, 0.01]), np.log([0.01, 0.01, 0.97, 0.01])
    assert any_sounds(chances) < 0.0
    assert best_ways(chances, GRAPH, 1)[0].words in (("a", "b"), ("ab",))
