"""Rows that a screen and a page lay out alike: a lead, and the lines beside it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """A lead, and the lines beside it."""

    lead: str
    texts: tuple[str, ...]
    counted: tuple[str, ...] = ()
    """The sort of each text of a list, to be counted where there is no room for all; () for what has to be there."""

    def at_most(self, most: int | None) -> Row:
        """No more lines than that; the last says how many are missing, and of what sort."""
        if most is None or not self.counted or len(self.texts) <= most:
            return self
        left = Counter(self.counted[most:])
        sorts = ", ".join(f"{number} {sort}" for sort, number in left.items())
        what = f": {sorts}" if len(set(self.counted)) > 1 else ""
        return Row(self.lead, (*self.texts[:most], f"and {left.total()} more{what}"), self.counted[:most])
