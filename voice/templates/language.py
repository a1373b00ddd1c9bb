"""How likely words follow each other, from sentences: a bigram that falls back on single words.

A word's chance after another is a mixture of how often it came after it and how often it comes at all; the share of the
second grows with how many different words came after the first (Witten and Bell 1991, from memory). A number is one
word of the sentence, `#`: which numbers there are is for a grammar of its own.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from voice.templates.acceptor import Acceptor

START, END, ANY_NUMBER = "<s>", "</s>", "#"


@dataclass(frozen=True, slots=True)
class Language:
    """Costs, negative natural logarithms of chances."""

    plain: Mapping[str, float]
    """Word -> cost whatever came before it; END and ANY_NUMBER are words."""
    after: Mapping[str, Mapping[str, float]]
    """Word, or START -> the words that were seen after it, and their costs there."""
    otherwise: Mapping[str, float]
    """Word, or START -> what any word that was not seen after it costs beside its plain cost."""

    def cost(self, word: str, before: str) -> float:
        """Of a word after another. Raises KeyError if it is not in the language."""
        seen = self.after.get(before, {})
        return seen[word] if word in seen else self.otherwise.get(before, 0.0) + self.plain[word]


@dataclass(frozen=True, slots=True)
class Sentences:
    """A language, and what may stand for a number in it."""

    language: Language
    numbers: Acceptor


def language(sentences: Iterable[Sequence[str]], words: Iterable[str], opening: str) -> Language:
    """Of these sentences, each with the opening word and without it; `words` may be said too, though none has them."""
    came: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for sentence in sentences:
        came[START][opening] += 1
        came[START][next(iter(sentence), END)] += 1
        for before, word in zip((opening, *sentence), (*sentence, END), strict=True):
            came[before][word] += 1
    alone = Counter[str]()
    for counted in came.values():
        alone.update(counted)
    chance = _alone(alone, {*alone, *words, END, ANY_NUMBER})
    after, otherwise = {}, {}
    for before, counted in came.items():
        times, kinds = counted.total(), len(counted)
        share = kinds / (times + kinds)
        otherwise[before] = -math.log(share)
        after[before] = {
            word: -math.log((1 - share) * many / times + share * chance[word]) for word, many in sorted(counted.items())
        }
    return Language({word: -math.log(one) for word, one in sorted(chance.items())}, after, otherwise)


def _alone(counted: Counter[str], words: set[str]) -> dict[str, float]:
    """The chance of each of the words, whatever came before; those that never came share what is left for them."""
    times, kinds = counted.total(), max(len(counted), 1)
    return {word: (counted[word] + kinds / len(words)) / (times + kinds) for word in words}
