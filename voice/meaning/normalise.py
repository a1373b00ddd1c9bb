"""Words as they were typed or heard -> the words of the definition, and the phrases that come closest to them.

rapidfuzz may mend a word that is in nobody's vocabulary, but never into or out of a number.
"""

from __future__ import annotations

import re
from functools import cache

from rapidfuzz import fuzz, process

from voice.english.numbers import NUMBER_WORDS, figures_in_words
from voice.phrases.phrases import Phrases, patterns

MEND_AT = 80.0
"""rapidfuzz ratio from which an unknown word counts as a mis-spelt known one."""

MEND_LETTERS = 4
"""Shorter words are never mended: "in" and "on" are one letter apart."""

_MARK_AT_FIGURES = re.compile(
    r"(?<=[0-9])[^\sa-z0-9.]+(?=[0-9.])|(?<![a-z0-9])[^\sa-z0-9.(\"']+(?=\.?[0-9])|"
    r"(?<=[0-9])[^\sa-z0-9.,;:!?)\"']+"
)
"""A sign that makes figures mean something else than their digits: "1,000", "3-5", "-5", "<50"."""

_UNREADABLE = "#"
"""Stands for such a sign, and for a figure of another kind (½): it is in no phrase, so nothing beside it is read."""


def normalise(phrases: Phrases, spoken: str | tuple[str, ...]) -> tuple[str, ...]:
    """Lower case, the definition's spelling, hyphens and figures as words."""
    text = (" ".join(spoken) if isinstance(spoken, tuple) else spoken).lower()
    text = "".join(_UNREADABLE if sign.isnumeric() and not sign.isascii() else sign for sign in text)
    text = _MARK_AT_FIGURES.sub(f" {_UNREADABLE} ", text)
    text = re.sub(rf"[^a-z0-9.'{_UNREADABLE} -]", " ", text)
    text = re.sub(r"(?<=[0-9])(?=[a-z])|(?<=[a-z])(?=[0-9])", " ", text)
    text = re.sub(r"[0-9.]*[0-9]", lambda figures: f" {figures_in_words(figures[0]) or _UNREADABLE} ", text)
    words = " ".join(word.strip(".'") for word in text.split()).split()
    spellings = phrases.procedure.spellings
    out: list[str] = []
    while words:
        pair = " ".join(words[:2])
        if len(words) > 1 and pair in spellings:
            out += spellings[pair].split()
            words = words[2:]
            continue
        word = words.pop(0)
        if word in spellings:
            out += spellings[word].split()
        elif "-" in word and word not in phrases.words:
            out += [piece for piece in word.split("-") if piece]
        else:
            out.append(word)
    return tuple(out)


def mend(phrases: Phrases, words: tuple[str, ...]) -> tuple[str, ...]:
    """Unknown words as the known ones they nearly are; numbers and short words stay as they are."""
    return tuple(_mended(phrases, word) for word in words)


def _mended(phrases: Phrases, word: str) -> str:
    if word in phrases.vocabulary or len(word) < MEND_LETTERS or _nearly_a_number(word):
        return word
    known = [candidate for candidate in phrases.words if len(candidate) >= MEND_LETTERS]
    best = process.extractOne(word, known, scorer=fuzz.ratio, score_cutoff=MEND_AT)
    return best[0] if best else word


def _nearly_a_number(word: str) -> bool:
    return process.extractOne(word, NUMBER_WORDS, scorer=fuzz.ratio, score_cutoff=MEND_AT) is not None


@cache
def _said_aloud(phrases: Phrases) -> dict[str, str]:
    """Every phrase with its numbers as "#" and its choices as their names -> the phrase as a person reads it."""
    found: dict[str, str] = {}
    for template in phrases.entries:
        for pattern in patterns(template):
            found.setdefault(_blanked(phrases, pattern), pattern)
    return found


def _blanked(phrases: Phrases, pattern: str) -> str:
    return re.sub(r"\{(\w+)\}", lambda slot: "#" if phrases.number_slot(slot[1]) else slot[1], pattern)


def nearest(phrases: Phrases, words: tuple[str, ...], most: int = 3) -> tuple[str, ...]:
    """The phrases that come closest to what was heard; numbers do not count."""
    if not words:
        return ()
    blanked = re.sub(r"(#\s*)+", "# ", " ".join("#" if word in NUMBER_WORDS else word for word in words))
    sites = {site for values in phrases.choices.values() for site in values}
    blanked = " ".join("site" if word in sites else word for word in blanked.split())
    known = _said_aloud(phrases)
    found = process.extract(blanked, list(known), scorer=fuzz.token_sort_ratio, limit=most, score_cutoff=55)
    return tuple(known[text] for text, _, _ in found)
