"""The numbers of an entry in its slots: which goes where, in which unit, and what is doubtful about them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations

from log.basics.entry import Entry
from log.basics.units import NO_UNIT, in_the_room
from log.definition.slots import NumberSlot
from voice.english.numbers import LARGEST, Number
from voice.meaning.doubt import Doubt
from voice.meaning.frames.lexicon import Lay
from voice.meaning.frames.token import Amount, plain

NUMBER_LEFT = 5.0
"""The cost of a number that has no place; it may be the one that counts."""

BEYOND = 2
"""A number beyond so many times the most that can be said is no slip of the tongue but no number of this slot."""
BEYOND_IN_ITS_UNIT = 5


@dataclass(frozen=True, slots=True)
class Numbered:
    """An entry with its numbers in their slots; its candidates are made only where it is wanted."""

    kind: str
    fields: tuple[dict[str, object], ...]
    """Of each candidate, the likeliest first."""
    others: tuple[tuple[str, Number], ...]
    """Field and number that the first only sounds like."""
    doubts: tuple[Doubt, ...]
    extra: float
    """Its cost beside that of its doubts."""

    @property
    def alike(self) -> bool:
        """Whether its candidates only sound alike."""
        return bool(self.others) and not self.doubts

    def candidates(self) -> tuple[Entry, ...]:
        entries = tuple(dict.fromkeys(_entry(self.kind, fields) for fields in self.fields))
        return (*entries, *(entries[0].model_copy(update={field: other}) for field, other in self.others))


def numbered(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    """The entry with its numbers in their slots, its look-alikes, and what is doubtful about them."""
    frame = lay.frame
    if not lay.slots or (not amounts and not frame.counted):
        return Numbered(frame.kind, (fields | _of_its_own(lay),), (), (), 0.0)
    if frame.moved and any(amount.level for amount in amounts):
        return None
    wanted = len(lay.slots)
    if len(amounts) > wanted:
        return _several(lay, amounts, fields) if wanted == 1 and frame.several else None
    if len(amounts) < wanted:
        return None
    best: Numbered | None = None
    for order in permutations(range(wanted)) if wanted > 1 else ((0,),):
        found = _in_slots(lay, [amounts[place] for place in order], fields)
        if found is not None and (best is None or len(found.doubts) < len(best.doubts)):
            best = found
    return best


def _of_its_own(lay: Lay) -> dict[str, object]:
    """The number that a frame has where none is said, with its unit: a litre bag is a kilo."""
    value = lay.frame.value
    if not lay.slots or not isinstance(value, int | float):
        return {}
    return {"value": plain(value), "unit": in_the_room(lay.slots[0].unit or NO_UNIT)}


def _several(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    """More numbers than the entry has: it is one of them, and has to be asked."""
    each = [found for amount in amounts if (found := _in_slots(lay, [amount], fields)) is not None]
    if len(each) < 2:
        return None
    doubt = Doubt("several numbers", "several numbers were said")
    return Numbered(lay.frame.kind, tuple(found.fields[0] for found in each), (), (doubt,), several_cost(amounts))


def several_cost(amounts: list[Amount]) -> float:
    """The cost, beside that of its doubt, of an entry with one number that takes one of several."""
    return NUMBER_LEFT * (len(amounts) - 1) / 2


def _in_slots(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    fields = dict(fields)
    doubts: tuple[Doubt, ...] = ()
    others: list[tuple[str, Number]] = []
    for place, spoken in enumerate(amounts):
        amount = _with_its_tenths(lay, spoken)
        slots = (lay.slots[place], *(lay.other_slots if place == 0 else ()))
        slot = _of_its_unit(amount, slots)
        if slot is None and amount.unit is None:
            fitting = (slot for slot in slots if _sayable(slot, amount.value)) if lay.frame.bare else iter(())
            slot = next(fitting, slots[0])
            if lay.frame.asks and not lay.frame.bare and not lay.groups:
                return None
            if not lay.frame.bare and place == 0:
                doubts = (*doubts, Doubt("word missing", "its unit was not said"))
        if slot is None or (amount.either and not lay.frame.several):
            return None
        value = converted(amount, slot)
        assert value is not None
        if not _sayable(slot, value):
            low, high = slot.said
            if len(amounts) > 1 or value > high * (BEYOND if amount.unit is None else BEYOND_IN_ITS_UNIT):
                return None
            if amount.unit is None and amount.digits and value >= 1000:
                return None
            doubts = (
                *doubts,
                Doubt("out of range", f"{value:g} is outside what can be said here ({low:g} to {high:g})"),
            )
        elif not _plausible(slot, value):
            doubts = (*doubts, Doubt("out of range", f"{value:g} is not plausible here"))
        unit_known = amount.unit is not None or lay.frame.bare or (not lay.other_slots and _sayable(slot, value))
        fields[slot.gives] = value
        fields["unit" if slot.gives == "value" else "second_unit"] = (
            in_the_room(slot.unit or NO_UNIT) if unit_known else None
        )
        if amount.contradicted:
            doubts = (*doubts, Doubt("digits disagree", "the number and its digits differ"))
        if amount.either:
            doubts = (*doubts, Doubt("two readings", "one of two numbers was said"))
        alike = (converted(replace(amount, value=other), slot) for other in amount.others)
        others += [(slot.gives, one) for one in alike if one is not None and _sayable(slot, one)]
    return Numbered(lay.frame.kind, (fields,), tuple(others), doubts, 0.0)


def _of_its_unit(amount: Amount, slots: tuple[NumberSlot, ...]) -> NumberSlot | None:
    """The slot that has the unit that was said; of several the one for such a number: seven grams are a decilitre's."""
    if amount.unit is None:
        return None
    found = [(slot, value) for slot in slots if (value := converted(amount, slot)) is not None]
    return next((slot for slot, value in found if _sayable(slot, value)), found[0][0] if found else None)


TENTHS = "Cel"
"""Unit of what people say in tenths without a point."""


def _with_its_tenths(lay: Lay, amount: Amount) -> Amount:
    if amount.tenths is None or not any(slot.unit == TENTHS for slot in lay.slots):
        return amount
    return Amount(amount.tenths, amount.unit)


def _entry(kind: str, fields: dict[str, object]) -> Entry:
    return Entry.model_validate({"kind": kind, **{name: value for name, value in fields.items() if value is not None}})


SCALED: dict[tuple[str, str | None], float] = {("g", "kg"): 0.001, ("h", "min"): 60.0}
"""Unit that was said, unit that is logged -> factor."""


def converted(amount: Amount, slot: NumberSlot) -> Number | None:
    """The value in the unit that is logged; None if the unit that was said is another's."""
    if amount.unit is None:
        return plain(float(amount.value) * slot.factor)
    if amount.unit == slot.unit:
        return amount.value
    if (scale := SCALED.get((amount.unit, slot.unit))) is not None:
        return plain(float(amount.value) * scale)
    if (amount.unit, slot.unit) in (("deg", "Cel"), ("{unit}", "[IU]"), ("g", "g/L"), ("g", "g/dL")):
        return amount.value
    return None


def _plausible(slot: NumberSlot, value: Number) -> bool:
    low, high = slot.plausible or (0, MOST)
    return low <= value / slot.factor <= (high if slot.said[1] < LARGEST else MOST)


MOST = 20_000
"""More than any fluid that is given or comes back."""


def _sayable(slot: NumberSlot, value: Number) -> bool:
    """Whether it is a number for this slot. What can be said in one go ends at 999: a slot that goes as far has no
    upper bound of its own, and "a litre and a half" is a number for it."""
    if slot.unit == "kg":
        return 0 < value <= 5
    said = float(value) / slot.factor
    high = slot.said[1] if slot.said[1] < LARGEST else MOST
    return slot.said[0] <= said <= high and (slot.halves or said == int(said))
