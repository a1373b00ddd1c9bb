"""What is likely is logged, what is doubtful is asked with what else was heard, the rest is dropped."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from voice.meaning.thresholds import (
    IN_TALK,
    MOST_CANDIDATES,
    PUSH_TO_TALK,
    WITH_LEAD_WORD,
    Thresholds,
    doubted,
    same_meaning,
    with_rivals,
)

FIFTY = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
FIFTEEN = Entry(kind="volume_in", site="gastric", value=15, unit="mL")
FIVE = Entry(kind="volume_in", site="gastric", value=5, unit="mL")
SECURED = Entry(kind="airway", value="secured")
ASKED = Question(candidates=(FIFTY, FIFTEEN), why="sound alike", text="50 and 15 sound alike")
NOTHING = NotUnderstood(heard="mind the cable")

THRESHOLDS = Thresholds(log_from=0.8, ask_from=0.4)
SHARE = st.floats(0, 1)


def said(*items: Entry | Question) -> Understood:
    return Understood(items=items)


def test_from_the_upper_threshold_on_an_entry_stands() -> None:
    assert doubted(said(FIFTY, ASKED), 0.8, THRESHOLDS) == said(FIFTY, ASKED)


@pytest.mark.parametrize("sure", [0.79, 0.4])
def test_between_the_thresholds_everything_is_asked(sure: float) -> None:
    meaning = doubted(said(FIFTY, ASKED), sure, THRESHOLDS)
    assert meaning == said(Question(candidates=(FIFTY,), why="indistinct", text="unclear"), ASKED)


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


# What is asked can be chosen from what else was heard


def asked(*candidates: Entry) -> Question:
    return Question(candidates=candidates, why="indistinct", text="unclear")


def test_another_value_that_was_heard_for_the_same_entry_can_be_chosen() -> None:
    assert with_rivals(said(asked(FIFTY)), [said(FIFTEEN)]) == said(asked(FIFTY, FIFTEEN))


def test_what_a_rival_would_ask_itself_gives_its_likeliest() -> None:
    assert with_rivals(said(asked(FIFTY)), [said(asked(FIFTEEN, FIVE))]) == said(asked(FIFTY, FIFTEEN))


def test_where_number_and_digits_contradict_a_hearing_in_which_they_agree_comes_first() -> None:
    contradicts = Question(candidates=(FIFTEEN, FIVE), why="digits disagree", text="the number was 15, its digits 5")
    (item,) = with_rivals(said(contradicts), [said(FIFTY)]).items  # type: ignore[union-attr]
    assert item.candidates == (FIFTY, FIFTEEN, FIVE)  # type: ignore[union-attr]
    (item,) = with_rivals(said(contradicts), [said(asked(FIFTY))]).items  # type: ignore[union-attr]
    assert item.candidates == (FIFTEEN, FIVE, FIFTY)  # type: ignore[union-attr]


def test_the_reason_stays() -> None:
    (item,) = with_rivals(said(ASKED), [said(FIVE)]).items  # type: ignore[union-attr]
    assert item == Question(candidates=(FIFTY, FIFTEEN, FIVE), why=ASKED.why, text=ASKED.text)


def test_what_is_not_asked_is_left_alone() -> None:
    assert with_rivals(said(FIFTY), [said(FIFTEEN)]) == said(FIFTY)
    assert with_rivals(said(FIFTY, asked(SECURED)), [said(FIFTEEN, SECURED)]) == said(FIFTY, asked(SECURED))


def test_a_rival_of_another_kind_or_place_or_number_of_entries_is_no_choice() -> None:
    elsewhere = FIFTEEN.model_copy(update={"site": "oesophageal"})
    for rival in (said(SECURED), said(elsewhere), said(FIFTEEN, SECURED), NOTHING):
        assert with_rivals(said(asked(FIFTY)), [rival]) == said(asked(FIFTY))


def test_each_rival_is_weighed_in_its_own_place() -> None:
    meaning = with_rivals(said(asked(SECURED), asked(FIFTY)), [said(SECURED, FIFTEEN)])
    assert meaning == said(asked(SECURED), asked(FIFTY, FIFTEEN))


def test_what_was_not_understood_has_no_rivals() -> None:
    assert with_rivals(NOTHING, [said(FIFTY)]) == NOTHING


def test_there_are_no_more_to_choose_from_than_one_takes_in_at_a_glance_and_the_likeliest_comes_first() -> None:
    many = [said(FIFTY.model_copy(update={"value": value})) for value in (50, 15, 60, 16, 70)]
    (item,) = with_rivals(said(asked(FIFTY)), many).items  # type: ignore[union-attr]
    assert isinstance(item, Question)
    assert [entry.value for entry in item.candidates] == [50, 15, 60, 16, 70][:MOST_CANDIDATES]


ITEMS = st.lists(st.sampled_from((FIFTY, FIFTEEN, SECURED, ASKED, asked(FIVE))), min_size=1, max_size=3)


@given(ITEMS, st.lists(ITEMS, max_size=3), SHARE)
def test_rivals_never_log_anything_nor_change_what_is_likeliest(
    items: list[Entry | Question], rivals: list[list[Entry | Question]], sure: float
) -> None:
    before = doubted(said(*items), sure, THRESHOLDS)
    after = with_rivals(before, [said(*rival) for rival in rivals])
    if isinstance(before, NotUnderstood):
        assert after == before
        return
    assert same_meaning(before, after)
    assert isinstance(after, Understood)
    assert [type(item) for item in after.items] == [type(item) for item in before.items]


@pytest.mark.parametrize("thresholds", [IN_TALK, PUSH_TO_TALK, WITH_LEAD_WORD])
def test_more_is_wanted_to_log_than_to_ask_and_most_to_settle_a_sound_alike(thresholds: Thresholds) -> None:
    assert 0 < thresholds.ask_from <= thresholds.log_from <= 1
    assert thresholds.alike_from >= thresholds.log_from
