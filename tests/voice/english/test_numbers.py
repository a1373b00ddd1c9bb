"""Spoken numbers against an outside reference, and what must never be taken for something else."""

from __future__ import annotations

import re
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from voice.english.numbers import (
    LARGEST,
    LONGEST,
    NUMBER_WORDS,
    SOUND_ALIKE,
    Contradiction,
    Number,
    Reading,
    Style,
    digit_forms,
    half_forms,
    natural_forms,
    number_tree,
    parse,
    sound_alikes,
    spell_digits,
    table,
)
from voice.templates.acceptor import Acceptor, acceptor
from voice.templates.expression import Node, SlotNode, strings

VALUES = st.integers(0, LARGEST)


def words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


def value(text: str) -> Number | None:
    reading = parse(words(text))
    return reading.value if isinstance(reading, Reading) else None


# ---- reading --------------------------------------------------------------------------------------------------------


def test_every_number_is_read_as_the_reference_says_it() -> None:
    for number in range(LARGEST + 1):
        said = re.sub(r"[-,]", " ", num2words(number))
        assert value(said) == number, said
        assert value(said.replace(" and ", " ")) == number, said


@given(VALUES)
@settings(max_examples=200)
def test_every_form_of_a_number_is_read_as_that_number(number: int) -> None:
    forms = [*natural_forms(number), *digit_forms(number)]
    assert forms
    assert len(forms) == len(set(forms))
    assert {value(form) for form in forms} == {number}
    assert {value(form) for form in half_forms(number)} == {number + 0.5}


@given(VALUES.filter(lambda number: number >= 10), st.data())
@settings(max_examples=200)
def test_a_number_followed_by_its_digits_is_that_number(number: int, data: st.DataObject) -> None:
    natural = data.draw(st.sampled_from([*natural_forms(number)]))
    digits = data.draw(st.sampled_from([*digit_forms(number)]))
    assert parse(words(f"{natural} {digits}")) == Reading(number, Style.PAIR)


def test_no_form_means_two_numbers_and_no_number_has_no_form() -> None:
    assert {reading.value for reading in table().values()} == {
        *range(LARGEST + 1),
        *(whole + 0.5 for whole in range(LARGEST + 1)),
    }
    for form, reading in table().items():
        assert parse(words(form)) == reading
        assert set(words(form)) <= NUMBER_WORDS | {"a", "and"}


def test_no_form_is_longer_than_the_matcher_looks() -> None:
    plain = max(len(words(form)) for form, reading in table().items() if reading.style is Style.NATURAL)
    pairs = (
        f"{natural} {digits}"
        for number in range(10, LARGEST + 1)
        for natural in natural_forms(number)
        for digits in digit_forms(number)
    )
    assert max(plain, *(len(words(pair)) for pair in pairs)) <= LONGEST


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("zero", 0),
        ("five", 5),
        ("ten", 10),
        ("one oh", 10),
        ("fifty", 50),
        ("five zero", 50),
        ("five oh", 50),
        ("fifty seven", 57),
        ("a hundred", 100),
        ("one hundred", 100),
        ("two fifty", 250),
        ("two five zero", 250),
        ("two hundred and fifty", 250),
        ("two hundred fifty", 250),
        ("two oh five", 205),
        ("three ten", 310),
        ("one and a half", 1.5),
        ("one point five", 1.5),
        ("half", 0.5),
        ("half a", 0.5),
        ("zero point five", 0.5),
        ("nine ninety nine", 999),
    ],
)
def test_how_numbers_are_said_in_the_room(said: str, number: float) -> None:
    assert value(said) == number


@pytest.mark.parametrize(
    "said",
    [
        "",
        "and",
        "a",
        "oh",
        "hundred",
        "point",
        "fifty fifty",
        "fifty and",
        "and fifty",
        "fifty ten",
        "five hundred zero",
        "twenty eleven",
        "two hundred hundred",
        "a fifty",
        "zero five",
        "one thousand",
        "fiftyn",
        "fivety",
        "minus five",
        "two and fifty",
        "point seven",
        "one point seven",
        "fifty one zero zero",
    ],
)
def test_what_is_no_number_is_not_read_as_one(said: str) -> None:
    assert parse(words(said)) is None


@given(st.lists(st.sampled_from(sorted(NUMBER_WORDS | {"a", "and", "mils"})), max_size=9).map(tuple))
@settings(max_examples=300)
def test_any_words_are_a_number_a_contradiction_or_nothing(spoken: tuple[str, ...]) -> None:
    reading = parse(spoken)
    if isinstance(reading, Reading):
        assert 0 <= reading.value <= LARGEST + 0.5
        assert set(spoken) <= NUMBER_WORDS | {"a", "and"}
    elif reading is not None:
        assert reading.natural != reading.digits
        assert sound_alikes(spoken) == ()


# ---- sound-alikes and contradictions -------------------------------------------------------------------------------


@pytest.mark.parametrize(("teen", "ten"), [(13, 30), (14, 40), (15, 50), (16, 60), (17, 70), (18, 80), (19, 90)])
def test_teens_and_tens_sound_alike_wherever_they_stand(teen: int, ten: int) -> None:
    for hundreds in range(0, 1000, 100):
        for one, other in ((hundreds + teen, hundreds + ten), (hundreds + ten, hundreds + teen)):
            for form in natural_forms(one):
                assert sound_alikes(words(form)) == (other,)


def test_two_fifteen_and_two_fifty_sound_alike() -> None:
    assert sound_alikes(("two", "fifteen")) == (250,)
    assert sound_alikes(("two", "fifty")) == (215,)
    assert sound_alikes(("two", "hundred", "and", "fifty")) == (215,)
    assert sound_alikes(("fifteen", "and", "a", "half")) == (50.5,)


@given(VALUES)
@settings(max_examples=200)
def test_only_what_ends_in_a_teen_or_a_whole_ten_has_a_sound_alike(number: int) -> None:
    has_one = number % 100 in {13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90}
    for form in natural_forms(number):
        assert bool(sound_alikes(words(form))) is has_one, form


@given(VALUES.filter(lambda number: number >= 10), st.data())
@settings(max_examples=200)
def test_digits_and_pairs_have_no_sound_alike(number: int, data: st.DataObject) -> None:
    digits = data.draw(st.sampled_from([*digit_forms(number)]))
    natural = data.draw(st.sampled_from([*natural_forms(number)]))
    assert sound_alikes(words(digits)) == ()
    assert sound_alikes(words(f"{natural} {digits}")) == ()


def test_sound_alikes_are_mutual() -> None:
    assert {SOUND_ALIKE[SOUND_ALIKE[word]] == word for word in SOUND_ALIKE} == {True}
    for form, reading in table().items():
        for other in sound_alikes(words(form)):
            assert any(
                reading.value in sound_alikes(words(back))
                for back, r in table().items()
                if r.value == other and set(words(back)) & set(SOUND_ALIKE)
            ), form


@given(st.integers(10, LARGEST), st.integers(10, LARGEST), st.data())
@settings(max_examples=200)
def test_a_number_followed_by_the_digits_of_another_is_a_contradiction(
    one: int, other: int, data: st.DataObject
) -> None:
    natural = data.draw(st.sampled_from([*natural_forms(one)]))
    digits = data.draw(st.sampled_from([*digit_forms(other)]))
    reading = parse(words(f"{natural} {digits}"))
    if one == other:
        assert reading == Reading(one, Style.PAIR)
    elif isinstance(reading, Reading):
        pairs = {f"{n} {d}" for n in natural_forms(int(reading.value)) for d in digit_forms(int(reading.value))}
        assert reading.style is not Style.PAIR or f"{natural} {digits}" in pairs, "seventy, seven seven seven"
    elif len(str(one)) == len(str(other)):
        assert isinstance(reading, Contradiction)


def test_a_contradiction_keeps_both_numbers() -> None:
    assert parse(("fifteen", "five", "zero")) == Contradiction(15, 50)
    assert parse(("two", "fifty", "two", "one", "five")) == Contradiction(250, 215)


def test_digits_as_the_screen_shows_them() -> None:
    assert [spell_digits(number) for number in (0, 50, 250, 1.5, 0.5)] == [
        "zero",
        "five-zero",
        "two-five-zero",
        "one-point-five",
        "zero-point-five",
    ]


# ---- what an engine may hear --------------------------------------------------------------------------------------


def no_slot(slot: SlotNode) -> Node:
    raise AssertionError(f"a tree of numbers has no slot {slot.name}")


@cache
def machine(low: int, high: int, halves: bool) -> Acceptor:
    return acceptor(number_tree(low, high, halves), no_slot)


def forms(low: float, high: float) -> set[tuple[str, ...]]:
    """Every form of the whole numbers of a range."""
    return {words(form) for form, r in table().items() if low <= r.value <= high and isinstance(r.value, int)}


RANGES = st.tuples(VALUES, VALUES).map(lambda pair: (min(pair), max(pair))) | st.sampled_from(
    [(1, 700), (0, 99), (10, 80), (1, 999), (0, 999), (0, 5), (100, 999), (100, 100), (5, 9), (9, 10), (99, 101)]
)


@given(RANGES)
@settings(max_examples=25)
def test_the_tree_of_a_range_says_the_numbers_of_the_range_and_no_other(limits: tuple[int, int]) -> None:
    accepted = {words(form) for form in table() if machine(*limits, False).accepts(words(form))}
    assert accepted == forms(*limits)


@given(st.integers(0, LARGEST), st.integers(0, 12))
@settings(max_examples=40)
def test_the_tree_of_a_small_range_written_out(low: int, width: int) -> None:
    """Natural, digit by digit, and one after the other: nothing is missing and nothing else is there."""
    high = min(low + width, LARGEST)
    own = forms(low, high)
    natural = {form for form in own if table()[" ".join(form)].style is Style.NATURAL}
    digits = own - natural
    pairs = {n + d for n in natural if table()[" ".join(n)].value >= 10 for d in digits}
    assert set(strings(number_tree(low, high, False))) == own | pairs


@given(RANGES, st.data())
@settings(max_examples=40)
def test_the_tree_of_a_range_can_say_every_pair_form_even_a_contradiction(
    limits: tuple[int, int], data: st.DataObject
) -> None:
    long = st.integers(*limits).filter(lambda number: number >= 10)
    if limits[1] >= max(limits[0], 10):
        natural = data.draw(st.sampled_from([*natural_forms(data.draw(long))]))
        digits = data.draw(st.sampled_from([*digit_forms(data.draw(long))]))
        assert machine(*limits, False).accepts(words(f"{natural} {digits}"))


@pytest.mark.parametrize(("low", "high"), [(0, 5), (0, 1), (1, 3), (2, 12)])
def test_the_tree_with_halves_says_halves_below_the_top_of_the_range(low: int, high: int) -> None:
    said = set(strings(number_tree(low, high, True)))
    halves = {words(form) for form, r in table().items() if isinstance(r.value, float) and low <= r.value <= high}
    assert {form for form in said if set(form) & {"half", "point"}} == halves
    assert {form for form in said if not set(form) & {"half", "point"}} == set(strings(number_tree(low, high, False)))
