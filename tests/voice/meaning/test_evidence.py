"""Every witness says what it knows and no more, and moves the belief in a reading the way it should."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from voice.engines.protocol import Rival, Utterance, Word
from voice.meaning.evidence import (
    ALL_OF_IT,
    FURTHEST,
    LEAST_A_SECOND,
    SENTENCE,
    SHORTEST_SECONDS,
    Evidence,
    Words,
    belief,
    lead,
    number_lead,
    probability,
    proposals,
    understood,
    weights,
    witnesses,
)
from voice.sound.segment import SAMPLE_RATE, Segment

SEGMENT = Segment(bytes(4 * SAMPLE_RATE), 0, 2 * SAMPLE_RATE)
"""Two seconds."""

FIFTY, FIFTEEN = (Entry(kind="volume_in", site="gastric", value=value, unit="mL") for value in (50, 15))
READINGS: dict[Words, Meaning] = {
    ("fifty",): Understood(items=(FIFTY,)),
    ("er", "fifty"): Understood(items=(FIFTY,)),
    ("fifty", "please"): Understood(
        items=(Question(candidates=(FIFTY, FIFTEEN), why="sound alike", text="50 and 15 sound alike"),)
    ),
    ("fifteen",): Understood(items=(FIFTEEN,)),
    ("fifty", "fifty"): Understood(items=(FIFTY, FIFTY)),
}
SAME = [("fifty",), ("er", "fifty"), ("fifty", "please")]
ANOTHER = [("fifteen",), ("fifty", "fifty")]
SAID = READINGS["fifty",]


def read(words: Words) -> Meaning:
    return READINGS.get(words, NotUnderstood(heard=" ".join(words)))


def heard(text: str, *rivals: tuple[Words, float], **more: Any) -> Utterance:
    """`rivals`: words and how far behind."""
    words = tuple(Word(word, 0, 1) for word in text.split())
    return Utterance(words, "vosk", 0, 2, rivals=tuple(Rival(*rival) for rival in rivals), **more)


FREE = {"score": -2.0, "free": -1.0}
"""How well the people's ear fits the words, and any sounds at all."""


def evidence(net: Utterance | None = None, people: Utterance | None = None) -> Evidence:
    return Evidence(SEGMENT, people, net)


def sure(found: Evidence) -> float:
    return belief(found, SAID, ("fifty",), read, bare=False)


# How far a reading leads


def test_the_lead_is_over_the_nearest_hearing_with_another_meaning() -> None:
    ways = heard("fifty", (("er", "fifty"), 0.5), (("fifty", "please"), 1.0), (("fifteen",), 2.5), (("fifteen",), 4.0))
    assert lead(ways, SAID, read) == 2.5


@pytest.mark.parametrize("words", [*ANOTHER, ("mind", "the", "cable"), ()])
def test_a_rival_that_is_no_entry_or_several_counts_as_another_meaning(words: Words) -> None:
    assert lead(heard("fifty", (words, 3.0)), SAID, read) == 3.0


@pytest.mark.parametrize("behind", [FURTHEST, FURTHEST + 0.1, 1e6])
def test_what_is_far_behind_or_not_found_at_all_is_as_far_as_the_search_looks(behind: float) -> None:
    assert lead(heard("fifty", (("fifteen",), behind)), SAID, read) == FURTHEST
    assert lead(heard("fifty"), SAID, read) == FURTHEST


def test_an_ear_that_prefers_another_reading_puts_ours_behind_by_how_far_it_is() -> None:
    ways = heard("fifteen", (("mind",), 0.5), (("er", "fifty"), 2.0), (("fifty",), 3.0))
    assert lead(ways, SAID, read) == -2.0
    assert lead(heard("fifteen"), SAID, read) == -FURTHEST


@pytest.mark.parametrize(("text", "behind"), [("", 1.0), ("mind the cable", FURTHEST)])
def test_an_ear_that_understood_nothing_near_says_nothing(text: str, behind: float) -> None:
    said = heard(text, (("fifty",), behind))
    assert understood(said, read) is None
    assert lead(said, SAID, read) == number_lead(said, SAID, read) == 0.0


def test_the_likeliest_way_that_means_something_is_what_an_ear_understood() -> None:
    said = heard("fifth tea", (("mind",), 0.2), (("fifty",), 1.5), (("fifteen",), 2.0))
    found = understood(said, read)
    assert found is not None and (found.words, found.behind) == (("fifty",), 1.5)
    assert (lead(said, SAID, read), number_lead(said, SAID, read)) == (-1.5, 0.5)
    (proposal,) = proposals(evidence(people=said), read, bare=False)
    assert (proposal.meaning, proposal.said.text) == (SAID, "fifty")


def test_the_nearest_other_number_is_found_among_the_rivals_whatever_else_is_nearer() -> None:
    ways = heard("fifty", (("er", "fifty"), 0.5), (("mind",), 1.0), (("fifty", "fifty"), 1.5), (("fifteen",), 2.5))
    assert number_lead(ways, SAID, read) == 2.5
    assert number_lead(heard("fifteen", (("fifty",), 1.5)), SAID, read) == -1.5
    assert number_lead(heard("fifty fifty", (("fifty",), 1.5)), SAID, read) == 0.0


# What the grammar forces


@pytest.mark.parametrize(
    ("score", "free", "share"),
    [(150.0, 200.0, 0.25), (220.0, 200.0, -0.1), (-100.0, None, 0.0), (83.7, 0.0, ALL_OF_IT)],
)
def test_what_the_net_loses_to_the_grammar_is_a_share_of_what_any_sounds_would_give(
    score: float, free: float | None, share: float
) -> None:
    """All of it where not one sound is heard: noise at the start of a session was "right cut", surely."""
    assert evidence(heard("fifty", score=score, free=free)).forced == pytest.approx(share)


def test_a_very_short_or_faint_sound_is_not_divided_by_next_to_nothing() -> None:
    net = heard("fifty", score=-1.0, free=1.0)
    for samples in (0, round(SHORTEST_SECONDS * SAMPLE_RATE), SAMPLE_RATE):
        found = Evidence(Segment(bytes(2 * samples), 0, samples), net=net).forced
        assert found == pytest.approx(2 / LEAST_A_SECOND / max(samples / SAMPLE_RATE, SHORTEST_SECONDS))


# What it comes to


def test_each_reading_is_proposed_once_the_likeliest_first() -> None:
    net, people = heard("er fifty", (("fifteen",), 0.1)), heard("fifteen", (("fifty",), 3.9), **FREE)
    found = proposals(evidence(net, people), read, bare=False)
    assert [proposal.said.text for proposal in found] == ["fifteen", "er fifty"]
    assert found[0].sure > found[1].sure
    assert len(proposals(evidence(net, heard("fifty please", **FREE)), read, bare=False)) == 1
    assert proposals(evidence(heard("mind"), heard("")), read, bare=False) == []


def test_ears_that_agree_are_surer_than_one_that_is_contradicted_or_hears_alone() -> None:
    net, people = heard("fifty"), heard("fifty", **FREE)
    contradicted = sure(evidence(net, heard("fifteen", (("fifty",), 3.0), **FREE)))
    silent = sure(evidence(net, heard("mind the cable", **FREE)))
    assert sure(evidence(net, people)) > max(contradicted, silent)


def test_a_phrase_of_noise_alone_is_not_believed() -> None:
    assert sure(evidence(heard("fifty", score=83.7, free=0.0), heard(""))) < 0.05


def test_the_table_has_weights_for_every_witness_of_every_set_of_ears_and_they_are_finite() -> None:
    net, people = heard("fifty", score=1.0, free=2.0), heard("fifty", **FREE)
    for found in (evidence(net, people), evidence(net), evidence(people=people)):
        figures = witnesses(found, SAID, ("fifty",), read, bare=True)
        weighed = weights()["-".join(found.heard)]
        assert weighed.keys() == {"constant", *figures}
        assert all(map(math.isfinite, weighed.values()))
    sentence = evidence(net, replace(people, phrase=False))
    assert sentence.is_sentence(("fifty",)) and not sentence.is_sentence(("fifteen",))
    figures = witnesses(sentence, SAID, ("fifty",), read, bare=False)
    assert weights()[SENTENCE].keys() == {"constant", *figures}


def test_what_leads_speaks_for_a_reading_and_what_is_forced_or_unclear_against_it() -> None:
    for weighed in weights().values():
        assert all(weight >= 0 for name, weight in weighed.items() if name.endswith("_lead") or name == "agree")
        assert all(weight <= 0 for name, weight in weighed.items() if name.endswith(("_forced", "_lost", "_unclear")))


BEHIND, FIGURE = st.floats(0, 20), st.floats(-300, 300)
WORDS = st.sampled_from([*READINGS, ("mind",), ()])


@st.composite
def utterances(draw: st.DrawFn) -> Utterance:
    """Anything that an engine can hear."""
    rivals = draw(st.lists(st.tuples(WORDS, BEHIND), max_size=4))
    said = " ".join(draw(WORDS))
    nearest_first = sorted(rivals, key=lambda rival: rival[1])
    return heard(said, *nearest_first, score=draw(FIGURE), free=draw(st.none() | FIGURE))


@given(utterances(), utterances())
def test_the_belief_is_a_probability_whatever_was_heard(one: Utterance, other: Utterance) -> None:
    for found in (evidence(one, other), evidence(one), evidence(people=other)):
        assert all(0 <= proposal.sure <= 1 for proposal in proposals(found, read, bare=False))


def test_figures_beyond_all_measure_give_a_probability_all_the_same() -> None:
    for figure in (1e9, -1e9):
        assert 0 <= probability({"agree": figure}, {"constant": 0.0, "agree": 1.0}) <= 1


@given(BEHIND, BEHIND)
def test_a_rival_that_comes_nearer_never_makes_it_more_believed(one: float, other: float) -> None:
    near, far = (
        sure(evidence(replace(heard("fifty"), rivals=(Rival(("mind",), behind),)), heard("fifty", **FREE)))
        for behind in sorted((one, other))
    )
    assert near <= far
