"""Grammars in the forms that engines take. Kept apart from how it is made (`voice.phrases.compile`): that brings the
definitions and all they need into memory, and every engine's process would hold them once more.

Four grammars are made of one definition: `entries` (the ordinary one), `breath` (two entries without a pause), `asked`
(a question is open: "confirm" and bare numbers count as well) and `number` (only a number can be meant).
"""

from __future__ import annotations

from dataclasses import dataclass

from voice.templates.acceptor import Acceptor

ENTRIES, BREATH, ASKED, NUMBER = "entries", "breath", "asked", "number"


@dataclass(frozen=True, slots=True)
class Grammar:
    """One grammar in the forms the engines take."""

    name: str
    entry: Acceptor
    """The sentences that may be said, as an acceptor."""
    then: Acceptor | None
    """The sentences that have to follow in the same breath, if any."""
    examples: tuple[str, ...]
    """Phrases for engines that estimate a model from examples."""

    @property
    def words(self) -> frozenset[str]:
        """Every word of the grammar."""
        return self.entry.words | (self.then.words if self.then else frozenset())
