"""The search: which words of a graph of sounds explain best what a net heard, and which come next.

The net gives the chance of every sound in every frame, and of the blank between sounds (CTC, Graves et al. 2006). A way
through the graph is as likely as all its timings together; two sounds alike need a blank between them. Ways that are
far behind the best, and all but the best so many, are given up (beam). Pure: `tests/voice/engines/test_beam.py` holds
it against every sentence and every timing of small graphs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voice.templates.sound_graph import NO_WORD, SoundGraph

Floats = NDArray[np.float32]
BLANK = 0
NEVER = np.float32(-1e30)
FACTOR, OFFSET = np.uint64(0x9E3779B97F4A7C15), np.uint64(0x2545F4914F6CDD1D)
"""Mix the number of a node into the name of a way."""


@dataclass(frozen=True, slots=True)
class Beam:
    """How far the search looks."""

    behind: float = 14.0
    """Natural log: ways further behind the best are given up."""
    ways: int = 500
    """At most so many go on."""


@dataclass(frozen=True, slots=True)
class Found:
    """One way to say it."""

    words: tuple[str, ...]
    score: float
    """Natural log of the chance of all its timings, less what its words cost."""
    phrase: bool = True
    """Whether it was found among the phrases."""


@dataclass(slots=True)
class _Ways:
    """Ways that are followed, side by side; all (n)."""

    node: NDArray[np.int32]
    name: NDArray[np.uint64]
    """Tells ways apart: made of all nodes from the start on."""
    blank: Floats
    """Log chance of all timings that end in a blank."""
    sound: Floats
    """Of those that end in the node's sound."""
    said: NDArray[np.int32]
    """Place in the list of words said."""

    def of(self, at: NDArray[np.intp]) -> _Ways:
        """Some of them."""
        return _Ways(self.node[at], self.name[at], self.blank[at], self.sound[at], self.said[at])


class _Said:
    """Words and what was said before them, as a tree that only grows."""

    def __init__(self) -> None:
        self._word, self._before = [NO_WORD], [-1]

    def add(self, before: int, word: int) -> int:
        self._word.append(word)
        self._before.append(before)
        return len(self._word) - 1

    def words(self, place: int) -> tuple[int, ...]:
        words: list[int] = []
        while place > 0:
            words.append(self._word[place])
            place = self._before[place]
        return tuple(reversed(words))


def best_ways(chances: Floats, graph: SoundGraph, most: int, beam: Beam = Beam()) -> tuple[Found, ...]:
    """`chances` (frames, sounds), natural log. Up to `most` whole utterances, the likeliest first."""
    ways = _start()
    said = _Said()
    for row in chances:
        ways = _step(ways, row, graph, beam, said)
    return _whole(ways, graph, said, most)


def any_sounds(chances: Floats) -> float:
    """Natural log: how well the likeliest sounds of all explain it, whatever they mean; 0 where none is heard."""
    likeliest = chances.argmax(1) if len(chances) else np.zeros(0, int)
    return float(chances.max(1).sum()) if bool((likeliest != BLANK).any()) else 0.0


def _start() -> _Ways:
    zero = np.zeros(1, np.int32)
    return _Ways(zero, np.zeros(1, np.uint64), np.zeros(1, np.float32), np.full(1, NEVER, np.float32), zero)


def _step(ways: _Ways, row: Floats, graph: SoundGraph, beam: Beam, said: _Said) -> _Ways:
    total = np.logaddexp(ways.blank, ways.sound)
    stays = _Ways(ways.node, ways.name, total + row[BLANK], ways.sound + row[graph.sound[ways.node]], ways.said)
    stays.sound[ways.node == 0] = NEVER
    limit = float(np.logaddexp(stays.blank, stays.sound).max()) - beam.behind
    parent, step = _steps(ways.node, graph)
    child = graph.children[step]
    alike = graph.sound[child] == graph.sound[ways.node[parent]]
    goes = np.where(alike, ways.blank[parent], total[parent]) + row[graph.sound[child]] - graph.cost[step]
    kept = goes > limit
    parent, child, goes = parent[kept], child[kept], goes[kept].astype(np.float32)
    names = (ways.name[parent] ^ child.astype(np.uint64)) * FACTOR + OFFSET
    return _pruned(*_joined(stays, ways, parent, child, goes, names), graph, beam, said)


def _steps(nodes: NDArray[np.int32], graph: SoundGraph) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For every node that may follow one of the nodes: which of them it follows, and its place in `children`."""
    many = graph.many[nodes]
    parent = np.repeat(np.arange(len(nodes)), many)
    within = np.arange(len(parent)) - np.repeat(np.cumsum(many) - many, many)
    return parent, graph.first[nodes][parent] + within


def _joined(
    stays: _Ways,
    ways: _Ways,
    parent: NDArray[np.int64],
    child: NDArray[np.int32],
    goes: Floats,
    names: NDArray[np.uint64],
) -> tuple[_Ways, NDArray[np.bool_]]:
    """Ways that stay and ways that go on; where both are one way, their timings are added. And which are new."""
    order = np.argsort(stays.name)
    place = np.minimum(np.searchsorted(stays.name, names, sorter=order), len(order) - 1)
    same = stays.name[order[place]] == names
    at = order[place[same]]
    stays.sound[at] = np.logaddexp(stays.sound[at], goes[same])
    new = ~same
    joined = _Ways(
        np.concatenate([stays.node, child[new]]),
        np.concatenate([stays.name, names[new]]),
        np.concatenate([stays.blank, np.full(int(new.sum()), NEVER, np.float32)]),
        np.concatenate([stays.sound, goes[new]]),
        np.concatenate([stays.said, ways.said[parent[new]]]),
    )
    return joined, np.arange(len(joined.node)) >= len(stays.node)


def _pruned(ways: _Ways, new: NDArray[np.bool_], graph: SoundGraph, beam: Beam, said: _Said) -> _Ways:
    """The ways that go on; where they have come to the end of a word, it is said."""
    total = np.logaddexp(ways.blank, ways.sound)
    chosen = np.flatnonzero(total > total.max() - beam.behind)
    if len(chosen) > beam.ways:
        chosen = chosen[np.argpartition(-total[chosen], beam.ways)[: beam.ways]]
    kept = ways.of(chosen)
    word = graph.word[kept.node]
    for way in np.flatnonzero(new[chosen] & (word != NO_WORD)):
        kept.said[way] = said.add(int(kept.said[way]), int(word[way]))
    return kept


def _once(words: tuple[int, ...], unknown: int) -> Iterator[int]:
    """The sounds of an unknown word are one word."""
    for place, word in enumerate(words):
        if not (place and word == words[place - 1] == unknown):
            yield word


def _whole(ways: _Ways, graph: SoundGraph, said: _Said, most: int) -> tuple[Found, ...]:
    """One for each sentence: other pronunciations of its words are other timings of it."""
    total = np.logaddexp(ways.blank, ways.sound) - graph.end[ways.node]
    scores: dict[tuple[int, ...], float] = {}
    unknown = graph.unknown
    for way in np.flatnonzero(np.isfinite(total)):
        words = tuple(_once(said.words(int(ways.said[way])), unknown))
        scores[words] = float(np.logaddexp(scores.get(words, NEVER), total[way]))
    best = sorted(scores.items(), key=lambda item: -item[1])[:most]
    return tuple(Found(tuple(graph.words[word] for word in words), score) for words, score in best)
