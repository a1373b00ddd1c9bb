"""One table of units, and conversion between gauges: the manometer reads mmHg, the ventilator cmH2O, the monitor kPa,
and a weight that hangs pulls in newtons. Factors are exact by definition; a volume is never turned into a pressure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from log.basics.errors import InputError

STANDARD_GRAVITY = 9.80665
"""Newtons per kilogram, exact (reference 6; NIST SP 811 appendix B, M11: 1 kgf = 9.80665 N)."""

Quantity = Literal["pressure", "mass", "force", "volume"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as everybody writes and says it."""

    room: str
    """Its symbol on screen and in the record."""
    ucum: str
    """Its UCUM code (reference 5.3)."""
    said: str
    """Its name as the read-back says it aloud."""
    measures: Quantity | None = None
    """The quantity within which it is converted; None where it never is."""
    factor: float = 1.0
    """Factor to pascals, kilograms, newtons or millilitres."""
    logged: bool = True
    """Whether a number can be logged in it. A gauge's other units cannot: limits are in the unit that is logged."""


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        unit.room: unit
        for unit in (
            Unit("mmHg", "mm[Hg]", "millimetres of mercury", "pressure", 133.322387415),
            Unit("kPa", "kPa", "kilopascals", "pressure", 1000.0, logged=False),
            Unit("cmH2O", "cm[H2O]", "centimetres of water", "pressure", 98.0665, logged=False),
            Unit("kg", "kg", "kilos", "mass", 1.0),
            Unit("g", "g", "grams", "mass", 0.001),
            Unit("N", "N", "newtons", "force", 1.0, logged=False),
            Unit("mL", "mL", "millilitres", "volume", 1.0),
            Unit("cm", "cm", "centimetres"),
            Unit("mg", "mg", "milligrams"),
            Unit("microgram", "ug", "micrograms"),
            Unit("IU", "[IU]", "international units"),
            Unit("unit", "{unit}", "units"),
            Unit("/min", "/min", "a minute"),
            Unit("%", "%", "percent"),
            Unit("g/L", "g/L", "grams per litre"),
            Unit("g/dL", "g/dL", "grams per decilitre"),
            Unit("mmol/L", "mmol/L", "millimoles per litre"),
            Unit("°C", "Cel", "degrees Celsius"),
            Unit("min", "min", "minutes"),
            Unit("h", "h", "hours", logged=False),
            Unit("°", "deg", "degrees"),
        )
    }
)
"""The room's writing -> the unit: the only table of units.

The conventional units of reference 6 (NIST SP 811 appendix B, M11): 1 cmH2O = 98.0665 Pa, 1 mmHg = 133.3224 Pa. The
further digits of the latter are the definition itself, 1 mm of mercury of 13.5951 g/cm3 under standard gravity (from
memory); the tests hold it to the rounded value.
"""

PER_LITRE = 10.0
"""Grams per litre in a gram per decilitre, exact: a haemoglobin is said in either, and a limit is in one of them."""


def held_against(value: float, unit: str | None, limit_in: str) -> float:
    """A value in the unit of the limit that it is held against. Units are the room's; only g/dL and g/L are one for
    the other, anything else stays as it is."""
    if (unit, limit_in) == ("g/dL", "g/L"):
        return round(value * PER_LITRE, 6)
    if (unit, limit_in) == ("g/L", "g/dL"):
        return round(value / PER_LITRE, 6)
    return value


CONVERTED: Mapping[str, Unit] = MappingProxyType({room: unit for room, unit in UNITS.items() if unit.measures})
"""Those that are converted."""

NO_UNIT = "1"
"""The UCUM code of a bare number."""

LOGGED: Mapping[str, str | None] = MappingProxyType(
    {NO_UNIT: None} | {unit.ucum: unit.room for unit in UNITS.values() if unit.logged}
)
"""The UCUM code that a definition gives a number -> how the room writes it."""

SHOWN: Mapping[Quantity, tuple[tuple[str, int], ...]] = MappingProxyType(
    {
        "pressure": (("mmHg", 1), ("kPa", 3), ("cmH2O", 2)),
        "mass": (("kg", 3), ("N", 3)),
        "force": (("N", 3), ("kg", 3)),
        "volume": (("mL", 1),),
    }
)
"""The units in which each quantity is shown, with how many decimals (reference 6: kPa to 3, cmH2O to 2)."""

WRITTEN: Mapping[str, str] = MappingProxyType(
    {text.lower(): unit.room for unit in CONVERTED.values() for text in (unit.room, unit.ucum)} | {"cc": "mL"}
)
"""A unit as people write it, in small letters -> its symbol."""

MOST = 1_000_000.0
"""The largest number that is taken; no gauge in the room comes near it."""

SLIP = (
    "A published checklist (P6) gives 30-45 mmHg as 48-61 cmH2O. Its lower figure is wrong: "
    "30 mmHg is {right:.1f} cmH2O, and 48 cmH2O is {wrong:.1f} mmHg."
)


@dataclass(frozen=True, slots=True)
class Amount:
    """A number with its unit, in the room's writing."""

    value: float
    unit: str

    @property
    def quantity(self) -> Quantity:
        """The quantity that the unit measures."""
        measures = UNITS[self.unit].measures
        assert measures is not None
        return measures


def in_the_room(code: str | None) -> str | None:
    """The symbol of the unit with this UCUM code, which has to be in LOGGED; None for a bare number."""
    return LOGGED[code or NO_UNIT]


def ucum(unit: str | None) -> str:
    """The UCUM code of the room's unit; an unknown one becomes an annotation, which UCUM sets in braces."""
    return "" if not unit else UNITS[unit].ucum if unit in UNITS else "{" + unit + "}"


def amount(text: str) -> Amount:
    """A reading as somebody typed it: "30 mmHg", "30mmHg", "3 kPa". Raises InputError with the problem."""
    said = re.fullmatch(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*(\D.*?)?\s*", text, re.ASCII)
    if said is None:
        raise InputError(f'"{text}" is not a number with a unit', "write 30 mmHg, 3.5 kPa, 40 cmH2O or 1 kg")
    if said[2] is None:
        raise InputError(f'"{text}" has no unit', f"write {said[1]} mmHg, {said[1]} kPa or {said[1]} cmH2O")
    unit = WRITTEN.get(said[2].lower())
    if unit is None:
        raise InputError(f'"{said[2]}" is not a unit that is known here', f"write one of {', '.join(CONVERTED)}")
    value = float(said[1])
    if abs(value) > MOST:
        raise InputError(f'"{text}" is more than any gauge reads', f"give at most {MOST:.0f}")
    return Amount(value, unit)


def converted(given: Amount, unit: str) -> Amount:
    """The same in another unit; a mass is worth the force with which it hangs, and the other way round.

    Raises InputError where one is not the other: a volume says nothing of a pressure (reference 1.1, the unit trap).
    """
    if given.unit == unit:
        return given
    quantity, wanted = given.quantity, CONVERTED[unit].measures
    value = given.value * UNITS[given.unit].factor / UNITS[unit].factor
    if quantity == wanted:
        return Amount(value, unit)
    if (quantity, wanted) == ("mass", "force"):
        return Amount(value * STANDARD_GRAVITY, unit)
    if (quantity, wanted) == ("force", "mass"):
        return Amount(value / STANDARD_GRAVITY, unit)
    raise InputError(
        f"{given.unit} cannot be turned into {unit}: one is a {quantity}, the other a {wanted}", "read both"
    )


def conversions(given: Amount) -> tuple[Amount, ...]:
    """Everything that it is worth saying an amount is, itself first."""
    others = (unit for unit, _ in SHOWN[given.quantity] if unit != given.unit)
    return (given, *(converted(given, unit) for unit in others))


def shown(given: Amount) -> str:
    """As it is printed: rounded for the eye, without zeros that say nothing."""
    decimals = dict(SHOWN[given.quantity]).get(given.unit, 3)
    return f"{given.value:.{decimals}f}".rstrip("0").rstrip(".") + f" {given.unit}"


def source(given: Amount) -> str:
    """The factors that were used and where they come from; "" where there are none."""
    match given.quantity:
        case "pressure":
            factors = ", ".join(f"1 {unit} = {UNITS[unit].factor:.12g} Pa" for unit, _ in SHOWN["pressure"])
        case "mass" | "force":
            factors = f"1 kg pulls with {STANDARD_GRAVITY} N (standard gravity)"
        case "volume":
            return ""
    return f"{factors}: exact by definition [from memory: M11, NIST SP 811, appendix B]"


def warnings(given: Amount) -> tuple[str, ...]:
    """Cautions beside a conversion."""
    match given.quantity:
        case "pressure":
            right = converted(Amount(30, "mmHg"), "cmH2O").value
            wrong = converted(Amount(48, "cmH2O"), "mmHg").value
            return (SLIP.format(right=right, wrong=wrong),)
        case "mass" | "force":
            return ("What hangs over a pulley pulls less than its weight, a filled bag weighs more than its fluid.",)
        case "volume":
            return (
                "A volume is not a pressure, and nothing here turns one into the other: a published page (P5) prints "
                "30 to 45 mL where others mean 30 to 45 mmHg. Read the manometer.",
            )
