"""The questions before a patient with a tube flies: each balloon at the cabin altitude, what the definition's limits
say to that, and what has to be measured again on the way and after landing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from log.definition.limits import Limit
from log.definition.procedure import Procedure
from log.rules.bounds import pressure_limits, volume_limits
from log.state.tube import TubeState
from log.transfer.altitude import Cabin, Expansion, expansion

BOUND = (
    "Upper bounds, not forecasts: Boyle's law at constant temperature for a balloon that was filled at {filled}. "
    "Tissue and the balloon's wall are ignored: a slack balloon grows, a stiff one presses, most do both."
)


def bound(there: Cabin) -> str:
    """The figures, and the altitude from which they are reckoned."""
    return BOUND.format(filled=f"{there.filled_ft:g} ft" if there.filled_ft else "sea level")


MOIST = "Moist gas at 37 degrees C grows a little more (vapour 47 mmHg): the second figure."
ABOVE_CIVIL = "above the 8000 ft equivalent to which civil cabins are limited [published: P91]"
LOWER = (
    "the cabin is lower than where the balloons were filled: they shrink and lose pressure on the way "
    "[derived: reference 6.2]"
)
TOO_LITTLE = "what is left on the ground would be below the volume that holds the tube: weigh one against the other"

ON_THE_WAY = (
    "pressure of each balloon at cruising altitude, and with every change of altitude [derived: reference 6.2]",
    "the mark at the lips, and traction: neither hangs nor holds as on the ground, and there is no X-ray "
    "[published: P92, retrieval medicine]",
    "before descent: a balloon that was topped up at altitude loses pressure on the way down [derived: reference 6.2]",
    "scissors within reach all the way [published: P10, P12]",
)
AFTER_LANDING = (
    "pressure of each balloon; volumes that were taken out before, put back or not, are said to the log",
    "traction: its mass and kind; and the mark at the lips [published: P2, P6, P15]",
    "X-ray if anything moved or was let out [common practice, no source]",
)
WATER = "Water or saline does not grow, but is not how most sources fill these balloons (air; water in P14, P15)."
TUBE_CUFF = "The cuff of the tracheal tube grows as well: check its pressure [published: P93]."


@dataclass(frozen=True, slots=True)
class Transfer:
    """A transfer at a cabin altitude."""

    cabin: Cabin
    balloons: tuple[Expansion, ...]
    remarks: tuple[str, ...]
    """Limits broken and questions left open, most urgent first."""


def from_volume(there: Cabin, volume: float) -> Transfer:
    """The transfer of one balloon with so many millilitres, without a case."""
    return Transfer(there, (expansion(there, "balloon", volume, None),), tuple(_cabin_remarks(there)))


def from_case(there: Cabin, procedure: Procedure, situation: TubeState, stated_ml: float | None = None) -> Transfer:
    """The transfer of the balloons that are up. `stated_ml` goes before the volume that the log knows of the balloon in
    the stomach, or of the first one."""
    stated = {procedure.tube.stomach or procedure.tube.balloons[0]: stated_ml} if stated_ml is not None else {}
    balloons = tuple(_balloons(there, procedure, situation, stated))
    remarks = (*_cabin_remarks(there), *_limit_remarks(procedure, balloons), *_gaps(situation, balloons, stated))
    return Transfer(there, balloons, remarks)


def _balloons(
    there: Cabin, procedure: Procedure, situation: TubeState, stated: Mapping[str, float]
) -> Iterator[Expansion]:
    for site in procedure.tube.balloons:
        balloon = situation.balloon(site)
        given = stated.get(site)
        if balloon.up or given is not None:
            known = balloon.volume if balloon.volume > 0 else None
            yield expansion(there, site, given if given is not None else known, balloon.pressure)


def _cabin_remarks(there: Cabin) -> Iterator[str]:
    if there.drop_mmhg < 0:
        yield LOWER
    if there.above_civil:
        yield f"{there.altitude_ft:g} ft is {ABOVE_CIVIL}"


def _limit_remarks(procedure: Procedure, balloons: tuple[Expansion, ...]) -> Iterator[str]:
    for one in balloons:
        for name in volume_limits(procedure, one.site, confirmed=True):
            yield from _volume_remarks(one, procedure.limits[name])
        for name in pressure_limits(procedure, one.site)[-1:]:  # the ceiling, where there is a working range besides
            ceiling = procedure.limits[name]
            if one.stiff_pressure is not None and ceiling.broken_by(one.stiff_pressure) == "above":
                yield f"{one.site}: could pass the ceiling ({ceiling.bounds}). {ceiling.advice}"


def _volume_remarks(one: Expansion, limit: Limit) -> Iterator[str]:
    if one.at_altitude is None or one.volume is None or one.remove is None:
        return
    if limit.broken_by(one.at_altitude) == "above":
        yield f"{one.site}: could reach {one.at_altitude:.1f} mL, above the limit ({limit.bounds})"
    left = one.volume - one.remove
    if limit.broken_by(left) == "below" and limit.broken_by(one.volume) != "below":
        yield f"{one.site}: {left:.1f} mL after removal ({limit.bounds}): {TOO_LITTLE}"


def _gaps(situation: TubeState, balloons: tuple[Expansion, ...], stated: Mapping[str, float]) -> Iterator[str]:
    if not balloons:
        yield "no balloon is up according to the log: nothing can expand"
    for one in balloons:
        if one.volume is None:
            yield f"{one.site}: it is up, but its volume was never said; reckon with what the tube's instructions give"
        if one.pressure is None:
            yield f"{one.site}: no pressure is logged; read it before take-off"
    for site, volume in stated.items():
        yield f"{site}: {volume:g} mL as given; the log says {situation.balloon(site).volume:g} mL"
