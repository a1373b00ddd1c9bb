"""The words of a definition and of its language in one table: phrase -> the ideas it may stand for, as bits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, reduce
from operator import or_

from log.basics.errors import InputError
from log.definition.frames import Frame, Words, ways
from log.definition.slots import NumberSlot
from voice.english import comments, guards, harmless, talk
from voice.english.units import UNITS_HEARD
from voice.meaning.frames.problems import frame_problems
from voice.phrases.phrases import CHECK, Phrases

HARMLESS = 1
GUARDS: tuple[guards.Guard, ...] = (
    "order",
    "question",
    "not",
    "condition",
    "plan",
    "past",
    "elsewhere",
    "unsure",
    "nearly",
)
GUARD_BIT = {guard: 2 << place for place, guard in enumerate(GUARDS)}
ANY_GUARD = sum(GUARD_BIT.values())
FIRST_IDEA = 2 << len(GUARDS)

ANY_NUMBER = "#"


@dataclass(frozen=True, slots=True)
class Lay:
    """A frame ready to be laid over words."""

    frame: Frame
    needs: tuple[int, ...]
    """Bits of which one is needed, for each need."""
    allowed: int
    against: int
    slots: tuple[NumberSlot, ...]
    other_slots: tuple[NumberSlot, ...]
    groups: tuple[tuple[str, int, tuple[tuple[int, str], ...]], ...]
    """Field, bits of the group that fills it, (bit, member) of each of its members."""
    site: int
    """Bits of the group that fills its site; 0 if it is fixed or none."""
    also: Lay | None = None
    """The frame of a second entry that its words may hold besides."""


@dataclass(frozen=True, eq=False)
class Lexicon:
    """Everything that a definition can understand beside its phrases."""

    meanings: dict[str, int]
    """Phrase -> bits of what it may stand for, as it is listed; `means` knows what its words say besides."""
    known: frozenset[str]
    """Every word that stands in a phrase."""
    longest: dict[str, int]
    """First word -> number of words of the longest phrase that begins with it."""
    lays: tuple[Lay, ...]
    units: dict[str, tuple[str, float]]
    """Spoken unit -> (UCUM code, factor)."""
    things: int
    """Bits of the ideas that are things."""
    names: int
    """Bits of the drugs and what looks like them."""
    nouns: int
    """Bits of the things, and of a balloon."""
    given: int
    """Bits of drugs and fluids, which have a strength."""
    sites: int
    """Bits of the balloons."""
    clamp: int
    """Bits of a clamp."""
    way_in: int
    """Bits of going in."""
    seen: int
    """Bits of what somebody has rather than does: "has a trace", "has blood in it"."""
    queries: int
    """Bits of what is asked of the log itself."""
    put: int
    """Bits of putting in."""
    took: int
    """Bits of taking out."""
    moving: int
    """Bits of what moves an amount or changes a state: put, took, up, down."""
    level: int
    """Bits of standing at a number."""
    against: int
    """Bits of what speaks against some frame and for none."""
    added: int
    """Bits of air that was added."""
    total: int
    """Bits of an amount in all."""
    ideas: dict[str, int]
    """Idea -> its bit."""
    groups: tuple[int, ...] = ()
    """Bits of the members of each group."""
    _found: dict[str, int] = field(default_factory=dict)

    def means(self, way: str) -> int | None:
        """Bits of what a phrase may stand for, by itself and by its words; None where it is not known."""
        found = self._found.get(way)
        if found is None and (listed := self.meanings.get(way)) is not None:
            found = listed if listed & ANY_GUARD or " " not in way else self._within(way)
            if self.is_loose(way):
                found |= _word_by_word(self.meanings, way) & ~ANY_GUARD
            found &= ~self._other_members(listed)
            self._found[way] = found
        return found

    def _other_members(self, listed: int) -> int:
        """Bits of what a phrase is not: "radiology registrar" is a registrar and no radiologist."""
        return reduce(or_, (group & ~listed for group in self.groups if group & listed), 0)

    def is_loose(self, way: str) -> bool:
        """Whether it is a phrase whose words all mean something alone."""
        listed = self.meanings.get(way, HARMLESS)
        if " " not in way or listed == HARMLESS or listed & (ANY_GUARD | self.against):
            return False
        return all(map(self.meanings.__contains__, way.split()))

    def _within(self, way: str) -> int:
        """The meaning of a phrase that begins or ends with a word that means nothing: "is in place" is "in place"."""
        found = self.meanings[way]
        if " " not in way or found & ANY_GUARD:
            return found
        first, rest = way.split(" ", 1)
        start, last = way.rsplit(" ", 1)
        for word, other in ((first, rest), (last, start)):
            if self.meanings.get(word, 0) & HARMLESS and not self.meanings.get(other, ANY_GUARD) & ANY_GUARD:
                found |= self._within(other) & ~HARMLESS
        return found


class _Table:
    """The table while it is filled: the bits of ideas, and what ways of saying them may mean."""

    def __init__(self, spellings: Mapping[str, str]) -> None:
        self.meanings: dict[str, int] = {}
        self.bits: dict[str, int] = {}
        self.members: dict[str, dict[str, int]] = {}
        self._spellings = spellings
        self._odd = frozenset(["the", *spellings, *talk.CONTRACTIONS])

    def say(self, said: Iterable[str], meaning: int) -> None:
        """That these ways of saying may mean this."""
        meanings = self.meanings
        odd = self._odd
        for way in said:
            if way.isalpha() and way not in odd and "nae" not in way:
                meanings[way] = meanings.get(way, 0) | meaning
                continue
            words = way.split()
            if "'" in way or "nae" in way or not self._odd.isdisjoint(words):
                words = list(talk.spelled_out(tuple(self._spellings.get(word, word) for word in words))) or words
            if meaning >= FIRST_IDEA and words[0] in talk.LEADING and not self._is_harmless(words[1:]):
                del words[0]
            way = " ".join(words)
            meanings[way] = meanings.get(way, 0) | meaning

    def _is_harmless(self, words: list[str]) -> bool:
        """Whether nothing is left that means anything: "is now" without "is"."""
        return all(self.meanings.get(word, 0) & HARMLESS for word in words)

    def say_ideas(self, says: Mapping[str, str | dict[str, str]]) -> None:
        """The ideas of a definition, each with its bit."""
        for idea, text in says.items():
            for member, said in text.items() if isinstance(text, dict) else ((None, text),):
                bit = FIRST_IDEA << len(self.bits)
                self.bits[idea if member is None else f"{idea}.{member}"] = bit
                if member is not None:
                    self.members.setdefault(idea, {})[member] = bit
                self.say(ways(said), bit)

    def known(self) -> dict[str, int]:
        """Every idea, group and guard -> its bits."""
        groups = {group: sum(each.values()) for group, each in self.members.items()}
        return {**self.bits, **groups, **{str(guard): one for guard, one in GUARD_BIT.items()}}


@cache
def lexicon(phrases: Phrases) -> Lexicon:
    """The table of one definition; made once. Raises InputError for frames that name what is not there."""
    for path, text in frame_problems(phrases.procedure):
        raise InputError(f"{phrases.procedure.id}: {path}: {text}", CHECK)
    speech = phrases.procedure.speech or Words()
    table = _Table(speech.spellings)
    guarding = frozenset().union(*guards.GUARD_WORDS.values())
    table.say((harmless.HARMLESS | frozenset(phrases.procedure.fillers)) - guarding, HARMLESS)
    table.say(comments.COMMENTS, HARMLESS)
    for guard in GUARDS:
        table.say((*guards.GUARD_WORDS.get(guard, ()), *guards.GUARD_PHRASES.get(guard, ())), GUARD_BIT[guard])
    table.say_ideas(speech.says)
    for word in harmless.PLAIN:
        table.meanings.setdefault(word, HARMLESS)
    known = table.known()
    lays = _lays(phrases, speech.frame, known, table.members)
    units = {way: unit for unit, text in UNITS_HEARD.items() for way in ways(text)}
    return Lexicon(
        meanings=table.meanings,
        known=frozenset(" ".join((*table.meanings, *units)).split()),
        longest=_longest((*table.meanings, *units)),
        lays=lays,
        units=units,
        things=_mask(known, "|".join(speech.things)) if speech.things else 0,
        names=known.get("drug", 0) | known.get("look_alike", 0),
        nouns=_mask(known, "|".join(speech.things)) | known.get("balloon", 0) if speech.things else 0,
        given=known.get("drug", 0) | known.get("fluid", 0),
        sites=known.get("site", 0),
        clamp=known.get("clamp", 0),
        way_in=known.get("into", 0),
        seen=sum(known.get(idea, 0) for idea in ("capnography", "bleeding", "resistance")),
        queries=reduce(or_, (lay.needs[0] for lay in lays if lay.frame.alone), 0),
        put=known.get("put", 0),
        took=known.get("took", 0),
        moving=sum(known.get(idea, 0) for idea in ("put", "took", "out", "up_word", "down_word", "off")),
        level=known.get("holds", 0) | known.get("reads", 0),
        against=reduce(or_, (lay.against for lay in lays), 0) & ~reduce(or_, (lay.allowed for lay in lays), 0),
        added=known.get("put", 0) | known.get("more", 0),
        total=known.get("total", 0),
        ideas=table.bits,
        groups=tuple(sum(members.values()) for members in table.members.values()),
    )


def _longest(known: Iterable[str]) -> dict[str, int]:
    longest: dict[str, int] = {}
    for phrase in known:
        length = phrase.count(" ") + 1
        first = phrase.partition(" ")[0] if length > 1 else phrase
        if longest.get(first, 0) < length:
            longest[first] = length
    return longest


def _word_by_word(meanings: dict[str, int], way: str) -> int:
    """The other meaning of a phrase: what all its words that mean anything may mean alone."""
    alone = [meanings.get(word, 0) for word in way.split()]
    if not all(alone):
        return 0
    telling = [meaning for meaning in alone if not meaning & HARMLESS]
    shared = -1
    for meaning in telling:
        shared &= meaning
    if not telling:
        shared = HARMLESS
        for meaning in alone:
            shared |= meaning
    return shared


def _mask(known: dict[str, int], ideas: str) -> int:
    mask = 0
    for idea in ideas.split("|"):
        mask |= known[idea]
    return mask


def _lays(
    phrases: Phrases, frames: tuple[Frame, ...], known: dict[str, int], members: dict[str, dict[str, int]]
) -> tuple[Lay, ...]:
    lays = {frame.id: _lay(phrases, frame, known, members) for frame in frames}
    return tuple(replace(lay, also=lays[also]) if (also := lay.frame.also) else lay for lay in lays.values())


def _lay(phrases: Phrases, frame: Frame, known: dict[str, int], members: dict[str, dict[str, int]]) -> Lay:
    needs = tuple(_mask(known, need) for need in frame.needs)
    allowed = HARMLESS
    for mask in (*needs, *(_mask(known, may) for may in frame.may)):
        allowed |= mask
    groups = tuple(
        (field, known[group], tuple((one, member) for member, one in members[group].items()))
        for field, group in frame.groups()
    )
    return Lay(
        frame,
        needs,
        allowed,
        _mask(known, "|".join(frame.against)) if frame.against else 0,
        tuple(_number_slot(phrases, name) for name in frame.numbers),
        tuple(_number_slot(phrases, name) for name in frame.units),
        groups,
        next((mask for field, mask, _ in groups if field == "site"), 0),
    )


def _number_slot(phrases: Phrases, name: str) -> NumberSlot:
    slot = phrases.number_slot(name)
    assert slot is not None
    return slot
