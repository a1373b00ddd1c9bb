"""From words to meaning: which entries were said, which have to be asked, and what could not be understood.

The words are first read strictly by the definition's phrases, then by its frames. No word is taken for another that it
resembles: one that nobody knows is asked about or left, for adrenaline is two letters from another drug.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from log.basics.entry import QUERIES, Entry, Meaning, NotUnderstood, Question, Understood, Why
from log.basics.errors import InputError
from log.basics.units import in_the_room
from voice.english.numbers import (
    LONGEST,
    NUMBER_WORDS,
    WITHIN_A_NUMBER,
    Contradiction,
    Number,
    Reading,
    parse,
    sound_alikes,
)
from voice.english.small_words import JOINING
from voice.meaning.frames.lexicon import GUARDS
from voice.meaning.frames.understand import by_frames
from voice.meaning.lead_word import after_hesitations, after_lead_word
from voice.meaning.normalise import PAUSE, nearest, normalise, sentence
from voice.phrases.phrases import UNIT_OF, Phrases, Template, fixed_fields, logged_value
from voice.templates.expression import Choice, Node, Sequence, SlotNode, Word

MOST_WORDS = 200
"""More words than this are no breath but a page pasted by mistake."""


@dataclass(frozen=True, slots=True)
class Listening:
    """How an utterance is listened to: what it may be, at the moment at which it is said."""

    lead_word: str | None = None
    """The word that has to come first, or None where every utterance is meant for the log."""
    question_open: bool = False
    """A question is open, so that "confirm" or a bare number is an answer."""
    number_due: bool = False
    """Only a number can be meant."""
    in_talk: bool = False
    """Neither a lead word nor a key says that something is meant for the log: most of what is heard is talk."""


ALWAYS = Listening()


class _Doubt(NamedTuple):
    """One reason to ask, for code and for people."""

    why: Why
    text: str


@dataclass(frozen=True, slots=True)
class _Match:
    """One template read from one place of the utterance."""

    end: int
    fields: dict[str, object] = field(default_factory=dict)
    others: tuple[tuple[str, Number], ...] = ()
    """Further values that one of its numbers could have, each with its field."""
    doubts: tuple[_Doubt, ...] = ()


def understand(phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening = ALWAYS) -> Meaning:
    """What was meant by these words.

    `spoken`: recognised words, or text as typed; figures are read digit by digit ("50" is "five zero").
    """
    words = normalise(phrases, spoken)
    if len(words) > MOST_WORDS:
        return NotUnderstood(heard=" ".join(words))
    if listening.number_due:
        return _number_only(words)
    answer = _answer(phrases, words, listening) if listening.question_open else None
    if answer is not None:
        return Understood(items=(answer,))
    addressed = _addressed(phrases, words, listening)
    if not addressed and (cry := _urgent(phrases, words)) is not None:
        return Understood(items=(cry,))
    if not addressed:
        return NotUnderstood(heard=" ".join(words))
    for attempt in addressed:
        if items := _read(phrases, attempt):
            return Understood(items=items)
    return _beyond_phrases(phrases, spoken, addressed, listening)


def _framed(phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening) -> Meaning:
    if phrases.procedure.speech is None:
        return NotUnderstood(heard="")
    return by_frames(phrases, _without_lead_word(phrases, sentence(spoken, phrases.words), listening))


def _beyond_phrases(
    phrases: Phrases, spoken: str | tuple[str, ...], addressed: tuple[tuple[str, ...], ...], listening: Listening
) -> Meaning:
    """What is no phrase: what its frames say, or nothing, with the phrases that come closest."""
    if any(_is_overheard(phrases, attempt) for attempt in addressed):
        return NotUnderstood(heard=" ".join(addressed[0]), why="order")
    framed = _framed(phrases, spoken, listening)
    if isinstance(framed, Understood):
        return framed
    helps = () if framed.why in GUARDS else nearest(phrases, addressed[0])  # no wording makes an entry of a question
    return NotUnderstood(heard=" ".join(addressed[0]), nearest=helps, why=framed.why)


def _is_overheard(phrases: Phrases, words: tuple[str, ...]) -> bool:
    """Whether all of it is one of the phrases that the definition knows to be no entry."""
    if not phrases.vocabulary.issuperset(words):
        return False
    said = after_hesitations(phrases.procedure, words)
    return any(match.end == len(said) for node in phrases.overheard for match in _match(phrases, node, said, _Match(0)))


def _without_lead_word(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> tuple[str, ...]:
    lead = listening.lead_word or phrases.procedure.lead_word
    rest = after_lead_word(phrases.procedure, tuple(word for word in words if word != PAUSE), lead)
    return words[words.index(lead) + 1 :] if rest is not None else words


def settled(meaning: Meaning) -> Meaning:
    """The meaning where what was heard is beyond doubt: fifteen was not fifty. Other questions stay."""
    if isinstance(meaning, NotUnderstood):
        return meaning
    return Understood(items=tuple(_settled(item) for item in meaning.items))


def _settled(item: Entry | Question) -> Entry | Question:
    if isinstance(item, Entry):
        return item
    return item.candidates[0] if item.why == "sound alike" else item


def asked_of_the_log(meaning: Meaning) -> tuple[str, ...]:
    """The kinds of what was asked of the log itself: "say again", "status", "how long"."""
    items = meaning.items if isinstance(meaning, Understood) else ()
    entries = (item.candidates[0] if isinstance(item, Question) else item for item in items)
    return tuple(entry.kind for entry in entries if entry.kind in QUERIES)


def one_entry(phrases: Phrases, text: str) -> Entry:
    """The one entry that typed words say; whoever types is not asked about sound-alikes. Raises InputError."""
    meaning = understand(phrases, text)
    items = meaning.items if isinstance(meaning, Understood) else ()
    if len(items) != 1:
        raise InputError(f'"{text}" is not one entry', "see what can be said: tamponade procedures phrases")
    item = _settled(items[0])
    if isinstance(item, Question):
        raise InputError(f'"{text}" is not clear: {item.text}', "write it so that it can be read in one way only")
    entry = item
    kind = phrases.procedure.kind_named(entry.kind)
    if kind is None or kind.role == "command":
        raise InputError(f'"{text}" is a command, not an entry', "say what should stand in the log")
    return entry


def _addressed(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> tuple[tuple[str, ...], ...]:
    """The words that are meant for the log, as they may be read; none if the lead word is wanted and missing.

    The lead word may itself be the first word of a phrase ("log the time").
    """
    lead = listening.lead_word or phrases.procedure.lead_word
    rest = after_lead_word(phrases.procedure, words, lead)
    if rest is not None:
        return rest, (lead, *rest)
    return (words,) if listening.lead_word is None else ()


def _urgent(phrases: Phrases, words: tuple[str, ...]) -> Entry | Question | None:
    """What is heard without the lead word, if it is all that was said."""
    return _all_of(phrases, phrases.urgent, after_hesitations(phrases.procedure, words))


def _answer(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> Entry | Question | None:
    """An answer to an open question: it needs no lead word, but has to be all that was said."""
    procedure = phrases.procedure
    rest = after_lead_word(procedure, words, listening.lead_word or procedure.lead_word)
    return _all_of(phrases, phrases.answers, after_hesitations(procedure, words) if rest is None else rest)


def _all_of(phrases: Phrases, templates: tuple[Template, ...], words: tuple[str, ...]) -> Entry | Question | None:
    """What all these words say by one of the templates."""
    found = dict.fromkeys(
        _item(phrases, template, match)
        for template in templates
        for match in _match(phrases, template.said, words, _Match(0))
        if 0 < match.end == len(words)
    )
    return _one_of(tuple(found)) if found else None


def _number_only(words: tuple[str, ...]) -> Meaning:
    reading = parse(words)
    match reading:
        case Reading(value):
            entry = Entry(kind="number", value=value)
            candidates = (entry, *(Entry(kind="number", value=other) for other in sound_alikes(words)))
            return Understood(items=(_asked_alike(candidates) if len(candidates) > 1 else entry,))
        case Contradiction(natural, digits):
            both = (Entry(kind="number", value=digits), Entry(kind="number", value=natural))
            return Understood(items=(_asked(both, (_digits_disagree(reading),)),))
        case None:
            return NotUnderstood(heard=" ".join(words))


Items = tuple[Entry | Question, ...]


@dataclass(frozen=True, slots=True)
class _Rest:
    """The best ways to read the words from one place to the end: fewest doubts, then fewest entries."""

    doubts: int
    entries: int
    items: tuple[Items, ...]
    """For every entry in turn: what it could be, alike in all of them if there is no choice."""


def _read(phrases: Phrases, words: tuple[str, ...]) -> Items | None:
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
    reached = {0}
    for start, word in enumerate(words):
        if start not in reached:
            continue
        here: dict[tuple[int, _Piece], None] = {}
        if word in phrases.procedure.fillers or (start > 0 and word in JOINING):
            here[start + 1, None] = None
        for template in phrases.entries_from(word):
            for match in _match(phrases, template.said, words, _Match(start)):
                if template.say.alone and _stands_in_a_sentence(phrases, words, start, match.end):
                    continue
                if match.end > start:
                    cuts = tuple(_UNCLEAR_CUT for at in (start, match.end) if _cuts_a_number(words, at))
                    match = replace(match, doubts=(*match.doubts, *cuts))
                    here[match.end, (_item(phrases, template, match), len(match.doubts))] = None
        found[start] = tuple(here)
        reached |= {end for end, _ in here}
    return found


def _stands_in_a_sentence(phrases: Phrases, words: tuple[str, ...], start: int, end: int) -> bool:
    return any(word not in phrases.procedure.fillers for word in (*words[:start], *words[end:]))


_UNCLEAR_CUT = _Doubt("numbers run together", "two numbers stand side by side: where one ends is not clear")


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
            if not items:
                yield so_far
                return
            for first in _match(phrases, items[0], words, so_far):
                yield from _match(phrases, Sequence(items[1:]), words, first)
        case Choice(items):
            for item in items:
                yield from _match(phrases, item, words, so_far)
        case SlotNode(name, unit_required):
            if name in phrases.choices:
                yield from _match_choice(phrases, name, words, so_far)
            else:
                yield from _match_number(phrases, name, unit_required, words, so_far)


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
            doubts = (*so_far.doubts, _digits_disagree(reading))
        else:
            said, others, doubts = reading.value, sound_alikes(spoken), so_far.doubts
        if not low <= said <= high or (not slot.halves and said != int(said)):
            outside = f"{said:g} is outside what can be said here ({low:g} to {high:g})"
            doubts = (*doubts, _Doubt("out of range", outside))
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
    for node in phrases.units.values():
        if node is None or node == own or own is None:
            continue
        for wrong in _match(phrases, node, words, found):
            unit = " ".join(words[found.end : wrong.end])
            logged_in = found.fields[UNIT_OF[slot.gives]]
            other = _Doubt("other unit", f'"{unit}" was said, but this is logged in {logged_in}; nothing is converted')
            yield _Match(wrong.end, wrong.fields, wrong.others, (*wrong.doubts, other))
            break


def _item(phrases: Phrases, template: Template, match: _Match) -> Entry | Question:
    fields = {**{k: v for k, v in fixed_fields(phrases, template).items() if v is not None}, **match.fields}
    entry = Entry.model_validate({"kind": template.kind.id, **fields})
    candidates = (entry, *(entry.model_copy(update={field: other}) for field, other in match.others))
    if match.doubts:
        return _asked(candidates, match.doubts)
    return _asked_alike(candidates) if len(candidates) > 1 else entry


def _asked(candidates: tuple[Entry, ...], doubts: tuple[_Doubt, ...]) -> Question:
    return Question(candidates=candidates, why=doubts[0].why, text="; ".join(doubt.text for doubt in doubts))


def _asked_alike(candidates: tuple[Entry, ...]) -> Question:
    """Of entries that differ in their numbers only."""
    numbers = (dict.fromkeys(one.number for one in candidates), dict.fromkeys(one.second for one in candidates))
    alike = (" and ".join(f"{number:g}" for number in each if number is not None) for each in numbers if len(each) > 1)
    text = "; ".join(f"{each} sound alike" for each in alike)
    return Question(candidates=candidates, why="sound alike", text=text)


def _digits_disagree(pair: Contradiction) -> _Doubt:
    return _Doubt("digits disagree", f"the number was {pair.natural:g}, its digits {pair.digits:g}")
