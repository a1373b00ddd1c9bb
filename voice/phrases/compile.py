"""From a definition's phrases to what an engine may hear: a strict acceptor, and a list of example phrases for engines
that estimate a model of their own.

The digits of a pair form are not tied to its number. An engine that is free to hear "fifteen, five zero" shows a
contradiction, which is asked; one that is not free would hide it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import count, cycle
from random import Random

from log.definition.slots import NumberSlot
from voice.english.negation import turned
from voice.english.numbers import number_tree, table
from voice.english.small_words import AND
from voice.phrases.phrases import Phrases
from voice.phrases.sample import sample
from voice.templates.acceptor import Acceptor, acceptor
from voice.templates.expression import Node, SlotNode, Word, choice, optional, sequence, strings
from voice.templates.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar


def compile_grammars(phrases: Phrases, lead_word: str | None) -> dict[str, Grammar]:
    """All grammars of a definition. The lead word may be said or not, wanted or not: were it a must, what is said
    without it would be heard as if it had been there. Whether it was is for the matcher to see.
    """
    said = tuple(template.said for template in phrases.entries)
    opening = frozenset((*phrases.procedure.fillers, lead_word or phrases.procedure.lead_word))
    within = tuple(template.said for template in phrases.entries if not template.say.alone)
    entry, heard = (_addressed(phrases, lead_word, nodes) for nodes in (within, (*said, *phrases.overheard)))
    entries = _acceptor(phrases, heard)
    another = _acceptor(phrases, sequence(optional(Word(AND)), choice(*within)))
    asked = _acceptor(phrases, choice(heard, *(t.node for t in phrases.answers)))
    entries, asked = turned(entries, opening), turned(asked, opening)
    another = turned(another, frozenset({AND}))
    written = tuple(template.node for template in phrases.entries)
    breath = tuple(template.node for template in phrases.entries if not template.say.alone)
    examples = (*_examples(phrases, (*written, *phrases.overheard)), *_sentences(phrases))
    number = number_tree(0, 999, halves=False)
    return {
        ENTRIES: Grammar(ENTRIES, entries, None, examples),
        BREATH: Grammar(BREATH, _acceptor(phrases, entry), another, tuple(_examples(phrases, breath))),
        ASKED: Grammar(ASKED, asked, None, (*examples, *_answers(phrases))),
        NUMBER: Grammar(NUMBER, _acceptor(phrases, number), None, tuple(table())),
    }


def _addressed(phrases: Phrases, lead_word: str | None, said: Iterable[Node]) -> Node:
    """One of these, after a hesitation and the lead word, or without them."""
    lead = Word(lead_word or phrases.procedure.lead_word)
    hesitation = choice(*(Word(filler) for filler in phrases.procedure.fillers))
    return sequence(optional(hesitation), optional(sequence(lead, optional(hesitation))), choice(*said))


def _acceptor(phrases: Phrases, root: Node) -> Acceptor:
    trees = _slot_trees(phrases)
    return acceptor(root, lambda slot: trees[slot])


def _slot_trees(phrases: Phrases) -> dict[SlotNode, Node]:
    found: dict[SlotNode, Node] = {}
    for name, slot in phrases.procedure.slots.items():
        if not isinstance(slot, NumberSlot):
            found[SlotNode(name)] = choice(*phrases.choices[name].values())
            continue
        number = number_tree(int(slot.said[0]), int(slot.said[1]), slot.halves)
        unit = phrases.units[name]
        found[SlotNode(name)] = sequence(number, optional(unit)) if unit else number
        found[SlotNode(name, unit_required=True)] = sequence(number, unit) if unit else number
    return found


def _answers(phrases: Phrases) -> Iterator[str]:
    yield from table()
    yield from (" ".join(said) for t in phrases.templates if t.kind.id == "confirm" for said in strings(t.node))


def _examples(phrases: Phrases, nodes: Sequence[Node]) -> Iterator[str]:
    """Every phrase once, with numbers, units and choices dealt out in turn so that all their words occur."""
    dealt = {name: _fillings(phrases, name) for name in phrases.procedure.slots}
    units = {name: cycle(_said(unit)) for name, unit in phrases.units.items() if unit is not None}
    sometimes = cycle((False, False, True))

    def filled(word: str) -> str:
        if not word.startswith("{"):
            return word
        name = word.strip("{}!")
        unit_said = name in units and (word.endswith("!}") or next(sometimes))
        return f"{next(dealt[name])} {next(units[name])}" if unit_said else next(dealt[name])

    said = [said for node in nodes for said in strings(node)]
    used = Counter(word.strip("{}!") for words in said for word in words if word.startswith("{"))
    for words in said:
        times = max((_times(phrases, word.strip("{}!"), used) for word in words if word.startswith("{")), default=1)
        yield from dict.fromkeys(" ".join(map(filled, words)) for _ in range(times))
    yield phrases.procedure.lead_word


def _sentences(phrases: Phrases) -> Iterator[str]:
    """Every phrase once with the small words of a sentence, the same ones every time."""
    rng = Random(0)
    yield from (" ".join(sample(phrases, template, rng, small_words=True).words) for template in phrases.entries)


def _times(phrases: Phrases, slot: str, used: Counter[str]) -> int:
    """Times that a phrase has to be shown so that all the choices of its slot come up."""
    if phrases.number_slot(slot) is not None:
        return 1
    choices = sum(1 for node in phrases.choices[slot].values() for _ in _said(node))
    return -(-choices // used[slot])


def _fillings(phrases: Phrases, name: str) -> Iterator[str]:
    slot = phrases.number_slot(name)
    if slot is None:
        return cycle(text for node in phrases.choices[name].values() for text in _said(node))
    numbers = _number_examples(slot)
    return (numbers[turn % len(numbers)] for turn in count(37, 37))  # prime to the lengths: every form comes round


def _said(node: Node) -> Iterator[str]:
    return (" ".join(said) for said in strings(node))


def _number_examples(slot: NumberSlot) -> tuple[str, ...]:
    low, high = slot.said
    return tuple(
        form
        for form, reading in table().items()
        if low <= reading.value <= high and (slot.halves or isinstance(reading.value, int))
    )
