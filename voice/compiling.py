"""From a definition's phrases to what an engine may hear: a strict acceptor, and a list of example phrases for engines
that estimate a model of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import count, cycle

from log.procedure import NumberSlot
from voice.acceptor import Acceptor, acceptor
from voice.expression import Node, SlotNode, Word, choice, optional, sequence, strings
from voice.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar
from voice.numbers import number_tree, table
from voice.phrases import Phrases
from voice.turned import turned


def compile_grammars(phrases: Phrases, lead_word: str | None) -> dict[str, Grammar]:
    """All grammars of a definition. The lead word may be said or not, wanted or not: were it a must, what is said
    without it would be heard as if it had been there. Whether it was is for the matcher to see.
    """
    entry = _entry(phrases, lead_word, phrases.overheard)
    opening = frozenset((*phrases.procedure.fillers, lead_word or phrases.procedure.lead_word))
    entries, first = _acceptor(phrases, entry), _acceptor(phrases, _entry(phrases, lead_word))
    another = _acceptor(phrases, sequence(optional(Word("and")), choice(*(t.node for t in phrases.entries))))
    asked = _acceptor(phrases, choice(entry, *(t.node for t in phrases.answers)))
    said = tuple(template.node for template in phrases.entries)
    examples = tuple(_examples(phrases, (*said, *phrases.overheard)))
    number = number_tree(0, 999, halves=False)
    return {
        ENTRIES: Grammar(ENTRIES, turned(entries, opening), None, examples),
        BREATH: Grammar(BREATH, first, another, tuple(_examples(phrases, said))),
        ASKED: Grammar(ASKED, turned(asked, opening), None, (*examples, *_answers(phrases))),
        NUMBER: Grammar(NUMBER, _acceptor(phrases, number), None, tuple(table())),
    }


def _entry(phrases: Phrases, lead_word: str | None, overheard: Iterable[Node] = ()) -> Node:
    said = choice(*(t.node for t in phrases.entries), *overheard)
    lead = Word(lead_word or phrases.procedure.lead_word)
    hesitation = choice(*(Word(filler) for filler in phrases.procedure.fillers))
    return sequence(optional(hesitation), optional(sequence(lead, optional(hesitation))), said)


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


def _times(phrases: Phrases, slot: str, used: Counter[str]) -> int:
    """How often a phrase has to be shown so that all the choices of its slot come up."""
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
