"""What a team has to know before it takes a patient with a tube into the air: each balloon at the cabin altitude, what
the definition's limits say to that, and what has to be measured again on the way and after landing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from log.definition.procedure import Procedure
from log.state.tube import Situation
from log.transfer.altitude import Cabin, Expansion, expansion

BOUND = (
    "Upper bounds, not forecasts: Boyle's law at constant temperature for a balloon that was filled at sea level. "
    "Tissue and the balloon's wall are ignored: a slack balloon grows, a stiff one presses, most do both."
)
MOIST = "Moist gas at 37 degrees C grows a little more (vapour 47 mmHg): the second figure."
ABOVE_CIVIL = "above the 8000 ft equivalent to which civil cabins are limited [published: P91]"
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
    """What the figures break or leave open, most urgent first."""


def from_volume(there: Cabin, volume: float) -> Transfer:
    """Of one balloon with so many millilitres, without a case."""
    return Transfer(there, (expansion(there, "balloon", volume, None),), tuple(_cabin_remarks(there)))


def from_case(there: Cabin, procedure: Procedure, situation: Situation, gastric_ml: float | None = None) -> Transfer:
    """Of the balloons that are up by the log. `gastric_ml` goes before the gastric volume that the log knows."""
    balloons = tuple(_balloons(there, procedure, situation, gastric_ml))
    remarks = (*_cabin_remarks(there), *_limit_remarks(procedure, balloons), *_gaps(situation, balloons, gastric_ml))
    return Transfer(there, balloons, remarks)


def _balloons(
    there: Cabin, procedure: Procedure, situation: Situation, gastric_ml: float | None
) -> Iterator[Expansion]:
    for site in procedure.tube.balloons:
        balloon = situation.balloon(site)
        given = gastric_ml if site == "gastric" else None
        if balloon.up or given is not None:
            known = balloon.volume if balloon.volume > 0 else None
            yield expansion(there, site, given if given is not None else known, balloon.pressure)


def _cabin_remarks(there: Cabin) -> Iterator[str]:
    if there.above_civil:
        yield f"{there.altitude_ft:g} ft is {ABOVE_CIVIL}"


def _limit_remarks(procedure: Procedure, balloons: tuple[Expansion, ...]) -> Iterator[str]:
    volume, ceiling = procedure.limits["gastric_volume"], procedure.limits["oesophageal_ceiling"]
    for one in balloons:
        if one.site == "gastric" and one.at_altitude is not None and one.volume is not None and one.remove is not None:
            if volume.broken_by(one.at_altitude) == "above":
                yield f"gastric: could reach {one.at_altitude:.1f} mL, above the limit ({volume.bounds})"
            left = one.volume - one.remove
            if volume.broken_by(left) == "below" and volume.broken_by(one.volume) != "below":
                yield f"gastric: {left:.1f} mL after removal ({volume.bounds}): {TOO_LITTLE}"
        stiff = one.stiff_pressure if one.site == "oesophageal" else None
        if stiff is not None and ceiling.broken_by(stiff) == "above":
            yield f"oesophageal: could pass the ceiling ({ceiling.bounds}). {ceiling.advice}"


def _gaps(situation: Situation, balloons: tuple[Expansion, ...], gastric_ml: float | None) -> Iterator[str]:
    if not balloons:
        yield "no balloon is up by the log: nothing can grow"
    for one in balloons:
        if one.volume is None:
            yield f"{one.site}: it is up, but its volume was never said; reckon with what the tube's instructions give"
        if one.pressure is None:
            yield f"{one.site}: no pressure is logged; read it before take-off"
    if gastric_ml is not None:
        yield f"gastric: {gastric_ml:g} mL as given; the log says {situation.balloon('gastric').volume:g} mL"
