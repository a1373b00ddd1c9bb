"""The position of the tube: position checks, resistance, X-ray, and the pressure against the one read outside the
patient at the same volume.
"""

from __future__ import annotations

from collections.abc import Iterator

from log.basics.entry import Entry, Number
from log.definition.procedure import Procedure
from log.rules.comparisons import compared, read_in_patient
from log.rules.finding import adds_air, empties, first_air, is_said
from log.rules.rule import Rule, Said, rule
from log.state.preparation import Pressures
from log.state.tube import Step, TubeState


def _placed_or_flat(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """A film confirms the position, or the balloon that should lie in the stomach is emptied."""
    return is_said(step, "xray", "confirmed") or empties(step, procedure.tube.stomach)


@rule("x_ray_wrong", whose="stomach", until=_placed_or_flat)
def x_ray_wrong(procedure: Procedure, step: Step) -> Iterator[Said]:
    """An X-ray that does not confirm the position, with air in the balloon that should lie in the stomach."""
    anchor = procedure.tube.stomach
    asked = is_said(step, "xray", "not_confirmed") or adds_air(step, anchor)
    if asked and step.after.xray == "not_confirmed" and step.after.balloon(anchor).up:
        yield Said("x_ray_wrong")


def _taken_back(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return _placed_or_flat(procedure, entry, step) or not failed_checks(procedure, step.after)


@rule(later=("position_failed",), whose="stomach", until=_taken_back)
def position_failed(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Air into that balloon though a check spoke against the stomach and neither its opposite nor an X-ray has taken
    that back."""
    if not step.before.confirmed and adds_air(step, procedure.tube.stomach):
        against = failed_checks(procedure, step.before)
        if against:
            yield Said("position_failed", " and ".join(against))


@rule(later=("position_against",), whose="stomach", until=_placed_or_flat)
def position_against(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A check that speaks against the stomach with air in the balloon there, whatever a film showed earlier."""
    if is_said(step, "position_check", "failed") and step.before.balloon(procedure.tube.stomach).up:
        yield Said("position_against", " and ".join(failed_checks(procedure, step.after)))


@rule(later=("tube_in_again",))
def tube_in_again(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Said of a tube that is in and in use: it was out meanwhile, or it is another."""
    if is_said(step, "tube", "in") and step.before.in_use:
        yield Said("tube_in_again")


@rule(later=("film_before_tube",))
def film_before_tube(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A film from before the tube went in shows another tube, or none."""
    if is_said(step, "tube", "in") and not step.before.tube_in and step.before.confirmed:
        yield Said("film_before_tube")


@rule(later=("film_without_air",), whose="stomach", until=_placed_or_flat)
def film_without_air(procedure: Procedure, step: Step) -> Iterator[Said]:
    """Filled again on a film that was read while that balloon was flat: it shows the tube, and not where the balloon
    comes to lie. Of a first filling nothing is said: one source (P14) fills it whole with contrast in it."""
    anchor = procedure.tube.stomach
    if step.before.confirmed and anchor in step.before.down and first_air(step, anchor):
        yield Said("film_without_air")


def failed_checks(procedure: Procedure, situation: TubeState) -> tuple[str, ...]:
    """The position checks that speak against the stomach: said to have failed, and not taken back since."""
    checks = situation.prepared.checks
    if not procedure.position:
        return tuple(how or "position check" for how, result in checks[-1:] if result == "failed")
    taken_back_by = {position.failed: position.passed for position in procedure.position}
    places = {how: place for place, (how, _) in enumerate(checks)}
    return tuple(
        how or "position check"
        for place, (how, result) in enumerate(checks)
        if result == "failed" and places.get(taken_back_by.get(how, ""), -1) < place
    )


def _yields(procedure: Procedure, entry: Entry, step: Step) -> bool:
    return is_said(step, "resistance", "none") or _placed_or_flat(procedure, entry, step)


@rule(later=("resistance",), until=_yields)
def resistance(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A balloon in the stomach fills against little resistance."""
    if is_said(step, "resistance", "felt"):
        yield Said("resistance")


@rule(later=("manometry_in_place",))
def reading_in_place(procedure: Procedure, step: Step) -> Iterator[Said]:
    """A reading said to be outside the patient while the tube is in cannot be one."""
    if is_said(step, "manometry") and step.before.tube_in:
        yield Said("manometry_in_place")


def _pressure_read(procedure: Procedure, entry: Entry, step: Step) -> bool:
    """The same pressure was read again, or there is none any more."""
    again = is_said(step, "pressure") and step.entry.site == entry.site and step.entry.number is not None
    return again or any(empties(step, site) for site in procedure.tube.meant(entry.site))


@rule(later=("rise_at_limit", "rise_not_comparable"), whose="stomach", until=_pressure_read)
def pressure_rise(procedure: Procedure, step: Step) -> Iterator[Said]:
    """The pressure in the patient against the one at the same volume outside. The limit is broken by more than it:
    exactly there only says so. Where there is nothing to compare with, it says that, once for each volume (once in all
    if nothing was read outside) until there is traction, and never that all is well."""
    for name, _, of in procedure.held if is_said(step, "pressure") else ():
        if of.what != "rise" or not read_in_patient(procedure.tube, of, step):
            continue
        rise = next((one for one in compared(procedure, step) if one.limit == name), None)
        balloon, table = step.before.balloon(of.site), step.before.prepared.outside.get(of.site or "", {})
        if rise is not None and rise.value == rise.high:
            yield Said("rise_at_limit", f"{rise.what} {rise.value:g} {rise.unit}")
        elif step.before.traction is not None:  # it is pulled against the stomach
            continue
        elif rise is None and (balloon.pressure is None or (table and balloon.read_at != balloon.volume)):
            yield Said("rise_not_comparable", _why(table, balloon.measured))


def _why(table: Pressures, volume: Number) -> str:
    if volume <= 0:
        return "its volume is not known"
    if not table:
        return f"no pressure was read outside the patient at {volume:g} mL or any volume"
    read = ", ".join(f"{one:g}" for one in sorted(table))
    return f"no pressure was read outside the patient at {volume:g} mL, only at {read}"


RULES: tuple[Rule, ...] = (
    x_ray_wrong,
    position_failed,
    position_against,
    tube_in_again,
    film_before_tube,
    film_without_air,
    resistance,
    reading_in_place,
    pressure_rise,
)
