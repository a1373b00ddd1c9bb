"""Words as they were typed or heard -> the words of the definition, and the phrases that come closest to them.

rapidfuzz only finds hints for people: nothing it finds is ever logged.
"""

from __future__ import annotations

import re
from collections.abc import Container
from functools import cache

from rapidfuzz import fuzz, process

from voice.english.numbers import NUMBER_WORDS, figures_in_words
from voice.phrases.phrases import Phrases, patterns

_MARK_AT_FIGURES = re.compile(
    r"(?<=[0-9])[^\sa-z0-9.]+(?=[0-9.])|(?<![a-z0-9])[^\sa-z0-9.(\"']+(?=\.?[0-9])|"
    r"(?<=[0-9])[^\sa-z0-9.,;:!?)\"']+"
)
"""A sign that makes figures mean something else than their digits: "1,000", "3-5", "-5", "<50"."""

_UNREADABLE = "#"
"""Stands for such a sign, and for a figure of another kind (½): it is in no phrase, so nothing beside it is read."""


class _Hyphens:
    """Words with a hyphen that the definition writes so or spells otherwise."""

    def __init__(self, phrases: Phrases) -> None:
        self._words, self._spellings = phrases.words, phrases.procedure.spellings

    def __contains__(self, word: object) -> bool:
        return word in self._words or word in self._spellings


LONGEST = 4_000
"""Characters of an utterance; what follows was pasted by mistake, and patterns take their time over it."""

PAUSE = ","
"""Where somebody drew breath, or typed a comma or a full stop."""

_PAUSES = re.compile(r"[,;:.!]+(?=\s|$)|(?<=\s)[-\u2013\u2014]+(?=\s)|[()\n]")
_APART = re.compile(r"(?<![0-9.])([0-9]+)\s*[,;:.!?]+\s+(?=([0-9]+(?:\s+[0-9]+)*))")
"""Figures on both sides of a stop: "20, 5"."""

_LONE_SIGN = re.compile(r"(?<!\S)[^\sa-z0-9]+(?!\S)")
_OVER = re.compile(r"\b([2-9][0-9]|[12][0-9]{2})/([1-9][0-9]|1[0-9]{2})\b")


def normalise(phrases: Phrases, spoken: str | tuple[str, ...]) -> tuple[str, ...]:
    """Lower case, the definition's spelling, hyphens and figures as words, without pauses."""
    words = tuple(word for word in sentence(spoken, _Hyphens(phrases)) if word != PAUSE)
    return _spelled(phrases, " ".join(words).replace("?", " ").split())


def sentence(spoken: str | tuple[str, ...], known: Container[str]) -> tuple[str, ...]:
    """Lower case, figures as words, pauses as ",", a question mark as "?".

    `known`: words with a hyphen that stay one word. A sign that is no word and stands beside a number is unreadable:
    nothing is logged across it.
    """
    text = (" ".join(spoken) if isinstance(spoken, tuple) else spoken).lower()[:LONGEST]
    text = re.sub(r"(?<=[0-9]) ?%", " percent ", text)
    text = _OVER.sub(r"\1 over \2", text)
    text = "".join(_UNREADABLE if sign.isnumeric() and not sign.isascii() else sign for sign in text)
    text = _APART.sub(_apart, text)
    text = _LONE_SIGN.sub(lambda sign: _lone(sign, text), text)
    text = _MARK_AT_FIGURES.sub(f" {_UNREADABLE} ", text)
    text = _PAUSES.sub(f" {PAUSE} ", text).replace("?", " ? ")
    text = re.sub(rf"[^a-z0-9.'{_UNREADABLE}{PAUSE}? -]", " ", text)
    text = re.sub(r"(?<=[0-9])(?=[a-z])|(?<=[a-z])(?=[0-9])", " ", text)
    text = re.sub(r"[0-9.]*[0-9]", lambda figures: f" {figures_in_words(figures[0]) or _UNREADABLE} ", text)
    words = (word if word == PAUSE else word.strip(".") for word in text.split())
    return tuple(piece for word in words for piece in _unhyphenated(word, known) if piece)


def _apart(figures: re.Match[str]) -> str:
    """Figures that somebody set apart are no one number ("20, 5" is not 205), unless they are digits one by one or the
    same number again."""
    number, again = figures[1], figures[2].split()
    one_by_one = len(number) == 1 and len(again[0]) == 1
    return figures[0] if one_by_one or "".join(again) == number else f"{number} {_UNREADABLE} "


def _lone(sign: re.Match[str], text: str) -> str:
    """A sign by itself: unreadable beside a number, else a pause, as people type it."""
    before, after = text[: sign.start()].split()[-1:], text[sign.end() :].split()[:1]
    numbers = tuple(map(_is_a_number, before + after))
    if sign[0] in _PLAIN_MARKS:
        return f" {_UNREADABLE} " if len(numbers) == 2 and all(numbers) else sign[0]
    return f" {_UNREADABLE} " if any(numbers) else f" {PAUSE} "


def _is_a_number(word: str) -> bool:
    return word.strip(".,") in NUMBER_WORDS or word[:1].isdigit() or word[-1:].isdigit()


_PLAIN_MARKS = frozenset({",", ".", ";", ":", "?", "!"})


def _unhyphenated(word: str, known: Container[str]) -> tuple[str, ...]:
    if "-" not in word or word in known:
        return (word,)
    return tuple(word.split("-"))


def _spelled(phrases: Phrases, pieces: list[str]) -> tuple[str, ...]:
    words = " ".join(word.strip("'") for word in pieces).split()
    spellings = phrases.procedure.spellings
    out: list[str] = []
    while words:
        pair = " ".join(words[:2])
        if len(words) > 1 and pair in spellings:
            out += spellings[pair].split()
            words = words[2:]
            continue
        word = words.pop(0)
        out += spellings[word].split() if word in spellings else [word]
    return tuple(out)


@cache
def _said_aloud(phrases: Phrases) -> dict[str, str]:
    """Every phrase, its numbers as "#", its choices as their names, its words in order of the alphabet -> the phrase
    as a person reads it."""
    found: dict[str, str] = {}
    for template in phrases.entries:
        for pattern in patterns(template):
            found.setdefault(_sorted(_blanked(phrases, pattern)), pattern)
    return found


def _blanked(phrases: Phrases, pattern: str) -> str:
    return re.sub(r"\{(\w+)\}", lambda slot: "#" if phrases.number_slot(slot[1]) else slot[1], pattern)


def _sorted(text: str) -> str:
    return " ".join(sorted(text.split()))


def nearest(phrases: Phrases, words: tuple[str, ...], most: int = 3) -> tuple[str, ...]:
    """The phrases that come closest to what was heard; numbers do not count."""
    if not words:
        return ()
    blanked = re.sub(r"(#\s*)+", "# ", " ".join("#" if word in NUMBER_WORDS else word for word in words))
    sites = {site for values in phrases.choices.values() for site in values}
    blanked = _sorted(" ".join("site" if word in sites else word for word in blanked.split()))
    known = _said_aloud(phrases)
    found = process.extract(blanked, list(known), scorer=fuzz.ratio, limit=most, score_cutoff=55)
    return tuple(known[text] for text, _, _ in found)
