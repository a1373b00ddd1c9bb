"""Nearly a number, and none: a mis-spelt number word, two numbers side by side. Nothing is asked about it."""

from __future__ import annotations

from itertools import pairwise

from rapidfuzz import fuzz

from voice.english.listed import words_of
from voice.english.numbers import NUMBER_WORDS
from voice.meaning.frames.lexicon import Lexicon
from voice.meaning.frames.token import Token

NEARLY_A_NUMBER = 80
"""rapidfuzz ratio from which an unknown word may be a number word mis-spelt."""

_SOUNDS_LIKE_A_NUMBER = words_of("won too fore ate tree tri haff sex tin")
"""Right before a number these are one themselves: "too fifty" may be two hundred and fifty."""
_MAY_SOUND_LIKE_A_NUMBER = words_of("for free")
_AFTER_A_NUMBER = words_of("zero oh hundred")
_WORDS_OF_AMOUNTS = NUMBER_WORDS | {"thousand", "double", "a", "and"}


def misspelt_number(lexicon: Lexicon, words: tuple[str, ...]) -> str:
    """The first word that is nearly a number word, where a number was said beside it; empty where there is none."""
    numbered = any(word in NUMBER_WORDS for word in words)
    for place, said in enumerate(words):
        word = said.partition("'")[0]
        if word in _WORDS_OF_AMOUNTS:
            continue
        following = frozenset(words[place + 1 : place + 2])
        if word in _SOUNDS_LIKE_A_NUMBER and following & _WORDS_OF_AMOUNTS - {"and"}:
            return word
        if word in _MAY_SOUND_LIKE_A_NUMBER and following & _AFTER_A_NUMBER:
            return word
        if numbered and word not in lexicon.known and _nearly_a_number(word):
            return word
    return ""


def side_by_side(found: tuple[Token, ...]) -> bool:
    """Whether two numbers stand with no word, unit or pause between them, or one beside a letter: "5e1"."""
    for one, other in pairwise(found):
        if one.amount is not None and other.amount is not None:
            if one.amount.unit is None and not (one.amount.implied or other.amount.implied):
                return True
        elif one.amount is not None and one.amount.unit is None and len(other.text) == 1 and other.meaning == 0:
            return not other.is_pause
    return False


def _nearly_a_number(word: str) -> bool:
    return any(fuzz.ratio(word, number) >= NEARLY_A_NUMBER for number in NUMBER_WORDS)
