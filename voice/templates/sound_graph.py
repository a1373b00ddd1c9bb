"""An acceptor of words as a graph of sounds: what the search of a net's own sounds walks through.

From each state of the acceptor the words that may follow are a tree of their sounds, so that words which begin alike
are searched once. A node is one sound; a node that ends a word leads on to what may follow it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voice.templates.acceptor import Acceptor

Ints = NDArray[np.int32]
NO_WORD = -1

Pronunciations = Mapping[str, Sequence[Sequence[int]]]
"""Word -> its pronunciations, each as numbers of sounds."""


@dataclass(frozen=True, slots=True)
class SoundGraph:
    """`n` nodes; node 0 is the start and has no sound. `children[first[k]:first[k] + many[k]]` may follow node k."""

    sound: Ints
    """(n) the sound of each node; 0 for the start."""
    word: Ints
    """(n) which of `words` ends here, NO_WORD where none does."""
    first: Ints
    """(n)."""
    many: Ints
    """(n)."""
    children: Ints
    """Nodes, those that may follow one node side by side."""
    cost: NDArray[np.float32]
    """(n) natural log, taken from a way that comes here."""
    final: NDArray[np.bool_]
    """(n) whether an utterance may end here."""
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Costs:
    """Natural log."""

    turned: float = 2.0
    """Of each word that leads nowhere, as a negation does. Cheaper, noise turns statements round."""
    another_entry: float = 6.0
    """Of a second entry in one breath."""


class _Growing:
    """Nodes, and groups of them: a group is what may follow a node."""

    def __init__(self, said: Pronunciations, words: frozenset[str], costs: Costs) -> None:
        self._said, self._costs = said, costs
        self._words = sorted(words & said.keys())
        self._number = {word: place for place, word in enumerate(self._words)}
        self.sound, self.word, self.leads = [0], [NO_WORD], [0]
        self.final, self.cost = [False], [0.0]
        self.groups: list[list[int]] = []

    def node(self, sound: int, leads: int) -> int:
        self.sound.append(sound)
        self.word.append(NO_WORD)
        self.leads.append(leads)
        self.final.append(False)
        self.cost.append(0.0)
        return len(self.sound) - 1

    def group(self) -> int:
        self.groups.append([])
        return len(self.groups) - 1

    def acceptor(self, acceptor: Acceptor) -> list[int]:
        """The group of each of its states."""
        groups = [self.group() for _ in acceptor.arcs]
        for state, group in enumerate(groups):
            self.words(group, ((word, groups[to], to in acceptor.final) for word, to in acceptor.arcs[state].items()))
            loops = sorted(acceptor.loops[state]) if acceptor.loops else ()
            self.words(group, ((word, group, state in acceptor.final) for word in loops), self._costs.turned)
        return groups

    def words(self, root: int, steps: Iterable[tuple[str, int, bool]], cost: float = 0.0) -> None:
        """Words that may be said in a state, the group each leads to, and whether an utterance may end there."""
        tree: dict[tuple[int, ...], int] = {}
        for word, leads, final in steps:
            for sounds in self._said.get(word, ()):
                end = self.node(sounds[-1], leads)
                self.groups[self._before(tree, root, tuple(sounds))].append(end)
                self.word[end], self.final[end], self.cost[end] = self._number[word], final, cost

    def _before(self, tree: dict[tuple[int, ...], int], root: int, sounds: tuple[int, ...]) -> int:
        """The group in which the last sound of a word stands. The sounds before it are shared with words that begin
        alike, the last is the word's own.
        """
        group = root
        for length in range(1, len(sounds)):
            begun = sounds[:length]
            if begun not in tree:
                tree[begun] = self.node(sounds[length - 1], self.group())
                self.groups[group].append(tree[begun])
            group = self.leads[tree[begun]]
        return group

    def numbered(self) -> SoundGraph:
        """The group of a node's children stands once, however many nodes lead to it."""
        sizes = np.array([len(group) for group in self.groups], np.int32)
        starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int32)
        leads = np.array(self.leads, np.int32)
        return SoundGraph(
            np.array(self.sound, np.int32),
            np.array(self.word, np.int32),
            starts[leads],
            sizes[leads],
            np.array([child for group in self.groups for child in group], np.int32),
            np.array(self.cost, np.float32),
            np.array(self.final, bool),
            tuple(self._words),
        )


def sound_graph(entry: Acceptor, then: Acceptor | None, said: Pronunciations, costs: Costs = Costs()) -> SoundGraph:
    """One entry, or two where `then` may follow. Words without a pronunciation cannot be said, nor nothing."""
    growing = _Growing(said, entry.words | (then.words if then else frozenset()), costs)
    groups = growing.acceptor(entry)
    growing.leads[0] = groups[0]
    if then is not None:
        opening = growing.group()
        others = growing.acceptor(then)
        begins = ((word, others[after], after in then.final) for word, after in then.arcs[0].items())
        growing.words(opening, begins, costs.another_entry)
        for state in entry.final:  # nodes may follow any number of others: they stand once
            growing.groups[groups[state]] += growing.groups[opening]
    return growing.numbered()
