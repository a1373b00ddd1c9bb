"""The words of a definition and of its language in one table: phrase -> the ideas it may stand for, as bits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from log.definition.frames import Frame, ways
from log.definition.procedure import NumberSlot
from voice.english import guards, harmless, talk
from voice.english.units import UNITS_HEARD
from voice.phrases.phrases import Phrases

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
    slots: tuple[NumberSlot, ...]
    other_slots: tuple[NumberSlot, ...]
    groups: tuple[tuple[str, tuple[tuple[int, str], ...]], ...]
    """Field -> (bit, member) of the group that fills it."""
    site: int
    """Bits of the group that fills its site; 0 if it is fixed or none."""


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Everything that a definition can understand beside its phrases."""

    meanings: dict[str, int]
    """Phrase -> bits of what it may stand for."""
    longest: dict[str, int]
    """First word -> number of words of the longest phrase that begins with it."""
    lays: tuple[Lay, ...]
    units: dict[str, tuple[str, float]]
    """Spoken unit -> (UCUM code, factor)."""
    loose: frozenset[str]
    """Phrases whose words all mean something alone."""
    things: int
    """Bits of the ideas that are things."""
    sites: int
    """Bits of the balloons."""
    way_in: int
    """Bits of going in."""
    seen: int
    """Bits of what somebody has rather than does: "has a trace", "has blood in it"."""
    queries: int
    """Bits of what is asked of the log itself."""
    ideas: dict[str, int]
    """Idea -> its bit."""


@cache
def lexicon(phrases: Phrases) -> Lexicon:
    """The table of one definition; made once."""
    speech = phrases.procedure.speech
    bits: dict[str, int] = {}
    meanings: dict[str, int] = {}

    def bit(idea: str) -> int:
        return bits.setdefault(idea, FIRST_IDEA << len(bits))

    spellings = speech.spellings if speech else {}
    odd = frozenset(["the", *spellings, *talk.CONTRACTIONS])

    def say(way: str, meaning: int) -> None:
        if "'" in way or "nae" in way or not odd.isdisjoint(way.split()):
            way = " ".join(talk.spelled_out(tuple(spellings.get(word, word) for word in way.split()))) or way
        first, _, rest = way.partition(" ")
        way = rest if rest and first in talk.LEADING and meaning >= FIRST_IDEA else way
        meanings[way] = meanings.get(way, 0) | meaning

    guarding = frozenset().union(*guards.GUARD_WORDS.values())
    for word in (harmless.HARMLESS | frozenset(phrases.procedure.fillers)) - guarding:
        say(word, HARMLESS)
    for phrase in harmless.HARMLESS_PHRASES:
        say(phrase, HARMLESS)
    for guard in GUARDS:
        for word in (*guards.GUARD_WORDS.get(guard, ()), *guards.GUARD_PHRASES.get(guard, ())):
            say(word, GUARD_BIT[guard])
    members: dict[str, dict[str, int]] = {}
    for idea, text in (speech.says if speech else {}).items():
        if isinstance(text, str):
            for way in ways(text):
                say(way, bit(idea))
        else:
            for member, said in text.items():
                members.setdefault(idea, {})[member] = bit(f"{idea}.{member}")
                for way in ways(said):
                    say(way, bit(f"{idea}.{member}"))
    known = {**bits, **{group: sum(each.values()) for group, each in members.items()}}
    known |= {str(guard): one for guard, one in GUARD_BIT.items()}
    units = {way: unit for unit, text in UNITS_HEARD.items() for way in ways(text)}
    lays = tuple(_lay(phrases, frame, known, members) for frame in (speech.frame if speech else ()))
    loose = frozenset(
        way
        for way, meaning in meanings.items()
        if " " in way
        and not meaning & ANY_GUARD
        and meaning != HARMLESS
        and all(word in meanings for word in way.split())
    )
    for way in sorted(meanings, key=len):
        meanings[way] |= _within_harmless(meanings, way)
    for way in loose:
        meanings[way] |= _word_by_word(meanings, way) & ~ANY_GUARD
    longest: dict[str, int] = {}
    for phrase in (*meanings, *units):
        first, length = phrase.split()[0], len(phrase.split())
        longest[first] = max(longest.get(first, 0), length)
    things = _mask(known, "|".join(speech.things)) if speech and speech.things else 0
    sites = known.get("site", 0)
    queries = 0
    for lay in lays:
        queries |= lay.needs[0] if lay.frame.alone else 0
    seen = sum(known.get(idea, 0) for idea in ("capnography", "bleeding", "resistance"))
    return Lexicon(meanings, longest, lays, units, loose, things, sites, known.get("into", 0), seen, queries, bits)


def _within_harmless(meanings: dict[str, int], way: str) -> int:
    """What a phrase means that begins or ends with a word that means nothing: "is in place" is "in place"."""
    if " " not in way or meanings[way] & ANY_GUARD:
        return 0
    first, rest = way.split(" ", 1)
    start, last = way.rsplit(" ", 1)
    found = 0
    for word, other in ((first, rest), (last, start)):
        if meanings.get(word, 0) & HARMLESS and other in meanings and not meanings[other] & ANY_GUARD:
            found |= meanings[other]
    return found & ~HARMLESS


def _word_by_word(meanings: dict[str, int], way: str) -> int:
    """What a phrase may mean besides: what all its words that mean anything may mean alone."""
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


def _lay(phrases: Phrases, frame: Frame, known: dict[str, int], members: dict[str, dict[str, int]]) -> Lay:
    needs = tuple(_mask(known, need) for need in frame.needs)
    allowed = HARMLESS
    for mask in (*needs, *(_mask(known, may) for may in frame.may)):
        allowed |= mask
    groups = tuple(
        (field, tuple((one, member) for member, one in members[group].items())) for field, group in frame.groups()
    )
    return Lay(
        frame,
        needs,
        allowed,
        tuple(_number_slot(phrases, name) for name in frame.numbers),
        tuple(_number_slot(phrases, name) for name in frame.units),
        groups,
        next((sum(one for one, _ in each) for field, each in groups if field == "site"), 0),
    )


def _number_slot(phrases: Phrases, name: str) -> NumberSlot:
    slot = phrases.number_slot(name)
    assert slot is not None
    return slot


def frame_problems(phrases: Phrases) -> Iterator[tuple[str, str]]:
    """Frames that name an idea, a slot or a kind that is not there."""
    procedure, speech = phrases.procedure, phrases.procedure.speech
    if speech is None:
        return
    known = set(GUARD_BIT) | set(speech.says)
    for idea, text in speech.says.items():
        known |= {f"{idea}.{member}" for member in text} if isinstance(text, dict) else set()
    for frame in speech.frame:
        path = f"speech.frame.{frame.id}"
        if procedure.kind_named(frame.kind) is None:
            yield f"{path}.kind", f'no kind of entry is called "{frame.kind}"'
        for ideas in (*frame.needs, *frame.may):
            for idea in ideas.split("|"):
                if idea not in known:
                    yield path, f'nothing says "{idea}"'
        for name in (*frame.numbers, *frame.units):
            if not isinstance(procedure.slots.get(name), NumberSlot):
                yield path, f'no number slot is called "{name}"'
        for _, group in frame.groups():
            if not isinstance(speech.says.get(group), dict):
                yield path, f'no group of words is called "{group}"'
