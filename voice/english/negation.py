"""Negation, question and wish: "is the airway secured", "consent is not documented", "traction should be on". An
engine that knows the statement alone hears it in all of these; one that knows such words as well hears what was said,
of which the matcher reads nothing.

These words may stand before and within every statement, for the nets alone: "consent is not documented" was heard,
surely, as "consent documented", the only thing that fitted. They lead nowhere in the acceptor and cost something in
the graph: cheaper, they are heard in noise; dearer, not where they are said.
"""

from __future__ import annotations

from voice.english.numbers import NUMBER_WORDS
from voice.templates.acceptor import Acceptor

ANYWHERE = frozenset({"not", "isn't", "hasn't", "never", "should"})
"""Not "is": "the airway is secured" is a statement, and heard without it."""

AT_THE_START = ANYWHERE | {"is", "was", "has", "if", "when", "until", "before"}
"""Of questions and conditions."""


def turned(said: Acceptor, opening: frozenset[str]) -> Acceptor:
    """The same, with these words wherever they may stand; within a number nobody says them.

    `opening`: words that may come before a statement and are no part of it.
    """
    start, counting = _reached_by(said, opening), _after_a_number(said)
    loops = (
        frozenset() if state in counting else (AT_THE_START if state in start else ANYWHERE).difference(onward)
        for state, onward in enumerate(said.arcs)
    )
    return Acceptor(said.arcs, said.final, tuple(loops))


def _reached_by(said: Acceptor, words: frozenset[str]) -> frozenset[int]:
    """The states in which one can be after nothing but these words."""
    found, look = {0}, [0]
    while look:
        onward = {after for word, after in said.arcs[look.pop()].items() if word in words}
        look += onward - found
        found |= onward
    return frozenset(found)


def _after_a_number(said: Acceptor) -> frozenset[int]:
    """The states that are reached by words of numbers alone."""
    numbers: set[int] = set()
    others: set[int] = set()
    for onward in said.arcs:
        for word, after in onward.items():
            (numbers if word in NUMBER_WORDS else others).add(after)
    return frozenset(numbers - others)
