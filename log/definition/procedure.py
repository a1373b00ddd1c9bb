"""The definition that a hospital writes once and the room then relies on: entries and how they are said, possible
numbers, limits, orders and clocks.

Everything here is data. Nothing clinical has a default: a definition that leaves a limit out is refused, and every
limit, order and clock names its source and how far that source can be trusted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    Field,
    SerializerFunctionWrapHandler,
    StringConstraints,
    field_serializer,
    field_validator,
    model_validator,
)

from log.basics.entry import Entry
from log.basics.patterns import Backed, Grown, Identifier, Pattern, Sourced
from log.basics.units import NO_UNIT, ucum
from log.definition.frames import Words
from log.definition.kinds import ORIGINAL as ORIGINAL_KINDS
from log.definition.kinds import Group, Kind, Total, Traits
from log.definition.limits import ORIGINAL, Limit, Of
from log.definition.medicines import Medicine
from log.definition.protocol import Companion, Emergency, Manometry, Milestone, Position, Tube
from log.definition.slots import PART_NAME, ChoiceSlot, NumberSlot, Slot, slot_names
from log.definition.watch_plan import WatchPlan

LONGEST_PHRASE = 1_000
MOST_MARKS = 16
"""Characters and opening brackets of a phrase with its parts put in; the shipped ones have up to 102 and 4."""


class Order(Backed):
    """`first` has to be in the record before `then`."""

    id: Identifier
    first: Pattern
    then: Pattern
    message: str


class Rule(Backed):
    """Something the rules check that is neither a number nor a plain order of two entries."""

    message: str


class Due(Grown, Backed):
    """A moment on a clock."""

    GROWN: ClassVar = ("silenced_by",)

    after_h: float = Field(gt=0, le=10_000)
    message: str
    silenced_by: tuple[Pattern, ...] | None = None
    """Whoever said one of these needs no such reminder: a plan that is made."""


class Clock(Grown):
    """Time that runs from one entry to another."""

    GROWN: ClassVar = ("pauses",)

    id: Identifier
    title: str
    starts: Pattern
    stops: tuple[Pattern, ...]
    restarts: bool = False
    """Whether it starts anew with every entry that matches (a check) or only with the first (an inflation)."""
    pauses: tuple[Pattern, ...] | None = None
    """Entries after which it stands still: started again, it adds up, until it is stopped."""
    due: tuple[Due, ...] = ()


class Procedure(Grown):
    """One whole definition."""

    GROWN: ClassVar = ("medicine",)

    id: Identifier
    title: str
    version: str
    lead_word: Annotated[str, StringConstraints(pattern=r"^[a-z]+$")]
    """Said before an entry when the microphone is always open."""
    tube: Tube
    cautions: tuple[str, ...] = Field(min_length=1)
    sources: dict[str, str]
    spellings: dict[str, str] = Field(default_factory=dict)
    """Other spellings -> the word as it stands in the phrases ("esophageal" -> "oesophageal")."""
    pronunciations: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    """Word -> extra pronunciations in the phone set of the engine's dictionary (ARPAbet without stress)."""
    speech: Words | None = None
    """Words and the entries they speak for; None in definitions that know phrases only."""
    fillers: tuple[str, ...] = ()
    """Words between or around entries that mean nothing."""
    overheard: tuple[str, ...] = ()
    """Phrases that people say to each other and that sound like an entry: orders, another tube, a dose without unit.
    The engines know them, the matcher reads nothing of them. A strict grammar without them made of "give one gram of
    tranexamic acid" a gram given, of the breathing tube's "twenty two at the teeth" the depth of the tube in the case,
    and of its "cuff pressure" a "cut" and a pressure. A phrase that a kind of entry has too stays an entry."""
    parts: dict[Identifier, str] = Field(default_factory=dict)
    """Named pieces of phrases, used as <name>."""
    slots: dict[Identifier, Slot]
    kind: tuple[Kind, ...] = Field(min_length=1)
    limits: dict[Identifier, Limit]
    rules: dict[Identifier, Rule]
    order: tuple[Order, ...] = ()
    clock: tuple[Clock, ...] = ()
    milestone: tuple[Milestone, ...] = ()
    watch: WatchPlan | None = None
    """The watch over a placed tube; None in definitions from before there was one."""
    position: tuple[Position, ...] = ()
    """Position checks that take each other back; without any the last word on the position counts."""
    manometry: Manometry | None = None
    companion: Companion | None = None
    """Only of a tube that has one beside it."""
    medicine: tuple[Medicine, ...] | None = None
    """Drugs with their usual doses; None in definitions from before there were any."""
    emergency: Emergency | None = None
    """The steps when the tube blocks the airway; None in definitions from before it was written down."""

    @field_validator("limits")
    @classmethod
    def _original_limits_are_known(cls, limits: dict[str, Limit]) -> dict[str, Limit]:
        original = ((name, limit, limit.of or ORIGINAL.get(name)) for name, limit in limits.items())
        return {name: limit.model_copy(update={"of": of}) for name, limit, of in original}

    @field_serializer("limits", mode="wrap")
    def _as_they_always_were(self, limits: dict[str, Limit], written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        tables: dict[str, Any] = written(limits)
        for name, limit in limits.items():
            if limit.of == ORIGINAL.get(name):
                tables[name].pop("of", None)
        return tables

    @model_validator(mode="after")
    def _phrases_stay_short(self) -> Procedure:
        """A few parts that name each other can come to more than any memory holds."""
        for path, text in self.templates():
            whole, parts_in_it = text, 1
            while parts_in_it:
                if len(whole) > LONGEST_PHRASE or sum(map(whole.count, "[(<")) > MOST_MARKS:
                    raise ValueError(f"{path} is longer than any phrase, with its parts put in")
                whole, parts_in_it = PART_NAME.subn(self._part, whole)
        return self

    def _part(self, name: re.Match[str]) -> str:
        return f"({self.parts.get(name[1], '')[:LONGEST_PHRASE]})"

    def kind_named(self, name: str) -> Kind | None:
        """The kind of entry with this id."""
        return next((kind for kind in self.kind if kind.id == name), None)

    def title_of(self, kind: str) -> str:
        """The name of a kind of entry on screen and paper."""
        found = self.kind_named(kind)
        return found.title if found else kind.replace("_", " ").capitalize()

    def traits(self, kind: str) -> Traits:
        """The traits of a kind of entry; one that is not defined here has its original traits."""
        found = self.kind_named(kind)
        return found.traits if found is not None else ORIGINAL_KINDS.get(kind, Traits())

    @property
    def all_traits(self) -> dict[str, Traits]:
        """Those of every kind by its id, in the order of the definition."""
        own = {kind.id: kind.traits for kind in self.kind}
        return {**own, **{kind: known for kind, known in ORIGINAL_KINDS.items() if kind not in own}}

    def kinds_of(self, *groups: Group) -> tuple[str, ...]:
        """Ids of the kinds of entry of these groups."""
        return tuple(kind for kind, is_ in self.all_traits.items() if is_.group in groups)

    @property
    def read_again(self) -> tuple[str, ...]:
        """Ids of the kinds of entry of which the last one says how things stand: readings, and what has a limit."""
        held = {of.kind for _, _, of in self.held if of.what == "said"}
        tables = self.all_traits.items()
        return tuple(kind for kind, is_ in tables if is_.reading or (is_.group == "other" and kind in held))

    def kinds_added(self, total: Total) -> tuple[str, ...]:
        """Ids of the kinds of entry whose numbers are added up in this way."""
        return tuple(kind for kind, is_ in self.all_traits.items() if is_.total == total)

    def slots_of(self, kind: str) -> tuple[Slot, ...]:
        """The slots in the phrases of this kind of entry, in the order of their names."""
        found = self.kind_named(kind)
        says = found.say if found is not None else ()
        names = {name for say in says for phrase in say.phrases for name in slot_names(phrase)}
        return tuple(self.slots[name] for name in sorted(names) if name in self.slots)

    def number_slot(self, kind: str) -> NumberSlot | None:
        """The slot in which this kind of entry takes its number: the one with factor 1 where there are several."""
        numbers = [slot for slot in self.slots_of(kind) if isinstance(slot, NumberSlot) and slot.gives == "value"]
        return min(numbers, key=lambda slot: slot.factor != 1.0, default=None)

    def said_with(self, kind: str) -> dict[str, set[str]]:
        """Every site and every detail that an entry of this kind can have, by the name of the field."""
        found = self.kind_named(kind)
        says = found.say if found is not None else ()
        said = {"site": {say.site for say in says if say.site}, "detail": {say.detail for say in says if say.detail}}
        for slot in self.slots_of(kind):
            if isinstance(slot, ChoiceSlot) and slot.gives in said:
                said[slot.gives] |= set(slot.values)
        return said

    def slot_of(self, entry: Entry, gives: Literal["value", "second"] = "value") -> NumberSlot | None:
        """The slot in which an entry like this takes one of its numbers: that of its detail and unit, for a kind may
        have several (a heart rate and a saturation are both vital signs). Falls back on that of its kind."""
        kind = self.kind_named(entry.kind)
        unit = ucum(entry.unit if gives == "value" else entry.second_unit) or NO_UNIT
        names = {
            name
            for say in (kind.say if kind else ())
            if (say.value is None or gives == "second") and say.detail in (None, entry.detail)
            for phrase in say.phrases
            for name in slot_names(phrase)
        }
        slots = [slot for name in sorted(names) if isinstance(slot := self.slots.get(name), NumberSlot)]
        fitting = [slot for slot in slots if slot.gives == gives and (slot.unit or "1") == unit]
        fallback = self.number_slot(entry.kind) if gives == "value" else None
        return min(fitting, key=lambda slot: slot.factor != 1.0, default=fallback)

    @property
    def held(self) -> tuple[tuple[str, Limit, Of], ...]:
        """Every limit with its name and the number that it holds, as far as that is known."""
        return tuple([(name, limit, limit.of) for name, limit in self.limits.items() if limit.of is not None])

    def cite(self, backed: Sourced) -> str:
        """The standing of a limit, order or clock in one line, as it is printed beside every finding."""
        texts = [f"{key}: {self.sources[key]}" if key in self.sources else key for key in backed.source]
        return f"[{backed.tag}] " + ("; ".join(texts) if texts else "no source")

    def templates(self) -> Iterator[tuple[str, str]]:
        """Every phrase template of the definition as (dotted path, text)."""
        for name, text in self.parts.items():
            yield f"parts.{name}", text
        for name, slot in self.slots.items():
            if isinstance(slot, NumberSlot):
                if slot.units:
                    yield f"slots.{name}.units", slot.units
            else:
                for value, text in slot.values.items():
                    yield f"slots.{name}.values.{value}", text
        for where, kind in enumerate(self.kind):
            for which, say in enumerate(kind.say):
                for number, phrase in enumerate(say.phrases):
                    yield f"kind[{where}].say[{which}].phrases[{number}]", phrase
        for number, phrase in enumerate(self.overheard):
            yield f"overheard[{number}]", phrase
