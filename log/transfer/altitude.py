"""Air in a balloon when the cabin of an aircraft climbs: the pressure at an altitude by the standard atmosphere of
1976, and the two bounds between which a real balloon lies.

A slack balloon grows and a stiff one presses; tissue and balloon wall, which hold it back, are left out on purpose.
"""

from __future__ import annotations

from dataclasses import dataclass

from log.basics.errors import InputError

METRES_PER_FOOT = 0.3048
"""Exact (reference 6)."""
SEA_LEVEL_PA = 101_325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
EXPONENT = 5.25588
"""US Standard Atmosphere 1976 up to 11 km of geopotential height (reference 6.2, P89, P90)."""
HIGHEST_FT = 36_000
"""The formula holds up to 11,000 m = 36,089 ft; cabins stay far below."""
CIVIL_CABIN_FT = 8_000
"""To this civil cabins are limited (reference 6.2, P91)."""
PA_PER_MMHG = SEA_LEVEL_PA / 760
"""By 1 atm = 760 mmHg, as reference 6.2 prints its mmHg; from the conventional unit it differs by 0.1 ppm."""
VAPOUR_MMHG = 47.0
"""Water vapour in gas that is moist at 37 degrees C (reference 6.2)."""


@dataclass(frozen=True, slots=True)
class Cabin:
    """The air pressure at an altitude, against that where the balloon was filled."""

    altitude_ft: float
    pressure_mmhg: float
    filled_ft: float = 0.0
    """Where it was filled: sea level unless somebody says otherwise. A hospital may lie high, or a cabin."""
    filled_mmhg: float = 760.0

    @property
    def drop_mmhg(self) -> float:
        """Drop of the ambient pressure since the balloon was filled: a balloon that cannot stretch presses so much
        more. Below nought where the cabin is lower than that."""
        return self.filled_mmhg - self.pressure_mmhg

    @property
    def ratio(self) -> float:
        """By how much dry gas in a slack balloon grows at constant temperature (Boyle)."""
        return self.filled_mmhg / self.pressure_mmhg

    @property
    def moist_ratio(self) -> float:
        """The same for gas that is kept moist at 37 degrees C; somewhat more, for the vapour takes part of the room."""
        return (self.filled_mmhg - VAPOUR_MMHG) / (self.pressure_mmhg - VAPOUR_MMHG)

    @property
    def above_civil(self) -> bool:
        """Whether it is higher than what civil cabins are limited to."""
        return self.altitude_ft > CIVIL_CABIN_FT


def cabin(altitude_ft: float, filled_ft: float = 0.0) -> Cabin:
    """The cabin at a pressure altitude in feet, for balloons that were filled at another.

    Raises InputError for one that the formula does not cover.
    """
    return Cabin(altitude_ft, _pressure_mmhg(altitude_ft), filled_ft, _pressure_mmhg(filled_ft))


def _pressure_mmhg(altitude_ft: float) -> float:
    if not 0 <= altitude_ft <= HIGHEST_FT:
        raise InputError(
            f"a cabin altitude of {altitude_ft:g} ft cannot be used",
            f"give feet from 0 to {HIGHEST_FT}; civil cabins are limited to {CIVIL_CABIN_FT}",
        )
    metres = altitude_ft * METRES_PER_FOOT
    pressure: float = SEA_LEVEL_PA * (1 - LAPSE_K_PER_M * metres / SEA_LEVEL_K) ** EXPONENT
    return pressure / PA_PER_MMHG


@dataclass(frozen=True, slots=True)
class Expansion:
    """One balloon at a cabin altitude. Volumes in mL, pressures in mmHg against the cabin."""

    site: str
    volume: float | None
    """In the balloon on the ground; None if the log does not know it."""
    pressure: float | None
    """The last reading on the ground; None if there is none."""
    at_altitude: float | None
    """Boyle: a slack balloon with dry gas."""
    moist_at_altitude: float | None
    remove: float | None
    """To take out beforehand, so that a slack balloon has the same volume at altitude as now; below nought it is to be
    added on the way down, for it shrinks."""
    stiff_pressure: float | None
    """Its pressure if it could not stretch at all."""


def expansion(there: Cabin, site: str, volume: float | None, pressure: float | None) -> Expansion:
    """Expansion of a balloon with this volume (mL) and pressure (mmHg). Raises InputError for a volume below nought."""
    if volume is not None and not 0 <= volume <= 1_000_000:
        raise InputError(f"a volume of {volume:g} mL cannot be in a balloon", "give millilitres, 0 or more")
    return Expansion(
        site,
        volume,
        pressure,
        None if volume is None else volume * there.ratio,
        None if volume is None else volume * there.moist_ratio,
        None if volume is None else volume * (1 - 1 / there.ratio),
        None if pressure is None else pressure + there.drop_mmhg,
    )
