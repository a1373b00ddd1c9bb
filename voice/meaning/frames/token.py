"""One idea, number or pause of an utterance."""

from __future__ import annotations

from dataclasses import dataclass

from voice.english.numbers import Number

PAUSE = ","


@dataclass(frozen=True, slots=True)
class Amount:
    """A number as it was said."""

    value: Number
    unit: str | None = None
    """UCUM code of the unit that was said with it; the value is already in it."""
    others: tuple[Number, ...] = ()
    """The number that it could have been by its sound, in the same unit."""
    digits: bool = False
    """Said digit by digit."""
    contradicted: bool = False
    """Its digits were another number than itself; `others` holds that."""
    either: bool = False
    """It was said to be this number or the one in `others`."""
    implied: bool = False
    """No number was said: "a litre", "unit of plasma"."""
    level: bool = False
    """Said after "to": what was reached, and no amount that was moved."""
    tenths: Number | None = None
    """Its value where it may have tenths: "thirty five eight" of a temperature is 35.8."""


@dataclass(frozen=True, slots=True)
class Token:
    """One idea, number or pause."""

    text: str
    meaning: int = 0
    """Bits of what it may stand for; 0 is a word that nobody explains."""
    amount: Amount | None = None

    @property
    def is_pause(self) -> bool:
        """Whether somebody drew breath here."""
        return self.text == PAUSE


def plain(value: float) -> Number:
    """A whole number as one."""
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded
