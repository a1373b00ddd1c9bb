"""Digits that a speech engine hears where something else was said: an "eight" in a person's "three" or at the end of
another's "sixty", an "oh" at the end of "five" in some accents, and of "zero" itself. The net does, and is sure.

A digit "eight" is asked where an ear of another make hears something else: some voices' "three", and the end of some
"sixty", are an eight for the net. So is an "oh" beside a "zero": nobody says both in one number.
"""

from __future__ import annotations

from itertools import pairwise

from voice.english.numbers import TENS, UNITS

Words = tuple[str, ...]

EIGHT = "eight"
NOUGHTS = {"oh", "zero"}


def doubtful_eight(words: Words, bare: bool) -> bool:
    """Whether a number has the digit "eight" after another digit, or is `bare` and has it anywhere."""
    if EIGHT not in words or {*TENS, "hundred"} & {*words}:
        return False
    return bare or any(digit in UNITS and after == EIGHT for digit, after in pairwise(words))


def two_noughts(words: Words) -> bool:
    """Whether a number has "oh" beside "zero": people say one or the other."""
    return any({digit, after} == NOUGHTS for digit, after in pairwise(words))
