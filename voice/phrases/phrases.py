"""The definition's phrases, read once: then matched against what was heard, sampled for tests and practice
(`sample.py`), and compiled to each engine's grammar. One source, so that the three cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from log.basics.errors import InputError
from log.basics.once import once
from log.basics.units import LOGGED, in_the_room
from log.basics.visible import visible
from log.definition.kinds import Kind, Say
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.slots import ChoiceSlot, NumberSlot
from voice.english.negation import AT_THE_START
from voice.english.numbers import BEGIN_A_NUMBER, NUMBER_WORDS, Number, table
from voice.english.small_words import with_small_words
from voice.templates.expression import (
    Choice,
    Node,
    Sequence,
    SlotNode,
    TemplateError,
    Word,
    needed,
    parse_template,
    strings,
    vocabulary,
    ways,
)

UNIT_OF = {"value": "unit", "second": "second_unit"}
"""Number of an entry -> the field that holds its unit."""


MOST_WAYS_IN_ALL = 50_000
"""The shipped definitions come to 1,600."""

TOO_MANY = f"what can be said comes to {{:,}} ways, at most {MOST_WAYS_IN_ALL:,} can be listed: fewer alternatives"
CHECK = "see all that is wrong with a definition: tamponade procedures check FILE"


@dataclass(frozen=True, slots=True)
class Template:
    """One phrase of one kind of entry."""

    kind: Kind
    say: Say
    text: str
    node: Node
    """As it is written."""
    said: Node
    """As it may be said: with the small words of a sentence."""
    needed: frozenset[str]
    """Words without which it cannot be said."""


@dataclass(frozen=True, eq=False)
class Phrases:
    """Everything that can be said in one definition."""

    procedure: Procedure
    templates: tuple[Template, ...]
    choices: dict[str, dict[str, Node]]
    """Choice slot -> what is logged -> how it is said."""
    units: dict[str, Node | None]
    """Number slot -> the words for its unit."""
    overheard: tuple[Node, ...] = ()
    """Phrases of the room that are no entry."""

    @property
    def ways(self) -> int:
        """In how many ways something can be said, each slot counted once."""
        return sum(map(ways, (*(template.node for template in self.templates), *self.overheard)))

    @cached_property
    def entries(self) -> tuple[Template, ...]:
        """Phrases that can be said at any time."""
        return tuple(t for t in self.templates if t.kind.when == "always")

    @cached_property
    def urgent(self) -> tuple[Template, ...]:
        """Phrases that need no lead word."""
        return tuple(t for t in self.entries if t.say.urgent)

    @cached_property
    def answers(self) -> tuple[Template, ...]:
        """Phrases that can only be said while a question is open."""
        return tuple(t for t in self.templates if t.kind.when == "asked")

    def entries_from(self, word: str) -> tuple[Template, ...]:
        """Phrases that can be said at any time and may begin with this word, in the definition's order."""
        return self._by_first_word.get(word, ())

    @cached_property
    def _by_first_word(self) -> dict[str, tuple[Template, ...]]:
        found: dict[str, list[Template]] = {}
        for template in self.entries:
            for word in self._first_words(template.said):
                found.setdefault(word, []).append(template)
        return {word: tuple(templates) for word, templates in found.items()}

    def _first_words(self, node: Node) -> frozenset[str]:
        """The words that a tree may begin with, "" among them if it may be silence."""
        match node:
            case Word(text):
                return frozenset((text,))
            case SlotNode(name) if name in self.choices:
                return frozenset().union(*map(self._first_words, self.choices[name].values()))
            case SlotNode():
                return BEGIN_A_NUMBER
            case Choice(items):
                return frozenset().union(*map(self._first_words, items))
            case Sequence(items):
                first = frozenset(("",))
                for item in items:
                    if "" not in first:
                        break
                    first = first - {""} | self._first_words(item)
                return first

    def number_slot(self, name: str) -> NumberSlot | None:
        """The slot of this name if it takes a number."""
        slot = self.procedure.slots[name]
        return slot if isinstance(slot, NumberSlot) else None

    def choice_slot(self, name: str) -> ChoiceSlot:
        """The slot of this name, which takes one of a few things."""
        slot = self.procedure.slots[name]
        assert isinstance(slot, ChoiceSlot)
        return slot

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word that is not part of a number."""
        nodes = [*(t.said for t in self.templates), *self.overheard]
        nodes += [node for values in self.choices.values() for node in values.values()]
        nodes += [node for node in self.units.values() if node is not None]
        plain = {word for node in nodes for word in vocabulary(node)}
        plain |= {self.procedure.lead_word, *self.procedure.fillers}
        return frozenset(plain - NUMBER_WORDS)

    @cached_property
    def unit_words(self) -> frozenset[str]:
        """Every word of a unit."""
        return frozenset().union(*(vocabulary(node) for node in self.units.values() if node is not None))

    @cached_property
    def vocabulary(self) -> frozenset[str]:
        """Every word that can be said, numbers and negations included."""
        return self.words | AT_THE_START | {word for form in table() for word in form.split()}


@once
def compile_phrases(procedure: Procedure) -> Phrases:
    """Reads all templates of a definition, once. Raises InputError for the first that cannot be read."""
    try:
        phrases = _compiled(procedure)
    except TemplateError as error:
        raise InputError(f"{procedure.id}: {visible(str(error), 300)}", CHECK) from None
    if (number := phrases.ways) > MOST_WAYS_IN_ALL:
        raise InputError(f"{procedure.id}: {TOO_MANY.format(number)}", CHECK)
    return phrases


def _compiled(procedure: Procedure) -> Phrases:
    parts = procedure.parts
    choices: dict[str, dict[str, Node]] = {}
    units: dict[str, Node | None] = {}
    for name, slot in procedure.slots.items():
        if isinstance(slot, ChoiceSlot):
            choices[name] = {value: parse_template(text, parts) for value, text in slot.values.items()}
        else:
            units[name] = parse_template(slot.units, parts) if slot.units else None
    takes_a_number = units.keys().__contains__
    templates = tuple(
        Template(kind, say, text, node, with_small_words(node, takes_a_number), needed(node))
        for kind in procedure.kind
        for say in kind.say
        for text in say.phrases
        for node in (parse_template(text, parts),)
    )
    overheard = tuple(parse_template(text, parts) for text in procedure.overheard)
    return Phrases(procedure, templates, choices, units, overheard)


def template_problems(procedure: Procedure) -> Iterator[Problem]:
    """Every template that cannot be read, as (dotted path, what is wrong)."""
    number = 0
    for path, text in procedure.templates():
        try:
            number += ways(parse_template(text, procedure.parts))
        except TemplateError as error:
            yield path, str(error)
    if number > MOST_WAYS_IN_ALL:
        yield "kind", TOO_MANY.format(number)
    for name, slot in procedure.slots.items():
        if isinstance(slot, NumberSlot) and slot.unit is not None and slot.unit not in LOGGED:
            yield f"slots.{name}.unit", f'"{slot.unit}" is not one of {", ".join(LOGGED)} (UCUM)'


def normal_number(value: float) -> Number:
    """50.0 -> 50; anything else as it is, without the dust of binary fractions."""
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def logged_value(slot: NumberSlot, said: Number) -> Number:
    """The value that goes into the record for a number said in this slot."""
    return normal_number(said * slot.factor)


def readable(template: Template) -> str:
    """A template without the marks that only the matcher needs: "{site} at {pressure!}" -> "{site} at {pressure}"."""
    return template.text.replace("!", "")


def _fixed_unit(phrases: Phrases, template: Template) -> str | None:
    """A group with a fixed number has the unit of its kind."""
    if not isinstance(template.say.value, int | float):
        return None
    slot = phrases.procedure.number_slot(template.kind.id)
    return in_the_room(slot.unit) if slot else None


def fixed_fields(phrases: Phrases, template: Template) -> dict[str, object]:
    """The words of a template whatever its slots are filled with."""
    value = template.say.value
    return {
        "site": template.say.site,
        "value": normal_number(value) if isinstance(value, float) else value,
        "detail": template.say.detail,
        "unit": _fixed_unit(phrases, template),
    }


def patterns(template: Template) -> Iterator[str]:
    """Every way to say a template with its slots left as names: for the list of phrases and for "nearest"."""
    for words in strings(template.node):
        yield " ".join(words).replace("!", "")
