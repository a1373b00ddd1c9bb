"""Phrases as somebody may say them, drawn from the definition: for practice, for the language of the engines, for
tests.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from log.basics.entry import Entry
from log.basics.units import in_the_room
from log.definition.slots import NumberSlot
from voice.english.numbers import Number, table
from voice.phrases.phrases import UNIT_OF, Phrases, Template, fixed_fields, logged_value
from voice.templates.expression import Choice, Node, Sequence, SlotNode, Word


@dataclass(frozen=True, slots=True)
class Sample:
    """A phrase made from the definition, with the entry it must give."""

    words: tuple[str, ...]
    entry: Entry


def sample(phrases: Phrases, template: Template, rng: random.Random, small_words: bool = False) -> Sample:
    """One way to say a template, chosen evenly at every turn; with small words here and there if they are wanted."""
    fields = fixed_fields(phrases, template)
    words = said(phrases, template.said if small_words else template.node, rng, fields)
    return Sample(words, Entry.model_validate({"kind": template.kind.id, **fields}))


def said(phrases: Phrases, node: Node, rng: random.Random, fields: dict[str, object] | None = None) -> tuple[str, ...]:
    """One way to say a part of a phrase. `fields` is filled with what its slots say."""
    return tuple(_sampled(phrases, node, {} if fields is None else fields, rng))


def _sampled(phrases: Phrases, node: Node, fields: dict[str, object], rng: random.Random) -> Iterator[str]:
    match node:
        case Word(text):
            yield text
        case Sequence(items):
            for item in items:
                yield from _sampled(phrases, item, fields, rng)
        case Choice(items):
            yield from _sampled(phrases, rng.choice(items), fields, rng)
        case SlotNode(name, unit_required):
            yield from _sampled_slot(phrases, name, unit_required, fields, rng)


def _sampled_slot(
    phrases: Phrases, name: str, unit_required: bool, fields: dict[str, object], rng: random.Random
) -> Iterator[str]:
    slot = phrases.number_slot(name)
    if slot is None:
        value = rng.choice(list(phrases.choices[name]))
        fields[phrases.choice_slot(name).gives] = value
        yield from _sampled(phrases, phrases.choices[name][value], fields, rng)
        return
    form, reading = rng.choice(_sayable(slot))
    fields[slot.gives] = logged_value(slot, reading)
    fields[UNIT_OF[slot.gives]] = in_the_room(slot.unit)
    yield from form.split()
    unit = phrases.units[name]
    if unit is not None and (unit_required or rng.random() < 0.5):
        yield from _sampled(phrases, unit, fields, rng)


@cache
def _sayable(slot: NumberSlot) -> list[tuple[str, Number]]:
    low, high = slot.said
    return [
        (form, reading.value)
        for form, reading in table().items()
        if low <= reading.value <= high and (slot.halves or isinstance(reading.value, int))
    ]
