"""The sums of the standing lines: air by balloon, aspirate and lavage by port, products and fluids by name, and the
total each line led to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from log.basics.entry import Entry, Number
from log.definition.procedure import Procedure
from log.rules.bounds import Compared
from log.state.balloon import Balloon
from log.state.fluid_balance import PortBalance, Rate
from log.state.tube import Given, Step, TubeState, given_of
from log.words.wording import figure, newtons, shown


@dataclass(frozen=True, slots=True)
class BalloonTotals:
    """The air of one balloon in mL: put_in - taken_out + set_by_total - deflated = now, unless the log has more
    taken out than was in."""

    site: str
    put_in: Number
    taken_out: Number
    set_by_total: Number
    """The change by a volume said as "now in the balloon"."""
    deflated: Number
    """Its volume when it was said to be down, or came out with the tube."""
    now: Number


def balloon_totals(procedure: Procedure, happened: Sequence[Step], situation: TubeState) -> tuple[BalloonTotals, ...]:
    """One row for each balloon of the tube, and for any other that was spoken of."""
    sites = dict.fromkeys((*procedure.tube.balloons, *situation.balloons))
    return tuple(_totals(site, happened, situation) for site in sites)


def _totals(site: str, happened: Sequence[Step], situation: TubeState) -> BalloonTotals:
    own = [step for step in happened if step.entry.site in (site, "both")]
    return BalloonTotals(
        site,
        put_in=sum(step.entry.number or 0 for step in own if step.entry.kind == "volume_in"),
        taken_out=sum(step.entry.number or 0 for step in own if step.entry.kind == "volume_out"),
        set_by_total=sum(_change(step, site) for step in own if step.entry.kind == "volume_total"),
        deflated=-sum(_change(step, site) for step in happened if step.entry.kind in ("balloon", "tube")),
        now=situation.balloon(site).volume,
    )


def _change(step: Step, site: str) -> Number:
    return step.after.balloon(site).volume - step.before.balloon(site).volume


def led_to(procedure: Procedure, step: Step) -> str:
    """The running total after one line: the balloon's volume, the port's aspirate, the lavage balance."""
    entry, after = step.entry, step.after
    site, total = entry.site or "", procedure.traits(entry.kind).total if entry.number is not None else "none"
    match entry.kind:
        case "volume_in" | "volume_out" | "volume_total" | "balloon":
            sites = [site for site in after.balloons if entry.site in (site, "both")]
            return ", ".join(f"{site} {filling(after.balloon(site))}" for site in sites)
        case "lavage_in" | "lavage_out" if entry.number is not None:
            return f"{port(site)}: lavage balance {_left(after, site)}" if site else f"lavage balance {_left(after)}"
        case _ if total == "by-port":
            return f"{port(site)} {figure(after.at_port(entry.kind, site))} {entry.unit} in all"
        case _ if total == "by-name":
            return in_all(given_of(entry), after)
        case "traction" if entry.number is not None:
            return newtons(entry.number)
        case _:
            return ""


def in_all(what: Given, situation: TubeState) -> str:
    """The amount given of a product or fluid: "red cells 4 units in all"."""
    kind, name, unit = what
    return f"{name or kind.replace('_', ' ')} {amount(situation.given[what], unit)} in all"


def amount(number: Number, unit: str) -> str:
    """A number with its unit as one says it: "1 unit", "4 units", "500 mL"."""
    plural = "units" if unit == "unit" and number != 1 else unit
    return f"{figure(number)} {plural}".strip()


def rate_in_words(rate: Rate) -> str:
    """A rate, and over how long, or why there is none: "100 mL/h (over 90 min)"."""
    if rate.per_hour is None:
        return rate.why_none
    return f"{figure(rate.per_hour)} mL/h (over {int(rate.over.total_seconds() // 60)} min)"


def output_in_words(port_balance: PortBalance) -> str:
    """The output of one port in few words: "650 mL, 320 mL/h"; the rate is that of the last hour."""
    hourly = port_balance.last_hour.per_hour
    rate = f", {figure(hourly)} mL/h" if hourly is not None else ""
    return f"{figure(port_balance.net)} mL{rate}"


def depth_in_words(entry: Entry) -> str:
    """ "52 cm at the lips"."""
    return shown(entry) + (f" at the {entry.site}" if entry.site else "")


def may_read(balloon: Balloon) -> str:
    """A pressure that nobody has confirmed: "15 or 50 mmHg?"; "" where there is none."""
    return f"{' or '.join(map(figure, balloon.may_read))} mmHg?" if balloon.may_read else ""


def filling(balloon: Balloon) -> str:
    """The content of a balloon, as far as the log knows."""
    return volumes_in_words(balloon.volumes, balloon.said_up)


def volumes_in_words(volumes: Sequence[Number], up: bool) -> str:
    """The contents of a balloon, certain or possible: "250 mL", "215 or 250 mL?"."""
    if len(volumes) > 1:
        return f"{' or '.join(map(figure, volumes))} mL?"
    return f"{figure(volumes[0])} mL" if volumes[0] or not up else "up, volume not said"


def port(site: str) -> str:
    """A port by its name."""
    return f"{site} port" if site else "port not said"


def _left(situation: TubeState, site: str | None = None) -> str:
    """Lavage in less lavage out at a port, or at all, with its sign."""
    return f"{situation.at_port('lavage_in', site) - situation.at_port('lavage_out', site):+.10g} mL"


def limits_in_words(held: Sequence[Compared]) -> str:
    """The limits of a number in words: "at most 120 mmHg", "ABOVE: at most 120 mmHg"."""
    return "; ".join(f"{one.beyond.upper()}: {one.bounds}" if one.beyond else one.bounds for one in held)
