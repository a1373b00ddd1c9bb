"""How each kind of entry can be said, to be looked up: its phrases, and sentences made of the frames of its language.

A sentence is listed only if it is understood as the entry it stands for. `N` is any number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from log.basics.entry import Entry, Understood
from log.definition.frames import Frame, Words, ways
from log.definition.kinds import Kind
from voice.english.numbers import NUMBER_WORDS
from voice.meaning.matcher import understand
from voice.phrases.phrases import Phrases
from voice.templates.expression import strings

ANY_NUMBER = "N"

LONG_ENOUGH = 3
"""Letters of a word that tell it from others."""


@dataclass(frozen=True, slots=True)
class HowSaid:
    """One kind of entry, and how it is said."""

    title: str
    examples: tuple[str, ...]
    """The shortest way of each phrase, then the sentences."""
    ways: tuple[str, ...]
    """Every way of saying it; the first of the things that may be named stands for all of them."""
    words: frozenset[str]
    """Every word that belongs to it."""


@dataclass(frozen=True, slots=True)
class Found:
    """A kind that belongs to what is looked for, and ways of saying it, the closest first."""

    title: str
    ways: tuple[str, ...]


@cache
def how_said(phrases: Phrases) -> tuple[HowSaid, ...]:
    """Every kind that can be said at any time, in the definition's order. Takes half a second the first time."""
    kinds = (kind for kind in phrases.procedure.kind if kind.when == "always")
    return tuple(_how_said(phrases, kind) for kind in kinds)


def search(known: Sequence[HowSaid], typed: str, most: int) -> tuple[Found, ...]:
    """The kinds that have all the words typed, each as far as it is typed; numbers are not looked for.

    Those whose title or one of whose ways says it come alone, the title first; without any, all that have the words.
    `most`: ways of each.
    """
    words = [word for word in typed.lower().split() if word not in NUMBER_WORDS and not word[:1].isdigit()]
    if not words:
        return tuple(Found(one.title, one.examples[:most]) for one in known)
    found = [(_in_its_title(one, words), _close(one, words), one) for one in known if _has(one.words, words)]
    nearest = [each for each in found if each[0] or each[1]] or found
    nearest.sort(key=lambda each: -each[0])
    return tuple(Found(one.title, tuple(dict.fromkeys((*close, *one.examples)))[:most]) for _, close, one in nearest)


def _in_its_title(one: HowSaid, words: Sequence[str]) -> int:
    """How much of what is typed stands in the title: a whole word counts twice, a letter or two not at all."""
    title = one.title.lower().split()
    return sum((word in title) + (len(word) >= LONG_ENOUGH and _has(title, [word])) for word in words)


def _close(one: HowSaid, words: Sequence[str]) -> tuple[str, ...]:
    """The ways of saying it that have all the words, the shortest first."""
    return tuple(way for way in one.ways if _has(way.split(), words))


def _has(said: Sequence[str] | frozenset[str], words: Sequence[str]) -> bool:
    return all(any(one.startswith(word) for one in said) for word in words)


def _how_said(phrases: Phrases, kind: Kind) -> HowSaid:
    each = [
        sorted((_filled(phrases, way) for way in strings(one.node)), key=len)
        for one in phrases.templates
        if one.kind is kind
    ]
    speech = phrases.procedure.speech or Words()
    frames = [frame for frame in speech.frame if frame.kind == kind.id and not (frame.asks or frame.after)]
    sentences = [said for frame in frames if (said := _sentence(phrases, speech, frame)) is not None]
    shortest = [said[0] for said in each]
    sentences = [said for said in sentences if not any(one.startswith(said) for one in shortest)]
    listed = tuple(dict.fromkeys((*shortest, *sentences)))
    every = sorted({way for said in each for way in said} | set(sentences), key=len)
    words = {word for way in every for word in way.split()} | set(kind.title.lower().split())
    return HowSaid(kind.title, listed, tuple(every), frozenset(words | _named(phrases, speech, kind, frames)))


def _filled(phrases: Phrases, way: Sequence[str]) -> str:
    """With something in each open place: the first thing that may stand there, or any number."""
    return " ".join(word for part in way for word in _in_the_place(phrases, part))


def _in_the_place(phrases: Phrases, part: str) -> tuple[str, ...]:
    if not part.startswith("{"):
        return (part,)
    choices = phrases.choices.get(part.strip("{}!"))
    return (ANY_NUMBER,) if choices is None else next(strings(next(iter(choices.values()))))


def _sentence(phrases: Phrases, speech: Words, frame: Frame) -> str | None:
    """The ideas that a frame needs, in its order; None if that is not understood as its kind."""
    said = [next(_ways_of(speech, need.split("|")[0]), None) for need in frame.needs]
    if None in said:  # a question or a denial
        return None
    words = " ".join(filter(None, said))
    meaning = understand(phrases, " ".join((words, *map(str, _numbers(phrases, frame)))))
    items = meaning.items if isinstance(meaning, Understood) else ()
    fits = len(items) == 1 and isinstance(items[0], Entry) and items[0].kind == frame.kind
    return " ".join((words, *(ANY_NUMBER for _ in frame.numbers))) if fits else None


def _numbers(phrases: Phrases, frame: Frame) -> Iterator[int]:
    """A number from the middle of what may be said in each of its slots."""
    for name in frame.numbers:
        slot = phrases.number_slot(name)
        assert slot is not None
        yield int(sum(slot.said) // 2)


def _ways_of(speech: Words, idea: str) -> Iterator[str]:
    """How an idea, or the first of a group, may be said."""
    group, _, member = idea.partition(".")
    said = speech.says.get(group, "")
    yield from ways(said.get(member) or next(iter(said.values())) if isinstance(said, dict) else said)


def _named(phrases: Phrases, speech: Words, kind: Kind, frames: Sequence[Frame]) -> set[str]:
    """The words of all things that may be named in it, and of all ideas that it needs."""
    slots = {part.strip("{}!") for one in phrases.templates if one.kind is kind for part in one.text.split()}
    choices = (node for slot in slots for node in phrases.choices.get(slot, {}).values())
    needs = {need.partition(".")[0] for frame in frames for each in frame.needs for need in each.split("|")}
    ideas = (speech.says.get(need, "") for need in needs)
    said = [text for idea in ideas for text in (idea.values() if isinstance(idea, dict) else (idea,))]
    return {word for node in choices for way in strings(node) for word in way} | {
        word for text in said for way in ways(text) for word in way.split()
    }
