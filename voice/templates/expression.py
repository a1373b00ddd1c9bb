"""The small language in which phrases are written, and its tree.

    word            the word itself
    [words]         may be left out
    (one|the other) one of these
    <name>          a part defined once in the definition's [parts]
    {slot}          a number or choice; {slot!}: the unit has to be said

The same tree is matched against what was heard, sampled for tests, and compiled to each engine's grammar.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

MOST_WAYS = 2_000
"""In which one template may be said. The shipped ones come to 144; each is listed, sampled and compiled."""


class TemplateError(ValueError):
    """A template that cannot be read, with the column where it goes wrong."""


@dataclass(frozen=True, slots=True)
class Word:
    """One word."""

    text: str


@dataclass(frozen=True, slots=True)
class Sequence:
    """One after the other; the empty sequence is silence."""

    items: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several; an optional piece is a choice between itself and silence."""

    items: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class SlotNode:
    """A slot of the definition."""

    name: str
    unit_required: bool = False


Node = Word | Sequence | Choice | SlotNode

SILENCE = Sequence(())


def needed(node: Node) -> frozenset[str]:
    """The words that are said whichever way a tree is said; those of slots are left out."""
    match node:
        case Word(text):
            return frozenset((text,))
        case Sequence(items):
            return frozenset().union(*map(needed, items))
        case Choice(items):
            return frozenset.intersection(*map(needed, items)) if items else frozenset()
        case SlotNode():
            return frozenset()


_TOKEN = re.compile(
    r"\s*(?:(?P<word>[a-z](?:[a-z'-]*[a-z])?)|<(?P<part>[a-z][a-z0-9_-]*)>|"
    r"\{(?P<slot>[a-z][a-z0-9_-]*)(?P<unit>!)?\}|(?P<mark>[\[\]()|]))"
)


def sequence(*items: Node) -> Node:
    """Items one after the other, without needless nesting."""
    flat = tuple(itertools.chain.from_iterable(i.items if isinstance(i, Sequence) else (i,) for i in items))
    return flat[0] if len(flat) == 1 else Sequence(flat)


def choice(*items: Node) -> Node:
    """One of the items; equal ones are kept once."""
    unique = tuple(dict.fromkeys(items))
    return unique[0] if len(unique) == 1 else Choice(unique)


def optional(item: Node) -> Node:
    """The item or nothing."""
    return choice(item, SILENCE)


def words(text: str) -> Node:
    """Plain words as a sequence."""
    return sequence(*(Word(word) for word in text.split()))


def parse_template(text: str, parts: Mapping[str, str]) -> Node:
    """Reads one template; raises TemplateError naming the column, or for one that can be said in too many ways."""
    node = _Parser(text, parts).whole()
    if ways(node) > MOST_WAYS:
        raise TemplateError(f"can be said in {ways(node):.0e} ways, at most {MOST_WAYS} can be listed: {text!r}")
    return node


class _Parser:
    def __init__(self, text: str, parts: Mapping[str, str], inside: tuple[str, ...] = ()) -> None:
        self.text, self.parts, self.inside = text, parts, inside
        self.tokens = list(self._tokens())
        self.at = 0

    def _tokens(self) -> Iterator[tuple[str, str, int]]:
        position = 0
        text = self.text.rstrip()
        while position < len(text):
            found = _TOKEN.match(text, position)
            column = len(text) - len(text[position:].lstrip()) + 1
            if found is None:
                raise TemplateError(f'column {column}: "{text[column - 1]}" is not allowed here: {self.text!r}')
            group = "slot!" if found["unit"] else str(found.lastgroup)
            yield group, str(found["slot"] if found["slot"] else found[str(found.lastgroup)]), column
            position = found.end()

    def whole(self) -> Node:
        node = self._alternatives(until=None)
        if node == SILENCE:
            raise TemplateError(f"column 1: the template says nothing: {self.text!r}")
        return node

    def _alternatives(self, until: str | None) -> Node:
        branches: list[Node] = []
        items: list[Node] = []
        while self.at < len(self.tokens):
            group, text, column = self.tokens[self.at]
            self.at += 1
            if group == "mark" and text == "|":
                branches.append(sequence(*items))
                items = []
            elif group == "mark" and text in "])":
                if text != until:
                    raise TemplateError(f'column {column}: "{text}" closes nothing: {self.text!r}')
                return choice(*branches, sequence(*items))
            else:
                items.append(self._item(group, text, column))
        if until is not None:
            raise TemplateError(f'column {len(self.text) + 1}: "{until}" is missing: {self.text!r}')
        return choice(*branches, sequence(*items))

    def _item(self, group: str, text: str, column: int) -> Node:
        if group == "word":
            return Word(text)
        if group in ("slot", "slot!"):
            return SlotNode(text, unit_required=group == "slot!")
        if group == "part":
            if text in self.inside:
                raise TemplateError(f"column {column}: <{text}> contains itself")
            if text not in self.parts:
                raise TemplateError(f'column {column}: there is no part named "{text}"')
            return _Parser(self.parts[text], self.parts, (*self.inside, text)).whole()
        inner = self._alternatives(until={"[": "]", "(": ")"}[text])
        return optional(inner) if text == "[" else inner


def ways(node: Node) -> int:
    """In how many ways a tree can be said, each slot counted once."""
    match node:
        case Choice(items):
            return sum(map(ways, items))
        case Sequence(items):
            return math.prod(map(ways, items))
        case _:
            return 1


def strings(node: Node) -> Iterator[tuple[str, ...]]:
    """Every way to say a tree; a slot appears as "{name}" (unit optional) or "{name!}"."""
    match node:
        case Word(text):
            yield (text,)
        case SlotNode(name, unit_required):
            yield (f"{{{name}!}}" if unit_required else f"{{{name}}}",)
        case Choice(items):
            for item in items:
                yield from strings(item)
        case Sequence(items):
            for combination in itertools.product(*(tuple(strings(item)) for item in items)):
                yield tuple(itertools.chain.from_iterable(combination))


def vocabulary(node: Node) -> Iterator[str]:
    """Every plain word of a tree."""
    match node:
        case Word(text):
            yield text
        case SlotNode():
            return
        case Choice(items) | Sequence(items):
            for item in items:
                yield from vocabulary(item)
