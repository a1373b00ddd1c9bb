"""Before a flight: what the air in the balloons would do at the cabin's altitude."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import click

from log.basics.visible import visible
from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import whole
from log.transfer import cabin as transfer
from log.transfer.altitude import Cabin, Expansion, cabin
from log.transfer.cabin import Transfer
from tui.commands.options import CAUTION, cases_option

WIDTH = 80


@click.command("transfer", short_help="Show how far the balloons would expand at a cabin altitude.")
@click.argument("case", required=False)
@click.option("--altitude-ft", type=float, required=True, metavar="N", help="Cabin altitude in feet, 0 to 36000.")
@click.option(
    "--filled-ft",
    type=float,
    default=0.0,
    metavar="N",
    help="Altitude at which the balloons were filled; 0: sea level.",
)
@click.option("--volume", type=float, metavar="ML", help="Millilitres in the balloon; with CASE, in the gastric one.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, not rounded.")
@cases_option
def command(
    case: str | None, altitude_ft: float, filled_ft: float, volume: float | None, as_json: bool, cases: Path | None
) -> None:
    """Print how far the air in each balloon of CASE could grow, what would have to come out beforehand, and what has to
    be measured again on the way and after landing. Without CASE give --volume.

    The figures are upper bounds by Boyle's law and the standard atmosphere of 1976. An altitude or a volume that cannot
    be calculated is reported in one line; then the exit code is 3.
    """
    if case is None and volume is None:
        raise click.UsageError("give a CASE, or the volume of a balloon with --volume")
    there = cabin(altitude_ft, filled_ft)
    cautions: tuple[str, ...] = (CAUTION,)
    if case is None:
        assert volume is not None
        found = transfer.from_volume(there, volume)
    else:
        known = whole(store.read(cases_folder(cases), case))
        cautions = (known.simulation, *known.procedure.cautions) if known.simulation else known.procedure.cautions
        found = transfer.from_case(there, known.procedure, known.situation, volume)
    if as_json:
        click.echo(json.dumps(_plain(found, cautions)))
        return
    click.echo("\n".join(map(visible, _page(found, cautions))))


def _page(found: Transfer, cautions: tuple[str, ...]) -> Iterator[str]:
    there = found.cabin
    yield from _wrapped("! ", " ".join(cautions))
    yield (
        f"Cabin at {there.altitude_ft:g} ft: {there.pressure_mmhg:.1f} mmHg, {_below(there)}; gas x {there.ratio:.3f}"
    )
    for one in found.balloons:
        yield from _balloon(one)
    for remark in found.remarks:
        yield from _wrapped("! ", remark)
    yield from _wrapped("", f"{transfer.bound(there)} {transfer.MOIST}")
    yield "Measure again on the way:"
    for text in transfer.ON_THE_WAY:
        yield from _wrapped("  - ", text)
    yield "Measure again after landing:"
    for text in transfer.AFTER_LANDING:
        yield from _wrapped("  - ", text)
    yield from _wrapped("", f"{transfer.WATER} {transfer.TUBE_CUFF}")


def _below(there: Cabin) -> str:
    where = f"{there.filled_ft:g} ft, where the balloons were filled" if there.filled_ft else "sea level"
    return f"{abs(there.drop_mmhg):.1f} {'below' if there.drop_mmhg >= 0 else 'above'} {where}"


def _balloon(one: Expansion) -> Iterator[str]:
    name = f"  {one.site:<12}"
    if one.volume is not None and one.at_altitude is not None and one.remove is not None:
        yield (
            f"{name}{one.volume:g} mL now; at most {one.at_altitude:.1f} mL (moist {one.moist_at_altitude:.1f}) there"
        )
        if one.remove >= 0:
            yield f"{'':<14}remove {one.remove:.1f} mL beforehand to stay at {one.volume:g} mL (then {_left(one)} mL)"
        name = f"{'':<14}"
    if one.pressure is not None and one.stiff_pressure is not None:
        yield f"{name}{one.pressure:g} mmHg now; at most {one.stiff_pressure:.1f} mmHg there if it could not stretch"


def _left(one: Expansion) -> str:
    return f"{(one.volume or 0) - (one.remove or 0):.1f}"


def _wrapped(lead: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))


def _plain(found: Transfer, cautions: tuple[str, ...]) -> dict[str, object]:
    there = found.cabin
    return {
        "altitude_ft": there.altitude_ft,
        "cabin_mmHg": there.pressure_mmhg,
        "filled_ft": there.filled_ft,
        "filled_mmHg": there.filled_mmhg,
        "drop_mmHg": there.drop_mmhg,
        "ratio": there.ratio,
        "moist_ratio": there.moist_ratio,
        "bound": transfer.bound(there),
        "balloons": [asdict(one) for one in found.balloons],
        "remarks": list(found.remarks),
        "on_the_way": list(transfer.ON_THE_WAY),
        "after_landing": list(transfer.AFTER_LANDING),
        "cautions": list(cautions),
    }
