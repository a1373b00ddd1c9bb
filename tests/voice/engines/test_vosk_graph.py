"""The graphs allow the definition's phrases and nothing else, and sound as the dictionary says."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.voice.read_fst import Read, read
from tests.voice.templates.test_grammar import random_path
from voice.engines.openfst import EMPTY, const_bytes, lookahead_bytes
from voice.engines.vosk_graph import (
    DEFAULTS,
    UNKNOWN,
    GraphParameters,
    Sounds,
    Words,
    pronunciations,
    sentences,
    without,
)
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar

PHONES = ("SIL", "AA", "B", "K")
SMALL = Acceptor(({"a": 1, "b": 2}, {"b": 2}, {}), frozenset((2,)))
"""Says "b" or "a b"."""
ALSO = Acceptor(({"c": 1}, {}), frozenset((1,)))
SMALL_WORDS = Words.of("abc")


def costs(graph: Read, words: Words, *said: str) -> list[float]:
    return graph.costs([words.labels[word] for word in said])


@pytest.fixture(scope="module")
def compiled(grammars: Mapping[str, Grammar]) -> dict[str, tuple[Grammar, Words, Read]]:
    """Every grammar of a shipped definition, from the bytes that vosk gets."""
    return {
        name: (grammar, words, read(const_bytes(sentences(grammar.entry, grammar.then, words))))
        for name, grammar in grammars.items()
        for words in [Words.of(grammar.words)]
    }


@pytest.mark.slow
@given(seed=st.integers(0, 2**32), name=st.sampled_from([ENTRIES, ASKED, NUMBER]), change=st.integers(0, 3))
def test_exactly_what_the_grammar_accepts_can_be_said(
    seed: int, name: str, change: int, compiled: dict[str, tuple[Grammar, Words, Read]]
) -> None:
    grammar, words, graph = compiled[name]
    rng = random.Random(seed)
    said = list(random_path(grammar.entry, rng))
    for _ in range(change):
        place, word = rng.randrange(len(said) + 1), rng.choice(sorted(grammar.words))
        said[place : place + rng.randrange(2)] = [word] if rng.random() < 0.7 else []
    assert costs(graph, words, *said) == cost_in(grammar.entry, said)


def cost_in(entry: Acceptor, said: Sequence[str]) -> list[float]:
    """What it has to cost to say this: each word that leads nowhere its price; such words alone say nothing."""
    state, cost = 0, 0.0
    for word in said:
        if entry.loops and word in entry.loops[state]:
            cost += DEFAULTS.turned
        elif word in entry.arcs[state]:
            state = entry.arcs[state][word]
        else:
            return []
    return [cost] if state in {0, *entry.final} else []


def test_two_entries_in_a_breath_are_dearer(compiled: dict[str, tuple[Grammar, Words, Read]]) -> None:
    grammar, words, graph = compiled[BREATH]
    assert grammar.then is not None
    rng = random.Random(0)
    for _ in range(50):
        one, two = random_path(grammar.entry, rng), random_path(grammar.then, rng)
        assert set(costs(graph, words, *one, *two)) == {DEFAULTS.another_entry}
        as_two = any(grammar.entry.accepts(one[:cut]) and grammar.then.accepts(one[cut:]) for cut in range(1, len(one)))
        assert bool(costs(graph, words, *one)) == as_two


def test_a_second_entry_can_be_left_to_choice() -> None:
    graph = read(const_bytes(sentences(SMALL, ALSO, SMALL_WORDS, must=False)))
    assert costs(graph, SMALL_WORDS, "a", "b") == [0.0]
    assert costs(graph, SMALL_WORDS, "a", "b", "c") == [DEFAULTS.another_entry]
    for wrong in ("a", "ac", "c", "bcc", "bb"):
        assert costs(graph, SMALL_WORDS, *wrong) == []


def test_silence_costs_nothing_and_everything_else_is_unknown() -> None:
    for then, must in ((None, True), (ALSO, True), (ALSO, False)):
        graph = read(const_bytes(sentences(SMALL, then, SMALL_WORDS, must=must)))
        assert graph.costs([]) == [0.0]
        for times in (1, 2, 5):
            assert costs(graph, SMALL_WORDS, *[UNKNOWN] * times) == [times * DEFAULTS.unknown_word]
        assert costs(graph, SMALL_WORDS, "b", UNKNOWN) == costs(graph, SMALL_WORDS, UNKNOWN, "b") == []


def test_a_model_without_an_unknown_word_has_none_in_its_sentences() -> None:
    words = Words({"<eps>": 0, "a": 3, "b": 7})
    graph = read(const_bytes(sentences(SMALL, None, words)))
    assert {arc[0] for arcs in graph.arcs for arc in arcs} == {3, 7}
    assert words.text() == "<eps> 0\na 3\nb 7\n"


def test_phrases_with_words_a_model_lacks_are_left_out() -> None:
    fewer = without(Acceptor(({"a": 1, "b": 2}, {"x": 2, "b": 3}, {}, {"x": 2}), frozenset((2,))), Words.of("ab"))
    assert fewer.accepts(["b"])
    assert fewer.arcs[0] == {"b": 2}
    assert not any(fewer.accepts(said) for said in ("ax", "abx", "a", "ab"))


# ---- sounds --------------------------------------------------------------------------------------------------------


def test_sounds_are_numbered_as_the_net_has_them() -> None:
    sounds = Sounds(PHONES)
    assert sounds.count == 13
    assert sounds.in_word(["AA", "B", "K"]) == [2, 8, 11]
    assert sounds.in_word(["AA"]) == [5]
    assert sounds.in_word(["K", "AA"]) == [10, 3]
    assert sounds.word_boundary().splitlines()[:6] == [
        *("1 nonword", "2 begin", "3 end", "4 internal", "5 singleton", "6 begin")
    ]
    assert int(sounds.disambiguation()) > 2 * sounds.count


@pytest.mark.parametrize("wrong", [(), ("AA",), ("SIL", "AA", "AA"), ("AA", "SIL")])
def test_a_list_that_is_none_of_our_make_is_refused(wrong: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="sounds"):
        Sounds(wrong)


def test_an_unknown_word_may_stand_where_words_lead_nowhere_and_not_within_a_number() -> None:
    loops = (frozenset[str](), frozenset({"not"}), frozenset[str](), frozenset({"not"}))
    said = Acceptor(({"tube": 1}, {"out": 3, "fifty": 2}, {"five": 3}, {}), frozenset({2, 3}), loops)
    words = Words.of(["tube", "out", "fifty", "five", "not"])
    parameters = GraphParameters(unknown_within=4.0, turned=1.0)
    made = sentences(said, None, words, parameters).arcs
    unknown, turned = words.labels[UNKNOWN], words.labels["not"]
    assert {(arc.source, arc.input): arc.cost for arc in made if arc.source == arc.target < 4} == {
        (1, unknown): 4.0,
        (1, turned): 1.0,
        (3, unknown): 4.0,
        (3, turned): 1.0,
    }


def heard_as(graph: Read, sounds: Sounds, words: int) -> set[tuple[tuple[int, ...], tuple[int, ...]]]:
    """All ways through the graph of so many words, as sounds and words; the loops that stay in a sound left out."""
    found: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
    waiting: list[tuple[int, tuple[int, ...], tuple[int, ...]]] = [(graph.start, (), ())]
    while waiting:
        state, heard, said = waiting.pop()
        if state in graph.final and len(said) == words:
            found.add((heard, said))
        for transition, word, _, target in graph.arcs[state]:
            if target == state or (word and len(said) == words) or len(heard) > 4:
                continue
            entered = (transition // 2,) if transition else ()
            waiting.append((target, heard + entered, said + ((word,) if word else ())))
    return found


def test_a_word_sounds_as_each_of_its_pronunciations_with_or_without_silence() -> None:
    sounds, words = Sounds(PHONES), Words({"bak": 1, UNKNOWN: 2})
    graph = read(lookahead_bytes(pronunciations(sounds, {"bak": [["B", "AA", "K"], ["B"]]}, words), 2))
    ways = {heard for heard, said in heard_as(graph, sounds, 1) if said == (1,)}
    long, short, silence = (6, 4, 11), (9,), (1,)
    assert ways >= {long, short, silence + long, long + silence, silence + short + silence}
    assert all(tuple(sound for sound in way if sound != 1) in (long, short) for way in ways)
    unknown = {heard for heard, said in heard_as(graph, sounds, 1) if said == (2,)}
    assert (sounds.number("AA", "begin"), sounds.number("K", "end")) in unknown
    assert all(len([sound for sound in way if sound != 1]) >= 2 for way in unknown)


def test_a_sound_lasts_as_long_as_it_likes_and_every_further_one_costs() -> None:
    sounds, words = Sounds(PHONES), Words({"b": 1, UNKNOWN: 2})
    graph = read(lookahead_bytes(pronunciations(sounds, {"b": [["B"]]}, words), 2))
    (target,) = {arc[3] for arcs in graph.arcs for arc in arcs if arc[1] == 1}
    loops = [arc for arc in graph.arcs[target] if arc[3] == target]
    assert [(loop[0], loop[1]) for loop in loops] == [(2 * 9 - 1, EMPTY)]
    entering = next(arc for arcs in graph.arcs for arc in arcs if arc[1] == 1)
    assert entering[0] == 2 * 9
    assert entering[2] > loops[0][2]


def test_a_sound_the_model_does_not_have_is_refused() -> None:
    with pytest.raises(KeyError):
        pronunciations(Sounds(PHONES), {"z": [["Z"]]}, Words.of(["z"]))
