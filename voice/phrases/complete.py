"""How a phrase that somebody types may go on: up to its next number, which nobody can guess."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voice.english.numbers import NUMBER_WORDS
from voice.phrases.phrases import Phrases
from voice.templates.expression import strings

Words = tuple[str, ...]


def completion(phrases: Phrases, typed: str) -> str | None:
    """The shortest phrase that begins with what is typed, as far as the next number; None if none goes on from it."""
    words = typed.lower().split()
    last = "" if not words or typed[-1].isspace() else words.pop()
    rests = (
        rest
        for template in phrases.entries
        if template.kind.role != "command"
        for pattern in strings(template.node)
        for rest in _rests(phrases, pattern, words)
    )
    ends = {end for rest in rests if (end := _end(phrases, rest, last)) is not None}
    return typed + min(ends, key=lambda end: (len(end), end)) if ends and typed.strip() else None


def _rests(phrases: Phrases, pattern: Words, words: Sequence[str]) -> Iterator[Words]:
    """The rest of a pattern after whole words of it."""
    if not words:
        yield pattern
        return
    if not pattern:
        return
    head, rest = pattern[0], pattern[1:]
    if _number(phrases, head):
        count = next((n for n, word in enumerate(words) if not _of_a_number(word)), len(words))
        if count:
            yield from _rests(phrases, rest, words[count:])
    elif head.startswith("{"):
        for said in _choices(phrases, head):
            yield from _rests(phrases, (*said, *rest), words)
    elif head == words[0]:
        yield from _rests(phrases, rest, words[1:])


def _end(phrases: Phrases, rest: Words, begun: str) -> str | None:
    """The end of the word that is begun, and what follows it up to a number; None if nothing does."""
    if not rest or _number(phrases, rest[0]):
        return None
    if rest[0].startswith("{"):
        ends = (_end(phrases, (*said, *rest[1:]), begun) for said in _choices(phrases, rest[0]))
        return min((end for end in ends if end is not None), key=len, default=None)
    if not rest[0].startswith(begun):
        return None
    upto = next((n for n, word in enumerate(rest) if word.startswith("{")), len(rest))
    more = " " if upto < len(rest) and _number(phrases, rest[upto]) else ""
    return (" ".join(rest[:upto])[len(begun) :] + more) or None


def _choices(phrases: Phrases, slot: str) -> Iterator[Words]:
    for node in phrases.choices[_name(slot)].values():
        yield from strings(node)


def _number(phrases: Phrases, word: str) -> bool:
    return word.startswith("{") and _name(word) not in phrases.choices


def _name(slot: str) -> str:
    return slot.strip("{}!")


def _of_a_number(word: str) -> bool:
    return word in NUMBER_WORDS or word.replace(".", "", 1).isdigit()
