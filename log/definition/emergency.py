"""What is done when the tube blocks the airway, or has to be cut: the definition's own words, step by step, so that the
room reads them in large letters and not in a book.
"""

from __future__ import annotations

from pydantic import Field

from log.basics.patterns import Part, Sourced


class EmergencyStep(Sourced):
    """One thing to do, in the order in which it is done."""

    text: str


class Emergency(Part):
    """What to do, by the value of the entry that called it: "airway" or "cut"."""

    airway: tuple[EmergencyStep, ...] = Field(min_length=1)
    cut: tuple[EmergencyStep, ...] = Field(min_length=1)
    airway_title: str = "AIRWAY"
    cut_title: str = "CUT"

    def steps(self, value: str) -> tuple[EmergencyStep, ...]:
        """What to do; for a value that is neither, what is done for the airway."""
        return self.cut if value == "cut" else self.airway

    def title(self, value: str) -> str:
        """What stands above the steps."""
        return self.cut_title if value == "cut" else self.airway_title
