"""Every witness moves the belief in what was heard the way it should, and none is asked for more than it knows."""

from __future__ import annotations

import math
from dataclasses import astuple, fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from voice.engines.protocol import Rival, Utterance, Word
from voice.meaning import evidence as room
from voice.meaning.evidence import (
    ALL_OF_IT,
    ANOTHER_MAKE,
    FURTHEST,
    LEAST_A_SECOND,
    SHORTEST_SECONDS,
    WEIGHTS,
    Evidence,
    Witnesses,
    Words,
    belief,
    figures,
    number_lead,
    witnesses,
)
from voice.meaning.thresholds import PUSH_TO_TALK, WITH_LEAD_WORD, confidence
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


def seen(first: Utterance, other: Words | None = None, segment: Segment = SEGMENT) -> Witnesses:
    return witnesses(Evidence(segment, first, other), SAID, read)


# The margin


def test_the_margin_is_that_of_the_nearest_hearing_with_another_meaning() -> None:
    ways = heard("fifty", (("er", "fifty"), 0.5), (("fifty", "please"), 1.0), (("fifteen",), 2.5), (("fifteen",), 4.0))
    assert seen(ways).margin == 2.5


@pytest.mark.parametrize("words", [*ANOTHER, ("mind", "the", "cable"), ()])
def test_a_rival_that_is_no_entry_or_several_counts_as_another_meaning(words: Words) -> None:
    assert seen(heard("fifty", (words, 3.0))).margin == 3.0


@pytest.mark.parametrize("behind", [FURTHEST, FURTHEST + 0.1, 1e6])
def test_what_is_far_behind_or_not_found_at_all_is_as_far_as_the_search_looks(behind: float) -> None:
    assert seen(heard("fifty", (("fifteen",), behind))).margin == FURTHEST
    assert seen(heard("fifty")).margin == FURTHEST
    assert seen(heard("fifty", (("er", "fifty"), 1.0))).margin == FURTHEST


# The second net


def test_no_second_net_says_nothing() -> None:
    assert seen(heard("fifty")).second == 0.0


@pytest.mark.parametrize("text", [" ".join(words) for words in SAME])
def test_a_second_net_that_hears_the_same_speaks_for_it_by_its_own_margin(text: str) -> None:
    ways = heard(text, (("er", "fifty"), 0.5), (("fifteen",), 4.0), (("fifty", "fifty"), 1e6))
    assert seen(heard("fifty", second=ways)).second == 4.0
    assert seen(heard("fifty", second=heard(text))).second == FURTHEST


def test_a_second_net_that_prefers_another_speaks_against_it_by_how_far_ours_is_behind() -> None:
    ways = heard("fifteen", (("mind",), 0.5), (("er", "fifty"), 2.0), (("fifty",), 3.0))
    assert seen(heard("fifty", second=ways)).second == -2.0


@pytest.mark.parametrize("text", ["fifteen", "mind the cable", ""])
def test_a_second_net_that_does_not_find_it_at_all_speaks_against_it_most(text: str) -> None:
    assert seen(heard("fifty", second=heard(text))).second == -FURTHEST


def test_a_second_net_that_finds_it_very_far_behind_speaks_no_more_against_it_than_one_that_does_not() -> None:
    assert seen(heard("fifty", second=heard("fifteen", (("fifty",), FURTHEST + 3)))).second == -FURTHEST


# What the grammar forces


def test_what_is_lost_to_the_grammar_is_a_share_of_what_any_sounds_would_give() -> None:
    assert seen(heard("fifty", score=150.0, free=200.0)).forced == pytest.approx(0.25)
    assert seen(heard("fifty", score=220.0, free=200.0)).forced == pytest.approx(-0.1)


def test_where_it_is_not_known_what_any_sounds_would_give_nothing_is_forced() -> None:
    assert seen(heard("fifty", score=-100.0)).forced == 0.0


def test_a_phrase_where_not_one_sound_is_heard_is_the_grammars_alone() -> None:
    """Noise at the start of a session was "right cut", surely: the phrase fits far better than nothing at all."""
    noise = heard("fifty", score=83.7, free=0.0, alternatives=(("fifty",),) * 2, second=heard("fifty"))
    assert seen(noise).forced == ALL_OF_IT
    assert belief(Evidence(SEGMENT, noise), SAID, read) < min(PUSH_TO_TALK.ask_from, WITH_LEAD_WORD.ask_from)


def test_a_very_short_or_faint_sound_is_not_divided_by_next_to_nothing() -> None:
    first = heard("fifty", score=-1.0, free=1.0)
    for samples in (0, 1, round(SHORTEST_SECONDS * SAMPLE_RATE), SAMPLE_RATE):
        found = seen(first, segment=Segment(bytes(2 * samples), 0, samples))
        assert found.forced == pytest.approx(2 / LEAST_A_SECOND / max(samples / SAMPLE_RATE, SHORTEST_SECONDS))


# The copies


def test_the_copies_speak_for_it_by_the_share_in_which_the_same_is_heard() -> None:
    assert seen(heard("fifty")).copies == 0.0
    assert seen(heard("fifty", alternatives=(("er", "fifty"), ("fifty",)))).copies == 1.0
    assert seen(heard("fifty", alternatives=(("fifteen",), ("fifty",)))).copies == 0.5
    assert seen(heard("fifty", alternatives=((), ("mind", "the", "cable")))).copies == 0.0


# The engine of another make


@pytest.mark.parametrize("words", SAME)
def test_the_other_engine_agrees_if_it_means_the_same(words: Words) -> None:
    found = seen(heard("fifty"), words)
    assert (found.agrees, found.differs) == (1.0, 0.0)


@pytest.mark.parametrize("words", ANOTHER)
def test_the_other_engine_differs_if_it_gives_other_entries(words: Words) -> None:
    found = seen(heard("fifty"), words)
    assert (found.agrees, found.differs) == (0.0, 1.0)


@pytest.mark.parametrize("words", [None, (), ("mind", "the", "cable")])
def test_another_engine_that_is_absent_or_understands_nothing_neither_agrees_nor_differs(words: Words | None) -> None:
    found = seen(heard("fifty"), words)
    assert (found.agrees, found.differs) == (0.0, 0.0)


# What it comes to

BEHIND = st.floats(0, 20)
FIGURE = st.floats(-300, 300)


@st.composite
def all_heard(draw: st.DrawFn) -> Evidence:
    """Anything that engines can hear, the first of them "fifty"."""

    def ways(first: Words, **more: Any) -> Utterance:
        words = st.sampled_from([*READINGS, ("mind",), ()])
        rivals = draw(st.lists(st.tuples(words, BEHIND), max_size=4))
        return heard(" ".join(first), *sorted(rivals, key=lambda rival: rival[1]), **more)

    second = ways(draw(st.sampled_from([*READINGS, ("mind",), ()]))) if draw(st.booleans()) else None
    first = ways(("fifty",), score=draw(FIGURE), free=draw(st.none() | FIGURE), second=second)
    first = replace(first, alternatives=tuple(draw(st.lists(st.sampled_from([*READINGS, ()]), max_size=2))))
    return Evidence(Segment(b"", 0, 0), first, draw(st.none() | st.sampled_from([*READINGS, ()])))


@given(all_heard())
def test_the_belief_is_a_probability_and_every_witness_is_within_its_bounds(found: Evidence) -> None:
    figures = witnesses(found, SAID, read)
    assert 0 <= figures.margin <= FURTHEST
    assert -FURTHEST <= figures.second <= FURTHEST
    assert figures.copies in (0.0, 0.5, 1.0)
    assert {figures.agrees, figures.differs} <= {0.0, 1.0}
    assert figures.agrees + figures.differs <= 1
    assert 0 < belief(found, SAID, read) <= 1


@pytest.mark.parametrize("name", [field.name for field in fields(Witnesses)])
@given(figures=st.lists(st.floats(-12, 12), min_size=6, max_size=6), more=st.floats(0.01, 12))
def test_the_belief_rises_or_falls_with_each_witness_by_the_sign_of_its_weight(
    name: str, figures: list[float], more: float
) -> None:
    before = Witnesses(*figures)
    after = replace(before, **{name: getattr(before, name) + more})
    sign = math.copysign(1, getattr(WEIGHTS, name))
    assert sign * (believed(after) - believed(before)) >= 0


def believed(figures: Witnesses) -> float:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "witnesses", lambda *_: figures)
        return belief(Evidence(SEGMENT, heard("fifty")), SAID, read)


def test_what_speaks_for_it_has_no_negative_weight_and_what_speaks_against_it_no_positive_one() -> None:
    assert min(WEIGHTS.margin, WEIGHTS.copies, WEIGHTS.second, WEIGHTS.agrees) >= 0
    assert max(WEIGHTS.forced, WEIGHTS.differs) <= 0


@given(all_heard(), BEHIND, BEHIND)
def test_a_rival_that_comes_nearer_never_makes_it_more_believed(found: Evidence, one: float, other: float) -> None:
    near, far = sorted((one, other))
    nearer, further = (
        replace(found, first=replace(found.first, rivals=(Rival(("fifteen",), behind),))) for behind in (near, far)
    )
    assert belief(nearer, SAID, read) <= belief(further, SAID, read)


@given(all_heard())
def test_an_engine_of_another_make_that_agrees_is_worth_more_than_one_that_differs(found: Evidence) -> None:
    agreeing, differing = (replace(found, other=words) for words in (("fifty",), ("fifteen",)))
    assert belief(agreeing, SAID, read) >= belief(differing, SAID, read)


def test_figures_beyond_all_measure_give_a_probability_all_the_same() -> None:
    for score, free in ((0.0, 1e9), (1e9, 0.0)):
        assert 0 <= belief(Evidence(SEGMENT, heard("fifty", score=score, free=free)), SAID, read) <= 1


@given(all_heard())
def test_what_was_not_understood_is_never_believed(found: Evidence) -> None:
    assert belief(found, NotUnderstood(heard="mind the cable"), read) == 0.0


def test_the_weights_are_finite_figures() -> None:
    assert all(math.isfinite(weight) for weight in (*astuple(WEIGHTS), room.CONSTANT))


# Where one engine is alone


@pytest.mark.parametrize("alike", [0.0, 0.6, 1.0])
def test_one_engine_alone_is_believed_by_its_open_hearing_and_its_altered_copies(alike: float) -> None:
    first = heard("fifty", alternatives=(("er", "fifty"), ("fifteen",), ()))
    assert belief(Evidence(SEGMENT, first, alike=alike), SAID, read) == confidence(alike, [1.0, 0.0, 0.0])


def test_one_engine_alone_has_no_rivals_to_choose_from() -> None:
    first = heard("fifty", (("fifteen",), 1.0), second=heard("fifteen"))
    assert list(Evidence(SEGMENT, first, ("fifteen",), alike=0.5).others) == []


def test_what_else_it_could_have_been_is_told_the_nearest_first_then_by_second_net_copies_and_other_engine() -> None:
    ways = (("sixty",), 1.0), (("fifteen",), 2.0)
    first = heard("fifty", *ways, second=heard("fifty fifty"), alternatives=((), ("nine",)))
    assert list(Evidence(SEGMENT, first, ("five",)).others) == [
        *(("sixty",), ("fifteen",), ("fifty", "fifty"), ("nine",), ("five",))
    ]
    assert list(Evidence(SEGMENT, heard("fifty", second=heard("")), ()).others) == []


# The nearest that differs in a number


def test_the_nearest_other_number_is_found_among_the_rivals_whatever_else_is_nearer() -> None:
    ways = heard("fifty", (("er", "fifty"), 0.5), (("mind",), 1.0), (("fifty", "fifty"), 1.5), (("fifteen",), 2.5))
    assert number_lead(Evidence(SEGMENT, ways), SAID, read) == 2.5
    assert number_lead(Evidence(SEGMENT, heard("fifty", (("mind",), 1.0))), SAID, read) == FURTHEST
    assert number_lead(Evidence(SEGMENT, heard("fifty")), SAID, read) == FURTHEST


@given(st.lists(st.floats(0, FURTHEST), min_size=2, max_size=2))
def test_a_longer_lead_never_weighs_less_but_ever_less_more(leads: list[float]) -> None:
    short, long = sorted(leads)
    one, other = (figures(Witnesses(lead, 0.0, -lead, 0.0, 0.0, 0.0)) for lead in (short, long))
    assert one[0] <= other[0] and one[2] >= other[2]
    assert other[0] - one[0] <= long - short + 1e-9


def test_the_leads_of_both_nets_add_up_and_the_other_make_counts_once() -> None:
    fifteen = (("fifteen",), 1.5)
    same = heard("fifty", (("fifteen",), 1.0), second=heard("fifty", fifteen))
    assert number_lead(Evidence(SEGMENT, same), SAID, read) == 2.5
    assert number_lead(Evidence(SEGMENT, same, ("fifty",)), SAID, read) == 2.5 + ANOTHER_MAKE
    assert number_lead(Evidence(SEGMENT, same, ("fifteen",)), SAID, read) == 2.5


def test_a_second_net_that_prefers_another_number_counts_alone_and_against_it() -> None:
    """Whatever the first net and the other make say: two nets that hear different numbers are a question."""
    other = heard("fifty", (("fifteen",), 3.0), second=heard("fifteen", (("fifty",), 2.0)))
    assert number_lead(Evidence(SEGMENT, other), SAID, read) == -2.0
    assert number_lead(Evidence(SEGMENT, other, ("fifty",)), SAID, read) == -2.0
    no_number = heard("fifty", (("fifteen",), 3.0), second=heard("mind"))
    assert number_lead(Evidence(SEGMENT, no_number), SAID, read) == 3.0
