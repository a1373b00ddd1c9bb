"""Where what was heard is beyond doubt a sound-alike is not asked about; every other question stays."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from tests.cases import phrases
from voice.english.numbers import SOUND_ALIKE, natural_forms, sound_alikes
from voice.meaning.matcher import Listening, settled, understand
from voice.meaning.thresholds import Thresholds, doubted


def read(said: str, number_due: bool = False) -> Meaning:
    return understand(phrases(), said, Listening(number_due=number_due))


def items(meaning: Meaning) -> tuple[Entry | Question, ...]:
    assert isinstance(meaning, Understood)
    return meaning.items


@pytest.mark.parametrize("number_due", [False, True])
@pytest.mark.parametrize(("said", "value"), [("fifteen", 15), ("fifty", 50), ("thirty", 30), ("thirteen", 13)])
def test_a_number_that_only_sounds_like_another_is_taken_as_heard(said: str, value: int, number_due: bool) -> None:
    meaning = read(said if number_due else f"gastric pressure {said}", number_due)
    (before,) = items(meaning)
    assert isinstance(before, Question)
    (after,) = items(settled(meaning))
    assert after == before.candidates[0]
    assert isinstance(after, Entry)
    assert after.value == value


@pytest.mark.parametrize(
    "said",
    [
        "gastric pressure fifteen five zero",  # the digits are another number's
        "gastric pressure nine hundred",  # outside what can be said here
        "gastric pressure fifteen mils",  # another unit
        "gastric pressure nine hundred fifteen",
    ],
)
def test_a_question_with_another_reason_stays(said: str) -> None:
    meaning = read(said)
    assert any(isinstance(item, Question) for item in items(meaning)), "the definition has no question here"
    assert settled(meaning) == meaning


def test_a_number_whose_digits_contradict_it_stays_a_question_when_a_number_is_due() -> None:
    meaning = read("fifteen five zero", number_due=True)
    assert isinstance(items(meaning)[0], Question)
    assert settled(meaning) == meaning


def test_what_is_unclear_is_not_settled() -> None:
    asked = doubted(read("gastric pressure twenty one"), 0.6, Thresholds(log_from=0.9, ask_from=0.3))
    assert settled(asked) == asked
    assert isinstance(items(asked)[0], Question)


def test_each_entry_of_a_breath_is_settled_for_itself() -> None:
    meaning = read("gastric pressure fifteen and gastric pressure fifteen five zero and gastric pressure twenty one")
    first, second, third = items(settled(meaning))
    assert isinstance(first, Entry) and isinstance(third, Entry)
    assert isinstance(second, Question)


def test_what_was_not_understood_stays_so() -> None:
    assert settled(NotUnderstood(heard="mind the cable")) == NotUnderstood(heard="mind the cable")


@given(st.integers(0, 60))
def test_what_is_settled_is_the_number_that_was_said_and_settling_again_changes_nothing(value: int) -> None:
    said = next(iter(natural_forms(value)))
    once = settled(read(said, number_due=True))
    assert items(once) == (Entry(kind="number", value=value),)
    assert settled(once) == once
    assert isinstance(items(read(said, number_due=True))[0], Question) is bool(sound_alikes(tuple(said.split())))


def test_there_are_sound_alikes_to_settle() -> None:
    assert SOUND_ALIKE["fifteen"] == "fifty"
