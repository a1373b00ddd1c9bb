"""The small words that make a sentence of a phrase: "the airway is secured" for "airway secured". People say them
without thinking and mean the same, so every phrase may be said with them, and is written in a definition without.

None stands where a number may begin or has just ended: "the" is nearly "three", and would take its place. "the" comes
first or where it is written, and nothing else comes first: "is the airway secured" is a question.

Matcher and nets take the same tree with these words in it.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Flag, auto

from voice.english.numbers import NUMBER_WORDS
from voice.templates.expression import (
    Choice,
    Node,
    Sequence,
    SlotNode,
    Word,
    choice,
    optional,
    sequence,
    vocabulary,
    words,
)

FIRST = words("the")
WITHIN = choice(*map(words, ("is", "are", "has", "have", "has been", "have been")))
SMALL_WORDS = frozenset(vocabulary(choice(FIRST, WITHIN)))

AND = "and"
JOINING = frozenset({AND, "then"})
"""May stand between two entries of one breath."""


class _After(Flag):
    """What may have been said just before."""

    NOTHING = auto()
    WORD = auto()
    SMALL_WORD = auto()
    NUMBER = auto()


def with_small_words(phrase: Node, takes_a_number: Callable[[str], bool]) -> Node:
    """The same phrase, said with them or without; `takes_a_number` says by its name what a slot takes."""
    return _with(phrase, _After.NOTHING, takes_a_number)[0]


def _with(node: Node, after: _After, takes_a_number: Callable[[str], bool]) -> tuple[Node, _After]:
    match node:
        case Sequence(items):
            said: list[Node] = []
            for item in items:
                one, after = _with(item, after, takes_a_number)
                said.append(one)
            return sequence(*said), after
        case Choice(items):
            ways = [_with(item, after, takes_a_number) for item in items]
            reached = _After(0)
            for _, then in ways:
                reached |= then
            return choice(*(way for way, _ in ways)), reached
        case SlotNode(name) if takes_a_number(name):
            return node, _After.NUMBER
        case Word(text) if text in NUMBER_WORDS:
            return node, _After.NUMBER
        case Word(text) if text in SMALL_WORDS:
            return node, _After.SMALL_WORD
        case _:
            return _before(node, after), _After.WORD


def _before(node: Node, after: _After) -> Node:
    if after & (_After.NUMBER | _After.SMALL_WORD):
        return node
    return sequence(optional(FIRST if _After.NOTHING in after else WITHIN), node)
