"""The names that the program reads from a definition: rules by name, limits by what they are of. A definition must
hold all of them and no others: a number that nothing reads must not look as if something did.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from log.basics.units import UNITS
from log.definition.limits import ADDED_LATER, NEEDED_KIND, ORIGINAL, Limit, Of
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.protocol import Tube
from log.definition.slots import NumberSlot

Whose = Literal["any tube", "companion", "stomach", "both balloons"]
"""The part of a tube that a rule is about: a companion tube, the balloon in the stomach, or that and the one above."""


@dataclass(frozen=True, slots=True)
class Read:
    """A rule of the definition that the program looks up by its name."""

    name: str
    later: bool = False
    """Whether there were cases before it: they are kept by what they were begun with."""
    whose: Whose = "any tube"

    def applies_to(self, tube: Tube, companion: bool) -> bool:
        """Whether a tube has the part that it is about."""
        match self.whose:
            case "any tube":
                return True
            case "companion":
                return companion
            case "stomach":
                return tube.stomach is not None
            case "both balloons":
                return tube.stomach is not None and tube.oesophagus is not None


LACKING: Mapping[Whose, str] = MappingProxyType(
    {
        "any tube": "part",
        "companion": "companion",
        "stomach": "balloon in the stomach",
        "both balloons": "second balloon",
    }
)


def lacking(procedure: Procedure, reads: Sequence[Read], old: bool = False) -> Iterator[Problem]:
    """Limits and rules that are read and are not there. `old`: of a case, which may be from before some of them."""
    for name, of in ORIGINAL.items():
        asked = not (old and name in ADDED_LATER) and _has_place_of(procedure.tube, of)
        if asked and name not in procedure.limits:
            yield f"limits.{name}", "is missing: the rules need it"
    for read in reads:
        asked = not (old and read.later) and read.applies_to(procedure.tube, procedure.companion is not None)
        if asked and read.name not in procedure.rules:
            yield f"rules.{read.name}", "is missing: the rules need it"


def _has_place_of(tube: Tube, of: Of) -> bool:
    """Whether a tube has the balloon that a limit of the original ones is about."""
    match of.site:
        case "gastric":
            return tube.stomach is not None
        case "oesophageal":
            return tube.oesophagus is not None
        case _:
            return True


def unread(procedure: Procedure, reads: Sequence[Read]) -> Iterator[Problem]:
    """Limits and rules that are there and are not read."""
    held = {name for name, _, _ in procedure.held}
    for name in procedure.limits:
        if name not in held:
            yield f"limits.{name}", 'nothing reads it: say which number it holds, as of = { kind = "pressure" }'
    read = {one.name: one for one in reads}
    for name in procedure.rules:
        if name not in read:
            yield f"rules.{name}", "nothing reads it: the program has no rule of this name"
        elif not read[name].applies_to(procedure.tube, procedure.companion is not None):
            yield f"rules.{name}", f"nothing reads it: the tube has no {LACKING[read[name].whose]}"


def misled(procedure: Procedure) -> Iterator[Problem]:
    """Limits of a number that nobody can say."""
    for name, limit, of in procedure.held:
        for field, what in _of(procedure, limit, of):
            yield f"limits.{name}.{field}", what


def _of(procedure: Procedure, limit: Limit, of: Of) -> Iterator[Problem]:
    if procedure.kind_named(of.kind) is None:
        yield "of.kind", f'there is no kind of entry named "{of.kind}"'
        return
    numbers = [slot for slot in procedure.slots_of(of.kind) if isinstance(slot, NumberSlot) and slot.gives == "value"]
    if not numbers:
        yield "of.kind", f'no number is said with "{of.kind}"'
    for field in ("what", "when"):
        chosen = getattr(of, field)
        wanted = NEEDED_KIND.get(chosen, of.kind)
        if wanted != of.kind:
            yield f"of.{field}", f'"{chosen}" is about {wanted}, not {of.kind}'
        if chosen in NEEDED_KIND and wanted != "depth" and of.site not in procedure.tube.balloons:
            yield "of.site", f'"{chosen}" is about one balloon: say which'
    for field, said in procedure.said_with(of.kind).items():
        wanted = getattr(of, field)
        if wanted is not None and wanted not in said:
            yield f"of.{field}", f'"{wanted}" is never said with "{of.kind}", only {", ".join(sorted(said)) or "none"}'
    for field in ("unless", "instead_of"):
        name = getattr(of, field)
        if name is not None and name not in (*procedure.limits, *ORIGINAL):
            yield f"of.{field}", f'there is no limit named "{name}"'
    if limit.low_until is not None and procedure.kind_named(limit.low_until.kind) is None:
        yield "low_until", f'there is no kind of entry named "{limit.low_until.kind}"'
    units = [unit for unit in UNITS.values() if unit.ucum in {slot.unit for slot in numbers}]
    if numbers and limit.unit not in {name for unit in units for name in (unit.room, unit.said)} | {""}:
        written = " or ".join(unit.room for unit in units) or "nothing"
        yield "unit", f'"{limit.unit}" is no unit of {of.kind}: write {written}'
