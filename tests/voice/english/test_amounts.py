"""Numbers as they are said within a sentence."""

from __future__ import annotations

import pytest

from voice.english.amounts import longest_number, read_number
from voice.english.numbers import Contradiction, Reading


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("a hundred and ninety", 190),
        ("one double oh", 100),
        ("one fifty", 150),
        ("fifteen hundred", 1500),
        ("two thousand", 2000),
        ("one thousand one hundred", 1100),
        ("thirty six point one", 36.1),
        ("zero point seven", 0.7),
        ("forty four and a half", 44.5),
        ("forty four and half", 44.5),
        ("hundred and fifty", 150),
        ("one five zero", 150),
    ],
)
def test_is_read_as_it_is_said(said: str, value: float) -> None:
    found = read_number(tuple(said.split()))
    assert isinstance(found, Reading)
    assert found.value == value


@pytest.mark.parametrize(
    "said", ["and", "point five five five", "thousand thousand", "double", "fifty fifty fifty", "ten thousand"]
)
def test_what_is_no_number_is_none(said: str) -> None:
    assert read_number(tuple(said.split())) is None


def test_the_longest_number_wins_and_tells_where_it_ends() -> None:
    found = longest_number(("in", "one", "hundred", "and", "fifty", "mils"), 1)
    assert found is not None
    end, said, _ = found
    assert (end, said) == (5, Reading(150, said.style) if isinstance(said, Reading) else None)


def test_a_number_does_not_begin_with_and() -> None:
    assert longest_number(("and", "fifty"), 0) is None


def test_digits_that_contradict_their_number_are_kept_apart() -> None:
    assert isinstance(read_number(("fifty", "one", "five")), Contradiction)


def test_thirteen_sounds_like_thirty_and_digits_like_nothing_else() -> None:
    natural, digits = longest_number(("thirteen",), 0), longest_number(("one", "three"), 0)
    assert natural is not None and natural[2] == (30,)
    assert digits is not None and digits[2] == ()
