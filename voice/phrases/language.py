"""The language of sentences that a definition's words are said in: what the ear expects where no phrase was said.

It is learnt from sentences as people say them (`voice/english/as_said.txt`) and from the definition's own phrases, so
that what a hospital adds is expected too. Every word of an idea may be said, whether a sentence has it or not.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from random import Random

from log.definition.frames import ways
from voice.english.amounts import longest_number
from voice.english.numbers import number_tree
from voice.phrases.phrases import Phrases
from voice.phrases.sample import sample
from voice.templates.acceptor import Acceptor, acceptor
from voice.templates.expression import Node, SlotNode, Word, choice, optional, sequence, words
from voice.templates.language import ANY_NUMBER, Sentences, language

SAID = "as_said.txt"
TIMES = 2
"""How often each phrase of the definition is drawn."""

Tokens = tuple[str, ...]


def spoken_sentences(phrases: Phrases, lead_word: str | None) -> Sentences:
    """The sentences of a definition, with the lead word or without it."""
    lead = lead_word or phrases.procedure.lead_word
    return Sentences(language((*as_said(), *_phrases(phrases)), _words(phrases), lead), numbers())


@cache
def as_said() -> tuple[Tokens, ...]:
    """Sentences of the room, each as its words, a number as `#`."""
    lines = (files("voice.english") / SAID).read_text(encoding="utf-8").splitlines()
    return tuple(tuple(line.split()) for line in lines if not line.startswith(";"))


def _phrases(phrases: Phrases) -> Iterator[Tokens]:
    """The same ones every time."""
    rng = Random(0)
    for template in phrases.entries:
        for _ in range(TIMES):
            yield numbers_as_one(sample(phrases, template, rng, small_words=True).words)


def numbers_as_one(said: Tokens) -> Tokens:
    """The words with every number as `#`."""
    found, place = list[str](), 0
    while place < len(said):
        number = longest_number(said, place)
        if number is None or said[place : number[0]] == ("a",):
            found.append(said[place])
            place += 1
        else:
            found.append(ANY_NUMBER)
            place = number[0]
    return tuple(found)


def _words(phrases: Phrases) -> frozenset[str]:
    """Every word of an idea."""
    speech = phrases.procedure.speech
    said = speech.says.values() if speech else ()
    texts = (text for one in said for text in (one.values() if isinstance(one, dict) else (one,)))
    return frozenset(word for text in texts for way in ways(text) for word in way.split() if word != ANY_NUMBER)


@cache
def numbers() -> Acceptor:
    """How any number of the room is said: as a whole, in digits, with halves, tenths or thousands."""
    digit = choice(*map(words, ("zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")))
    tenths = sequence(number_tree(0, 99, halves=False), Word("point"), digit, optional(digit))
    thousand = sequence(choice(number_tree(1, 9, halves=False), Word("a")), Word("thousand"))
    hundreds = sequence(number_tree(10, 19, halves=False), Word("hundred"))
    more = sequence(optional(Word("and")), number_tree(1, 999, halves=False))
    whole = choice(number_tree(0, 999, halves=True), sequence(thousand, optional(more)), hundreds)
    return acceptor(choice(whole, tenths), _no_slot)


def _no_slot(slot: SlotNode) -> Node:
    raise ValueError(f"{slot.name}: numbers have no slots")
