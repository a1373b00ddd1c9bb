"""What an engine may hear, compiled from the definition's phrases: strict JSGF for pocketsphinx, a phrase list for vosk.

Three grammars are made of one definition: `entries` (the ordinary one), `asked` (a question is open: "confirm" and
bare numbers count as well) and `number` (only a number can be meant).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from log.procedure import NumberSlot
from voice.expression import Choice, Node, Sequence, SlotNode, Word, choice, optional, sequence, strings
from voice.numbers import number_tree, table
from voice.phrases import Phrases

ENTRIES, ASKED, NUMBER = "entries", "asked", "number"
GRAMMARS = (ENTRIES, ASKED, NUMBER)

ENTRIES_IN_A_BREATH = 2
"""More than two entries without a pause are not offered to the engine: each more makes false ones likelier."""


@dataclass(frozen=True, slots=True)
class Grammar:
    """One grammar in the forms the engines take."""

    name: str
    jsgf: str
    phrases: tuple[str, ...]
    """Word sequences for engines that estimate their own model from examples."""
    words: frozenset[str]


def compile_grammars(phrases: Phrases, lead_word: str | None) -> dict[str, Grammar]:
    """All grammars of a definition. With a lead word every entry begins with it, else it may be said or not."""
    return {
        ENTRIES: _grammar(ENTRIES, phrases, _utterance(phrases, asked=False, lead_word=lead_word)),
        ASKED: _grammar(ASKED, phrases, _answer_or_entry(phrases, lead_word)),
        NUMBER: _grammar(NUMBER, phrases, number_tree(0, 999, halves=False)),
    }


def _utterance(phrases: Phrases, asked: bool, lead_word: str | None) -> Node:
    entry = _factored([t.node for t in phrases.of(asked)])
    lead: Node = Word(phrases.procedure.lead_word) if lead_word is None else Word(lead_word)
    more = [optional(sequence(optional(Word("and")), entry)) for _ in range(ENTRIES_IN_A_BREATH - 1)]
    return sequence(optional(lead) if lead_word is None else lead, entry, *more)


def _answer_or_entry(phrases: Phrases, lead_word: str | None) -> Node:
    answers = [t.node for t in phrases.templates if t.kind.when == "asked"]
    return choice(_utterance(phrases, asked=False, lead_word=lead_word), *answers)


def _grammar(name: str, phrases: Phrases, root: Node) -> Grammar:
    jsgf = _jsgf(name, phrases, root)
    words = frozenset(re.findall(r"[a-z][a-z'-]*", re.sub(r"#JSGF[^;]*;|grammar \w+;|public|<[^>]*>", " ", jsgf)))
    return Grammar(name, jsgf, tuple(_examples(phrases, root)), words)


def _factored(nodes: Iterable[Node]) -> Node:
    """The same choice with common beginnings written once, so that an engine does not search them again and again."""
    branches: dict[Node, list[Node]] = {}
    ends = False
    for node in nodes:
        items = node.items if isinstance(node, Sequence) else (node,)
        if items:
            branches.setdefault(items[0], []).append(Sequence(items[1:]))
        else:
            ends = True
    factored = [sequence(head, _factored(rest)) for head, rest in branches.items()]
    whole = choice(*factored) if factored else Sequence(())
    return optional(whole) if ends and factored else whole


def _jsgf(name: str, phrases: Phrases, root: Node) -> str:
    rules = [f"<{slot}> = {_rule(phrases, node)};" for slot, node in sorted(_slot_nodes(phrases).items())]
    return "\n".join(["#JSGF V1.0;", f"grammar {name};", *rules, f"public <{name}_root> = {_rule(phrases, root)};"])


def _slot_nodes(phrases: Phrases) -> dict[str, Node]:
    found: dict[str, Node] = {}
    for name, slot in phrases.procedure.slots.items():
        if not isinstance(slot, NumberSlot):
            found[name] = choice(*phrases.choices[name].values())
            continue
        number = number_tree(int(slot.said[0]), int(slot.said[1]), slot.halves)
        unit = phrases.units[name]
        found[name] = sequence(number, optional(unit)) if unit else number
        found[f"{name}_with_unit"] = sequence(number, unit) if unit else number
    return found


def _rule(phrases: Phrases, node: Node) -> str:
    match node:
        case Word(text):
            return text
        case SlotNode(name, unit_required):
            return f"<{name}_with_unit>" if unit_required else f"<{name}>"
        case Sequence(items):
            return " ".join(_rule(phrases, item) for item in items)
        case Choice(items):
            said = [_rule(phrases, item) for item in items if item != Sequence(())]
            text = " | ".join(said)
            return f"[{text}]" if len(said) < len(items) else f"({text})"


def _examples(phrases: Phrases, root: Node) -> Iterator[str]:
    """Every phrase once per choice of words, with numbers dealt out in turn so that all number words occur."""
    number_words = {name: _number_examples(slot) for name, slot in phrases.procedure.slots.items()
                    if isinstance(slot, NumberSlot)}
    dealt = dict.fromkeys(number_words, 0)
    seen: set[str] = set()
    for node in ([t.node for t in phrases.templates] if phrases.templates else [root]):
        for said in strings(node):
            text = " ".join(_filled(phrases, word, number_words, dealt) for word in said)
            if text not in seen:
                seen.add(text)
                yield text
    yield phrases.procedure.lead_word


def _number_examples(slot: NumberSlot) -> tuple[str, ...]:
    low, high = slot.said
    forms = [form for form, r in table().items() if low <= r.value <= high and (slot.halves or r.value == int(r.value))]
    return tuple(forms)


def _filled(phrases: Phrases, word: str, numbers: dict[str, tuple[str, ...]], dealt: dict[str, int]) -> str:
    if not word.startswith("{"):
        return word
    name = word.strip("{}!")
    if name in phrases.choices:
        first = next(iter(phrases.choices[name].values()))
        return " ".join(next(strings(first)))
    dealt[name] += 37
    number = numbers[name][dealt[name] % len(numbers[name])]
    unit = phrases.units[name]
    return f"{number} {' '.join(next(strings(unit)))}" if unit and word.endswith("!}") else number
