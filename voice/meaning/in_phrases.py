"""The words of an utterance read strictly by the definition's phrases, and what is doubtful about them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from log.basics.entry import Entry, Question
from log.basics.units import in_the_room
from voice.english.numbers import (
    LONGEST,
    NUMBER_WORDS,
    WITHIN_A_NUMBER,
    Contradiction,
    Number,
    parse,
    sound_alikes,
)
from voice.english.small_words import JOINING
from voice.meaning.doubt import Doubt
from voice.phrases.phrases import UNIT_OF, Phrases, Template, fixed_fields, logged_value
from voice.templates.expression import Choice, Node, Sequence, SlotNode, Word


class _Match(NamedTuple):
    """One template read from one place of the utterance."""

    end: int
    fields: Mapping[str, object] = MappingProxyType({})
    others: tuple[tuple[str, Number], ...] = ()
    """Further values that one of its numbers could have, each with its field."""
    doubts: tuple[Doubt, ...] = ()


def all_of(phrases: Phrases, templates: tuple[Template, ...], words: tuple[str, ...]) -> Entry | Question | None:
    """The entry that all these words are by one of the templates."""
    found = dict.fromkeys(
        _item(phrases, template, match)
        for template in templates
        for match in _match(phrases, template.said, words, _Match(0))
        if 0 < match.end == len(words)
    )
    return _one_of(tuple(found)) if found else None


Items = tuple[Entry | Question, ...]


@dataclass(frozen=True, slots=True)
class _Rest:
    """The best ways to read the words from one place to the end: fewest doubts, then fewest entries."""

    doubts: int
    entries: int
    items: tuple[Items, ...]
    """For every entry in turn: what it could be, alike in all of them if there is no choice."""


def read_phrases(phrases: Phrases, words: tuple[str, ...]) -> Items | None:
    """The one way to read all the words, with questions where there are several; None if there is none."""
    if not phrases.vocabulary.issuperset(word for word in words if word not in JOINING):
        return None
    rests = {len(words): _Rest(0, 0, ())}
    for start, pieces in reversed(_pieces(phrases, words).items()):
        for end, piece in pieces:
            rest = rests.get(end)
            if rest is not None:
                longer = _put_before(piece, rest)
                rests[start] = _better(rests[start], longer) if start in rests else longer
    best = rests.get(0)
    return None if best is None else tuple(_one_of(items) for items in best.items)


_Piece = tuple[Entry | Question, int] | None
"""An entry with the number of its doubts, or a word without meaning."""


def _pieces(phrases: Phrases, words: tuple[str, ...]) -> dict[int, tuple[tuple[int, _Piece], ...]]:
    """For every place where an entry may begin, in order: where what can be read there ends, and what it is."""
    found: dict[int, tuple[tuple[int, _Piece], ...]] = {}
    reached, said = {0}, frozenset(words)
    for start, word in enumerate(words):
        if start not in reached:
            continue
        here: dict[tuple[int, _Piece], None] = {}
        if word in phrases.procedure.fillers or (start > 0 and word in JOINING):
            here[start + 1, None] = None
        for template in phrases.entries_from(word):
            if not template.needed <= said:
                continue
            for match in _match(phrases, template.said, words, _Match(start)):
                if template.say.alone and _stands_in_a_sentence(phrases, words, start, match.end):
                    continue
                if match.end > start and not _only_its_unit_would_say(template, match):
                    cuts = tuple(_UNCLEAR_CUT for at in (start, match.end) if _cuts_a_number(words, at))
                    match = match._replace(doubts=(*match.doubts, *cuts))
                    here[match.end, (_item(phrases, template, match), len(match.doubts))] = None
        found[start] = tuple(here)
        reached |= {end for end, _ in here}
    return found


def _stands_in_a_sentence(phrases: Phrases, words: tuple[str, ...], start: int, end: int) -> bool:
    return any(word not in phrases.procedure.fillers for word in (*words[:start], *words[end:]))


def _only_its_unit_would_say(template: Template, match: _Match) -> bool:
    """A number alone is what its unit says: "one hundred micrograms" is no pressure in the wrong unit."""
    return isinstance(template.node, SlotNode) and any(doubt.why == "other unit" for doubt in match.doubts)


_UNCLEAR_CUT = Doubt("numbers run together", "two numbers stand side by side: where one ends is not clear")


def _cuts_a_number(words: tuple[str, ...], at: int) -> bool:
    return 0 < at < len(words) and words[at - 1] in NUMBER_WORDS and words[at] in NUMBER_WORDS


def _put_before(piece: _Piece, rest: _Rest) -> _Rest:
    if piece is None:
        return rest
    item, doubts = piece
    return _Rest(rest.doubts + doubts, rest.entries + 1, ((item,), *rest.items))


def _better(one: _Rest, other: _Rest) -> _Rest:
    if (one.doubts, one.entries) != (other.doubts, other.entries):
        return min(one, other, key=lambda rest: (rest.doubts, rest.entries))
    items = tuple(tuple(dict.fromkeys(a + b)) for a, b in zip(one.items, other.items, strict=True))
    return _Rest(one.doubts, one.entries, items)


def _one_of(items: Items) -> Entry | Question:
    if len(items) == 1:
        return items[0]
    candidates = tuple(dict.fromkeys(c for i in items for c in (i.candidates if isinstance(i, Question) else (i,))))
    return Question(candidates=candidates, why="two readings", text="these words can be read in more than one way")


def _match(phrases: Phrases, node: Node, words: tuple[str, ...], so_far: _Match) -> Iterator[_Match]:
    match node:
        case Word(text):
            if so_far.end < len(words) and words[so_far.end] == text:
                yield _Match(so_far.end + 1, so_far.fields, so_far.others, so_far.doubts)
        case Sequence(items):
            yield from _match_all(phrases, items, words, so_far)
        case Choice(items):
            following = words[so_far.end] if so_far.end < len(words) else None
            for item in items:
                if not isinstance(item, Word) or item.text == following:
                    yield from _match(phrases, item, words, so_far)
        case SlotNode(name, unit_required):
            if name in phrases.choices:
                yield from _match_choice(phrases, name, words, so_far)
            else:
                yield from _match_number(phrases, name, unit_required, words, so_far)


def _match_all(phrases: Phrases, items: tuple[Node, ...], words: tuple[str, ...], so_far: _Match) -> Iterator[_Match]:
    if not items:
        yield so_far
        return
    for first in _match(phrases, items[0], words, so_far):
        yield from _match_all(phrases, items[1:], words, first)


def _match_choice(phrases: Phrases, name: str, words: tuple[str, ...], so_far: _Match) -> Iterator[_Match]:
    gives = phrases.choice_slot(name).gives
    for value, node in phrases.choices[name].items():
        for found in _match(phrases, node, words, so_far):
            yield _Match(found.end, {**found.fields, gives: value}, found.others, found.doubts)


def _match_number(
    phrases: Phrases, name: str, unit_required: bool, words: tuple[str, ...], so_far: _Match
) -> Iterator[_Match]:
    """A number and its unit. A number that cannot be, or a unit that is another's, is read with a doubt."""
    slot = phrases.number_slot(name)
    assert slot is not None
    for end in range(so_far.end + 1, min(so_far.end + LONGEST, len(words)) + 1):
        spoken = words[so_far.end : end]
        if spoken[-1] not in WITHIN_A_NUMBER:
            break
        reading = parse(spoken)
        if reading is None:
            continue
        low, high = slot.said
        unit = in_the_room(slot.unit)
        others: tuple[Number, ...]
        if isinstance(reading, Contradiction):
            said, others = reading.digits, (reading.natural,)
            doubts = (*so_far.doubts, digits_disagree(reading))
        else:
            said, others, doubts = reading.value, sound_alikes(spoken), so_far.doubts
        if not low <= said <= high or (not slot.halves and said != int(said)):
            outside = f"{said:g} is outside what can be said here ({low:g} to {high:g})"
            doubts = (*doubts, Doubt("out of range", outside))
        others = tuple(other for other in others if low <= other <= high)
        fields = {**so_far.fields, slot.gives: logged_value(slot, said), UNIT_OF[slot.gives]: unit}
        alike = ((slot.gives, logged_value(slot, other)) for other in others)
        found = _Match(end, fields, (*so_far.others, *alike), doubts)
        yield from _with_unit(phrases, name, unit_required, words, found)


def _with_unit(
    phrases: Phrases, name: str, unit_required: bool, words: tuple[str, ...], found: _Match
) -> Iterator[_Match]:
    own, slot = phrases.units[name], phrases.number_slot(name)
    assert slot is not None
    if not unit_required or own is None:
        yield found
    if own is not None:
        yield from _match(phrases, own, words, found)
    if own is None or found.end == len(words) or words[found.end] not in phrases.unit_words:
        return
    for node in phrases.units.values():
        if node is None or node == own:
            continue
        for wrong in _match(phrases, node, words, found):
            unit = " ".join(words[found.end : wrong.end])
            logged_in = found.fields[UNIT_OF[slot.gives]]
            other = Doubt("other unit", f'"{unit}" was said, but this is logged in {logged_in}; nothing is converted')
            yield _Match(wrong.end, wrong.fields, wrong.others, (*wrong.doubts, other))
            break


def _item(phrases: Phrases, template: Template, match: _Match) -> Entry | Question:
    fields = {**{k: v for k, v in fixed_fields(phrases, template).items() if v is not None}, **match.fields}
    entry = Entry.model_validate({"kind": template.kind.id, **fields})
    candidates = (entry, *(entry.model_copy(update={field: other}) for field, other in match.others))
    if match.doubts:
        return asked(candidates, match.doubts)
    return asked_alike(candidates) if len(candidates) > 1 else entry


def asked(candidates: tuple[Entry, ...], doubts: tuple[Doubt, ...]) -> Question:
    return Question(candidates=candidates, why=doubts[0].why, text="; ".join(doubt.text for doubt in doubts))


def asked_alike(candidates: tuple[Entry, ...]) -> Question:
    """Of entries that differ in their numbers only."""
    numbers = (dict.fromkeys(one.number for one in candidates), dict.fromkeys(one.second for one in candidates))
    alike = (" and ".join(f"{number:g}" for number in each if number is not None) for each in numbers if len(each) > 1)
    text = "; ".join(f"{each} sound alike" for each in alike)
    return Question(candidates=candidates, why="sound alike", text=text)


def digits_disagree(pair: Contradiction) -> Doubt:
    return Doubt("digits disagree", f"the number was {pair.natural:g}, its digits {pair.digits:g}")


def reads_as(phrases: Phrases, node: Node, words: tuple[str, ...]) -> bool:
    """Whether a phrase is all that these words say."""
    return any(match.end == len(words) for match in _match(phrases, node, words, _Match(0)))
