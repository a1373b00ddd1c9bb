"""What is likely is logged, what is doubtful is asked, the rest is dropped; where two engines differ, it is asked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.spoken import Entry, Meaning, NotUnderstood, Question, Understood
from voice.doubt import PUSH_TO_TALK, Thresholds, agreed, confidence, doubted, same_meaning, similarity

FIFTY = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
FIFTEEN = Entry(kind="volume_in", site="gastric", value=15, unit="mL")
SECURED = Entry(kind="airway", value="secured")
ASKED = Question(candidates=(FIFTY, FIFTEEN), reason="50 and 15 sound alike")
NOTHING = NotUnderstood(heard="mind the cable")

THRESHOLDS = Thresholds(log_from=0.8, ask_from=0.4)
SHARE = st.floats(0, 1)
SHARES = st.lists(SHARE, max_size=4)
PHONES = st.lists(st.sampled_from(("G", "AE", "S", "T", "IH", "K")), max_size=8).map(tuple)


def said(*items: Entry | Question) -> Understood:
    return Understood(items=items)


def test_from_the_upper_threshold_on_an_entry_stands() -> None:
    assert doubted(said(FIFTY, ASKED), 0.8, THRESHOLDS) == said(FIFTY, ASKED)


@pytest.mark.parametrize("sure", [0.79, 0.4])
def test_between_the_thresholds_everything_is_asked(sure: float) -> None:
    meaning = doubted(said(FIFTY, ASKED), sure, THRESHOLDS)
    assert meaning == said(Question(candidates=(FIFTY,), reason="heard indistinctly"), ASKED)


def test_below_the_lower_threshold_it_is_not_understood_and_says_what_it_seemed_to_be() -> None:
    meaning = doubted(said(FIFTY, SECURED), 0.39, THRESHOLDS)
    assert meaning == NotUnderstood(heard="gastric volume_in 50; airway secured")


@pytest.mark.parametrize("sure", [0.0, 0.5, 1.0])
def test_what_was_not_understood_stays_so_however_sure_the_engine_is(sure: float) -> None:
    assert doubted(NOTHING, sure, THRESHOLDS) == NOTHING


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        (said(FIFTY), said(FIFTY), True),
        (said(FIFTY), said(ASKED), True),
        (said(FIFTY), said(FIFTEEN), False),
        (said(FIFTY), said(FIFTY, SECURED), False),
        (said(FIFTY), NOTHING, False),
        (NOTHING, NOTHING, False),
    ],
)
def test_two_hearings_mean_the_same_if_their_likeliest_entries_do(one: Meaning, other: Meaning, same: bool) -> None:
    assert same_meaning(one, other) is same
    assert same_meaning(other, one) is same


def test_what_both_engines_heard_stands() -> None:
    assert agreed(said(FIFTY, SECURED), said(FIFTY, SECURED)) == said(FIFTY, SECURED)


def test_what_one_of_them_would_ask_is_asked_even_if_they_agree() -> None:
    assert agreed(said(FIFTY), said(ASKED)) == said(ASKED)
    assert agreed(said(ASKED), said(FIFTY)) == said(ASKED)


def test_engines_that_differ_are_asked_about_with_what_each_heard_the_first_one_first() -> None:
    assert agreed(said(FIFTY), said(FIFTEEN)) == said(
        Question(candidates=(FIFTY, FIFTEEN), reason="two engines heard different things")
    )
    assert agreed(said(FIFTEEN), said(ASKED)) == said(
        Question(candidates=(FIFTEEN, FIFTY), reason="two engines heard different things")
    )


def test_only_the_entry_they_differ_about_is_asked() -> None:
    first, second = agreed(said(SECURED, FIFTY), said(SECURED, FIFTEEN)).items  # type: ignore[union-attr]
    assert first == SECURED
    assert isinstance(second, Question)


@pytest.mark.parametrize(("one", "other"), [(said(FIFTY), NOTHING), (NOTHING, said(FIFTY))])
def test_what_only_one_engine_heard_is_asked(one: Meaning, other: Meaning) -> None:
    assert agreed(one, other) == said(Question(candidates=(FIFTY,), reason="heard indistinctly"))


def test_where_they_heard_a_different_number_of_entries_the_first_is_asked() -> None:
    meaning = agreed(said(FIFTY), said(FIFTY, SECURED))
    assert meaning == said(Question(candidates=(FIFTY,), reason="heard indistinctly"))


def test_where_no_engine_understood_there_is_nothing() -> None:
    assert isinstance(agreed(NOTHING, NOTHING), NotUnderstood)


@given(
    st.lists(st.sampled_from((FIFTY, FIFTEEN, SECURED, ASKED)), max_size=3),
    st.lists(st.sampled_from((FIFTY, FIFTEEN, SECURED, ASKED)), max_size=3),
)
def test_two_engines_never_log_what_only_one_of_them_heard(one: list[Entry], other: list[Entry]) -> None:
    first, second = (said(*items) if items else NOTHING for items in (one, other))
    meaning = agreed(first, second)
    if isinstance(meaning, Understood):
        for item in meaning.items:
            assert isinstance(item, Question) or (item in one and item in other)


@given(SHARE, SHARE, SHARES)
def test_confidence_rises_with_the_likeness_of_the_open_hearing(
    one: float, other: float, agreement: list[float]
) -> None:
    low, high = sorted((one, other))
    assert confidence(low, agreement) <= confidence(high, agreement)


@given(SHARE, SHARES, SHARE, SHARE)
def test_confidence_rises_with_every_copy_that_agrees(
    like: float, agreement: list[float], one: float, other: float
) -> None:
    low, high = sorted((one, other))
    assert confidence(like, [*agreement, low]) <= confidence(like, [*agreement, high]) + 1e-9


@given(SHARE, SHARES)
def test_confidence_is_a_figure_from_nought_to_one(like: float, agreement: list[float]) -> None:
    assert 0 <= confidence(like, agreement) <= 1 + 1e-9


@pytest.mark.parametrize("copies", [1, 2, 3])
def test_an_entry_that_no_copy_repeats_is_never_logged(copies: int) -> None:
    assert confidence(1.0, [0.0] * copies) < PUSH_TO_TALK.log_from


@given(PHONES, PHONES)
def test_similarity_is_a_share_and_the_same_both_ways(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    assert 0 <= similarity(one, other) <= 1
    assert similarity(one, other) == similarity(other, one)
    assert (similarity(one, other) == 1) is (one == other)


def test_sounds_that_have_nothing_in_common_are_not_alike() -> None:
    assert similarity(("G", "AE"), ("S", "T")) == 0
    assert similarity(("G", "AE", "S", "T"), ("G", "AE", "S", "K")) == 0.75
