"""An acceptor of words as a graph of sounds: what the search of a net's own sounds walks through.

From each state of the acceptor the words that may follow are a tree of their sounds, so that words which begin alike are
searched once. A node is one sound; a node that ends a word leads on to what may follow it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    final: NDArray[np.bool_]
    """(n) whether an utterance may end here."""
    words: tuple[str, ...]


class _Growing:
    def __init__(self) -> None:
        self.sound, self.word, self.leads = [0], [NO_WORD], [0]
        self.groups: list[list[int]] = []
        self.final = [False]

    def node(self, sound: int) -> int:
        self.sound.append(sound)
        self.word.append(NO_WORD)
        self.leads.append(0)
        self.final.append(False)
        return len(self.sound) - 1

    def group(self) -> int:
        self.groups.append([])
        return len(self.groups) - 1
