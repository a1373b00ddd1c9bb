"""Words that may follow each other as a graph of sounds: what the search of a net's own sounds walks through.

From each state of an acceptor, or after each word of a language, the words that may follow are a tree of their sounds,
so that words which begin alike are searched once. A node is one sound; a node that ends a word leads on to what may
follow it. What a word costs is paid as soon as it is sure to be paid: a sound costs what its cheapest word does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voice.templates.acceptor import Acceptor
from voice.templates.language import ANY_NUMBER, END, START, Sentences

Ints = NDArray[np.int32]
Floats = NDArray[np.float32]
NO_WORD = -1
UNKNOWN = "[unk]"
"""The word for everything that is none of the words."""

Pronunciations = Mapping[str, Sequence[Sequence[int]]]
"""Word -> its pronunciations, each as numbers of sounds."""

Step = tuple[str, int, float, float]
"""A word, the group of what may follow it, what the word costs, and what it costs to end the utterance with it."""


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
    """(m) nodes, those that may follow one node side by side."""
    cost: Floats
    """(m) natural log, taken from a way that goes to this child."""
    end: Floats
    """(n) natural log, taken from an utterance that ends here; infinite where none may."""
    words: tuple[str, ...]

    @property
    def unknown(self) -> int:
        """The place of the unknown word in `words`, or NO_WORD - 1 where there is none."""
        return self.words.index(UNKNOWN) if UNKNOWN in self.words else NO_WORD - 1


@dataclass(frozen=True, slots=True)
class Costs:
    """Natural log."""

    turned: float = 2.0
    """Of each word that leads nowhere, as a negation does. Cheaper, noise turns statements round."""
    another_entry: float = 6.0
    """Of a second entry in one breath."""
    weight: float = 0.7
    """Part of what the words of a language cost that counts beside their sounds."""
    number_word: float = 0.85
    """Of each word of a number in a sentence."""
    unknown: float = 10.0
    """Of a word that is none of the language, beside its sounds."""
    unknown_sound: float = 2.5
    """Of each of its sounds."""


NEVER = np.inf


class _Growing:
    """Nodes, and groups of them: a group is what may follow a node."""

    def __init__(self, said: Pronunciations, words: Iterable[str], costs: Costs) -> None:
        self._said, self.costs = said, costs
        self._words = sorted({*words} & {*said, UNKNOWN})
        self._number = {word: place for place, word in enumerate(self._words)}
        self.sound, self.word, self.leads = [0], [NO_WORD], [0]
        self.end, self.cost = [NEVER], [0.0]
        self.groups: list[list[tuple[int, float]]] = []
        """Nodes, and what it costs to come to each from here beside its own cost."""
        self._paid: list[float] = []
        """For each group what was paid on the way to it for the words that it leads to."""

    def node(self, sound: int, leads: int, cost: float) -> int:
        self.sound.append(sound)
        self.word.append(NO_WORD)
        self.leads.append(leads)
        self.end.append(NEVER)
        self.cost.append(cost)
        return len(self.sound) - 1

    def group(self) -> int:
        self.groups.append([])
        self._paid.append(0.0)
        return len(self.groups) - 1

    def opens(self, group: int, other: int, cost: float = 0.0) -> None:
        """What may follow in the other group may follow in this one too, for so much more."""
        self.groups[group] += [(node, extra + cost) for node, extra in self.groups[other]]

    def acceptor(self, acceptor: Acceptor, each: float = 0.0, end: float = 0.0) -> list[int]:
        """The group of each of its states; `each`: what a word costs, `end`: what it costs to end the utterance."""
        groups = [self.group() for _ in acceptor.arcs]
        for state, group in enumerate(groups):
            arcs = acceptor.arcs[state].items()
            self.words(group, ((word, groups[to], each, end if to in acceptor.final else NEVER) for word, to in arcs))
            loops, last = sorted(acceptor.loops[state]) if acceptor.loops else (), state in acceptor.final
            self.words(group, ((word, group, self.costs.turned, end if last else NEVER) for word in loops))
        return groups

    def words(self, root: int, steps: Iterable[Step]) -> None:
        """Words that may be said in a state."""
        tree: dict[tuple[int, ...], int] = {}
        for word, leads, cost, end in steps:
            for sounds in self._said.get(word, ()):
                last = self.node(sounds[-1], leads, cost)
                self.groups[self._before(tree, root, tuple(sounds), cost)].append((last, 0.0))
                self.word[last], self.end[last] = self._number[word], end
        for inner in tree.values():
            self._paid[self.leads[inner]] = self.cost[inner]

    def _before(self, tree: dict[tuple[int, ...], int], root: int, sounds: tuple[int, ...], cost: float) -> int:
        """The group in which the last sound of a word stands. The sounds before it are shared with words that begin
        alike, the last is the word's own.
        """
        group = root
        for length in range(1, len(sounds)):
            begun = sounds[:length]
            if begun not in tree:
                tree[begun] = self.node(sounds[length - 1], self.group(), cost)
                self.groups[group].append((tree[begun], 0.0))
            self.cost[tree[begun]] = min(self.cost[tree[begun]], cost)
            group = self.leads[tree[begun]]
        return group

    def unknown(self, group: int, leads: int, cost: float, end: float, sounds: int) -> None:
        """Any one sound: more of them are one word, however many."""
        for sound in range(1, sounds):
            node = self.node(sound, leads, cost)
            self.word[node], self.end[node] = self._number[UNKNOWN], end
            self.groups[group].append((node, 0.0))

    def numbered(self) -> SoundGraph:
        """The group of a node's children stands once, however many nodes lead to it."""
        sizes = np.array([len(group) for group in self.groups], np.int32)
        starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int32)
        leads = np.array(self.leads, np.int32)
        children = np.array([node for group in self.groups for node, _ in group], np.int32)
        extra = np.array([cost for group in self.groups for _, cost in group], np.float32)
        paid = np.repeat(np.array(self._paid, np.float32), sizes)
        return SoundGraph(
            np.array(self.sound, np.int32),
            np.array(self.word, np.int32),
            starts[leads],
            sizes[leads],
            children,
            np.array(self.cost, np.float32)[children] + extra - paid,
            np.array(self.end, np.float32),
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
        arcs = then.arcs[0].items()
        steps = ((word, others[to], costs.another_entry, 0.0 if to in then.final else NEVER) for word, to in arcs)
        growing.words(opening, steps)
        for state in entry.final:  # nodes may follow any number of others: they stand once
            growing.opens(groups[state], opening)
    return growing.numbered()


def sentence_graph(sentences: Sentences, said: Pronunciations, sounds: int, costs: Costs = Costs()) -> SoundGraph:
    """Any word after any other, likely ones cheaply, a number where one may be said, and a word that nobody knows for
    so much a sound. `sounds`: how many the net knows, the blank included.
    """
    language, numbers, weight = sentences.language, sentences.numbers, costs.weight
    growing = _Growing(said, {*language.plain, *numbers.words, UNKNOWN}, costs)
    after = {word: growing.group() for word in (START, *language.plain) if word in said or word in _OWN}
    strange = growing.group()
    ending = {word: weight * language.cost(END, word) for word in after}
    end_strange = weight * language.plain[END]

    def steps(found: Mapping[str, float]) -> Iterable[Step]:
        return ((word, after[word], weight * cost, ending[word]) for word, cost in found.items() if word in said)

    any_word = growing.group()
    growing.words(any_word, steps(language.plain))
    states = growing.acceptor(numbers, costs.number_word, ending[ANY_NUMBER])
    growing.opens(strange, any_word)
    growing.unknown(strange, strange, costs.unknown_sound, end_strange, sounds)
    growing.unknown(any_word, strange, costs.unknown + costs.unknown_sound, end_strange, sounds)
    for word, group in after.items():
        growing.words(group, steps(language.after.get(word, {})))
        growing.opens(group, any_word, weight * language.otherwise.get(word, 0.0))
        growing.opens(group, states[0], weight * language.cost(ANY_NUMBER, word))
    growing.opens(strange, states[0], weight * language.plain[ANY_NUMBER])
    for state in numbers.final:
        growing.opens(states[state], after[ANY_NUMBER])
    growing.leads[0] = after[START]
    return growing.numbered()


_OWN = frozenset({START, ANY_NUMBER})
"""What a word may follow beside words."""
