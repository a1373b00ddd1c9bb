"""Other ways to say the same entry: every phrase of the definition that comes to it, with the same number words.

A suggestion is only given if the matcher reads it as that entry, so that nobody is taught a phrase which is none.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice, product

from log.basics.entry import Entry, Understood
from log.definition.slots import NumberSlot
from voice.english.numbers import NUMBER_WORDS
from voice.meaning.matcher import settled, understand
from voice.phrases.phrases import Phrases, Template, fixed_fields
from voice.templates.expression import Node, strings

Words = tuple[str, ...]

MOST = 200
"""Ways to say one template that are looked at; a few more words between brackets double them."""


def phrasings(phrases: Phrases, words: Words, entry: Entry) -> Iterator[Words]:
    """Other words for this entry, which was said in these words; none for an entry with two numbers."""
    number = _number(words)
    if entry.second is not None or number is None:
        return
    seen = {words}
    for template in phrases.entries:
        if template.kind.id != entry.kind or not _may_be(phrases, template, entry):
            continue
        for said in islice(_filled(phrases, template.node, entry, number), MOST):
            if said not in seen:
                seen.add(said)
                if means(phrases, said, entry):
                    yield said


def means(phrases: Phrases, words: Words, entry: Entry) -> bool:
    """Whether these words are this entry; that its number has a sound-alike is no matter here."""
    meaning = settled(understand(phrases, words))
    return isinstance(meaning, Understood) and meaning.items == (entry,)


def _number(words: Words) -> Words | None:
    """The words of the one number that was said, () if there is none; None where several were."""
    places = [place for place, word in enumerate(words) if word in NUMBER_WORDS]
    if not places:
        return ()
    number = words[places[0] : places[-1] + 1]
    return number if len(number) == len(places) else None


def _may_be(phrases: Phrases, template: Template, entry: Entry) -> bool:
    fixed = fixed_fields(phrases, template)
    return all(fixed[name] in (None, getattr(entry, name)) for name in ("site", "value", "detail"))


def _filled(phrases: Phrases, node: Node, entry: Entry, number: Words) -> Iterator[Words]:
    for pattern in islice(strings(node), MOST):
        for parts in islice(product(*(_word(phrases, word, entry, number) for word in pattern)), MOST):
            yield tuple(word for part in parts for word in part)


def _word(phrases: Phrases, word: str, entry: Entry, number: Words) -> list[Words]:
    """Words for one word of a pattern: itself, or those that fill the slot that it names."""
    if not word.startswith("{"):
        return [(word,)]
    name = word.strip("{!}")
    slot = phrases.procedure.slots[name]
    if isinstance(slot, NumberSlot):
        unit = phrases.units[name]
        units = list(strings(unit)) if unit is not None else []
        bare = [] if word.endswith("!}") else [number]
        return [*bare, *((*number, *said) for said in units)] if number else []
    choice = phrases.choices[name].get(str(getattr(entry, slot.gives)))
    return list(strings(choice)) if choice is not None else []
