"""Drugs of such a night: what each is for, and its usual single dose in an adult. A dose far beyond that is asked and
never refused: a slip of the tongue or of the ear is likelier.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Literal

from pydantic import model_validator

from log.basics.entry import Entry
from log.basics.patterns import Sourced
from log.definition.slots import Name

Use = Literal["vasoactive", "antibiotic", "sedation", "relaxant", "pressor", "acid suppression", "reversal", "other"]
"""Its use. `sedation`: induction and pain relief too. `reversal`: of a drug, or of a clotting disorder."""

FAR = 10.0
"""So many times the most, or this part of the least of the usual doses, is asked: a slip of the decimal point gives
exactly that."""

MILLIGRAMS: Mapping[str, float] = MappingProxyType({"g": 1000.0, "mg": 1.0, "microgram": 0.001})
"""The room's units of mass in milligrams; a dose in another unit is compared in that alone."""


class Medicine(Sourced):
    """A drug. Nothing here is advice: the numbers only tell a dose from a slip."""

    id: Name
    """Its name as it is logged."""
    use: Use
    usual: tuple[float, float]
    """The least and the most of a usual single dose in an adult."""
    unit: str
    """Of the dose, in the room's writing."""

    @model_validator(mode="after")
    def _can_be_compared(self) -> Medicine:
        if not 0 < self.usual[0] <= self.usual[1]:
            raise ValueError(f"usual runs from {self.usual[0]:g} to {self.usual[1]:g}")
        return self

    def is_odd(self, entry: Entry) -> bool:
        """Whether a dose is `FAR` times beyond what is usual, or more. A dose of nought is no dose."""
        if entry.number is None or entry.number == 0:
            return False
        own, said = MILLIGRAMS.get(self.unit), MILLIGRAMS.get(entry.unit or "")
        if own is None or said is None:
            own, said = (1.0, 1.0) if entry.unit == self.unit else (0.0, 0.0)
        dose = entry.number * said
        low, high = (round(usual * own, 9) for usual in self.usual)  # without the dust of binary fractions
        return bool(own) and (round(dose / FAR, 9) >= high or round(dose * FAR, 9) <= low)

    @property
    def usually(self) -> str:
        """ "usually 1 to 2 mg"."""
        least, most = self.usual
        return f"usually {least:g}{'' if least == most else f' to {most:g}'} {self.unit}"


def odd_dose(medicines: Iterable[Medicine], entry: Entry) -> Medicine | None:
    """The drug of which an entry gives such a dose; None where the dose is no odd one, or nothing is known of it."""
    if entry.kind != "drug":
        return None
    return next((one for one in medicines if one.id == entry.detail and one.is_odd(entry)), None)
