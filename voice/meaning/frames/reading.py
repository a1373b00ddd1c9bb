"""The one way to lay frames over an utterance so that every word is explained, or a question, or nothing.

Frames are laid side by side over stretches of words; the cheapest way wins. A word that nothing explains costs, a word
that makes an order or a question of it costs everything. What costs is never logged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import NamedTuple

from log.basics.entry import Entry, Why
from log.basics.units import NO_UNIT, in_the_room
from log.definition.procedure import NumberSlot
from voice.english.numbers import Number
from voice.meaning.frames.lexicon import ANY_GUARD, FIRST_IDEA, GUARD_BIT, GUARDS, HARMLESS, Lay, Lexicon
from voice.meaning.frames.tokens import Amount, Token

UNEXPLAINED = 2.0
"""What a word costs that nobody explains; a number costs more, for it may be the one that counts."""
NUMBER_LEFT = 5.0
DOUBT = 3.0
LATER_FRAME = 0.25
"""Each further entry in a breath costs a little, so that one frame that explains all goes before two."""
NEED_MET = 0.02
IDEA_MET = 0.01
"""What a frame gains for every word that it explains, so that the one that explains more goes first."""
GUARDED = 100.0

MOST_TOKENS = 60
LONGEST_STRETCH = 24


class Doubt(NamedTuple):
    """One reason to ask, for code and for people."""

    why: Why
    text: str


@dataclass(frozen=True, slots=True)
class Laid:
    """A frame over a stretch of words."""

    lay: Lay
    candidates: tuple[Entry, ...]
    doubts: tuple[Doubt, ...]
    alike: bool
    """The candidates after the first only sound like it."""
    cost: float


@dataclass(frozen=True, slots=True)
class Reading:
    """The best way to read a whole utterance."""

    laid: tuple[tuple[Laid, ...], ...]
    """For every entry in turn the frames that explain it equally well."""
    cost: float
    unexplained: tuple[str, ...]
    guard: str | None
    """Why nothing of it is logged."""


def read(lexicon: Lexicon, found: tuple[Token, ...]) -> Reading | None:
    """The cheapest way to lay frames over these tokens; None where none lies at all."""
    if len(found) > MOST_TOKENS:
        return None
    lays = _possible(lexicon, found)
    whole = _best(lays, found, _cuts(found))
    if whole is None or whole.cost >= UNEXPLAINED:
        finer = _best(lays, found, frozenset(range(len(found) + 1)))
        if finer is not None and (whole is None or finer.cost < whole.cost):
            whole = finer
    return whole


def _possible(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Lay, ...]:
    """The frames whose needs are met somewhere in the utterance."""
    ideas = 0
    for token in found:
        ideas |= token.meaning
    return tuple(lay for lay in lexicon.lays if all(need & ideas for need in lay.needs))


def _cuts(found: tuple[Token, ...]) -> frozenset[int]:
    """Where one entry most likely ends: at pauses and joining words."""
    cuts = {0, len(found)}
    for place, token in enumerate(found):
        if token.is_pause or token.text in ("and", "then", "and then", "so", "with", "but", "plus"):
            cuts |= {place, place + 1}
    return frozenset(cuts)


@dataclass(frozen=True, slots=True)
class _Path:
    cost: float = 0.0
    laid: tuple[tuple[Laid, ...], ...] = ()
    unexplained: tuple[str, ...] = ()
    guards: int = 0


def _best(lays: tuple[Lay, ...], found: tuple[Token, ...], cuts: frozenset[int]) -> Reading | None:
    paths: dict[int, _Path] = {0: _Path()}
    for start in range(len(found)):
        path = paths.get(start)
        if path is None:
            continue
        _put(paths, start + 1, _skipped(path, found[start]))
        if start not in cuts:
            continue
        for end in range(start + 1, min(len(found), start + LONGEST_STRETCH) + 1):
            if end not in cuts:
                continue
            before = path.laid[-1][0] if path.laid else None
            for longer in _laid_over(lays, found[start:end], path, before, found[start - 1].is_pause):
                _put(paths, end, longer)
    last = paths.get(len(found))
    if last is None or not last.laid:
        return None
    guard = next((guard for guard in GUARDS if last.guards & GUARD_BIT[guard]), None)
    return Reading(last.laid, last.cost, last.unexplained, guard)


def _put(paths: dict[int, _Path], place: int, path: _Path) -> None:
    known = paths.get(place)
    if known is None or path.cost < known.cost - 1e-9:
        paths[place] = path
    elif path.cost <= known.cost + 1e-9 and len(path.laid) == len(known.laid) and path.laid:
        if path.laid[:-1] == known.laid[:-1] and path.laid[-1][0].candidates not in [o.candidates for o in known.laid[-1]]:
            paths[place] = replace(known, laid=(*known.laid[:-1], (*known.laid[-1], *path.laid[-1])))


def _skipped(path: _Path, token: Token) -> _Path:
    cost, guards, words = _left(token, HARMLESS)
    return _Path(path.cost + cost, path.laid, (*path.unexplained, *words), path.guards | guards)


def _left(token: Token, allowed: int) -> tuple[float, int, tuple[str, ...]]:
    """What a token costs that no frame takes: nothing, if it is harmless."""
    if token.amount is not None:
        return NUMBER_LEFT, 0, (token.text,)
    if token.meaning & allowed:
        return 0.0, 0, ()
    if token.meaning & ANY_GUARD:
        return GUARDED, token.meaning & ANY_GUARD, ()
    return UNEXPLAINED, 0, (token.text,)


def _laid_over(
    lays: tuple[Lay, ...], stretch: tuple[Token, ...], path: _Path, before: Laid | None, after_pause: bool
) -> Iterator[_Path]:
    ideas = 0
    for token in stretch:
        ideas |= token.meaning
    numbers = sum(1 for token in stretch if token.amount is not None)
    if ideas < FIRST_IDEA and not (numbers and before is not None):
        return
    for lay in lays:
        if lay.frame.after and (before is None or before.lay.frame.kind not in lay.frame.after):
            continue
        missing = sum(1 for need in lay.needs if not need & ideas)
        inherits = None
        if missing:
            inherits = before if before is not None and _may_inherit(lay, before, ideas, numbers) else None
            if inherits is None:
                continue
        if numbers < len(lay.slots) and lay.frame.counted:
            continue
        laid = _lay_over(lay, stretch, before if lay.frame.after else inherits)
        if laid is not None:
            entry, cost, words, guards = laid
            yield _Path(
                path.cost + cost + (LATER_FRAME if path.laid and not after_pause else 0.0),
                (*path.laid, (entry,)),
                (*path.unexplained, *words),
                path.guards | guards,
            )


OF_A_BALLOON = frozenset({"gastric", "oesophageal", "both"})


def _may_inherit(lay: Lay, before: Laid, ideas: int, numbers: int) -> bool:
    """Whether what is missing was said with the entry just before: "gastric's up, clamped", "gastric twelve,
    oesophageal thirty one"."""
    own = any(need & ideas for need in lay.needs)
    if before.lay is lay:
        return own and (numbers > 0 or not lay.slots)
    lacks = [need for need in lay.needs if not need & ideas]
    site = lay.site
    return own and len(lacks) == 1 and site != 0 and lacks[0] == site and before.candidates[0].site in OF_A_BALLOON


def _lay_over(
    lay: Lay, stretch: tuple[Token, ...], before: Laid | None
) -> tuple[Laid, float, tuple[str, ...], int] | None:
    taken: dict[int, int] = {}
    for need in lay.needs:
        place = _place_for(stretch, need, taken)
        if place is None and before is None:
            return None
        if place is not None:
            taken[place] = need
    if before is not None and not taken:
        return None
    fields = _group_fields(lay, stretch, before)
    if fields is None:
        return None
    cost, guards = 0.0, 0
    words: tuple[str, ...] = ()
    amounts: list[Amount] = []
    ideas = lay.allowed & ~HARMLESS
    for token in stretch:
        if token.amount is not None:
            if not token.amount.implied or _wanted(lay, token.amount):
                amounts.append(token.amount)
            elif not token.meaning & lay.allowed:
                cost += UNEXPLAINED / 4
            continue
        left = _left(token, lay.allowed)
        cost, words, guards = cost + left[0], (*words, *left[2]), guards | left[1]
        if token.meaning & ideas:
            cost -= IDEA_MET
    if amounts and not lay.slots:
        cost, words, amounts = cost + NUMBER_LEFT * len(amounts), (*words, *("#" for _ in amounts)), []
    found = _numbered(lay, amounts, fields)
    if found is None:
        return None
    candidates, doubts, alike, extra = found
    if lay.frame.asks:
        doubts = (*doubts, Doubt("word missing", "a word that matters was not said"))
    cost += extra + DOUBT * len(doubts) - NEED_MET * len(taken) + (LATER_FRAME / 2 if before is not None else 0.0)
    return Laid(lay, candidates, doubts, alike, cost), cost, words, guards


def _wanted(lay: Lay, amount: Amount) -> bool:
    return any(_converted(amount, slot) is not None for slot in (*lay.slots, *lay.other_slots))


def _place_for(stretch: Sequence[Token], need: int, taken: dict[int, int]) -> int | None:
    """The token that means the least else and is not taken."""
    fitting = [
        (token.meaning.bit_count(), place)
        for place, token in enumerate(stretch)
        if token.meaning & need and place not in taken
    ]
    return min(fitting)[1] if fitting else None


def _group_fields(lay: Lay, stretch: tuple[Token, ...], before: Laid | None) -> dict[str, object] | None:
    frame = lay.frame
    fields: dict[str, object] = {"site": frame.site, "value": frame.value, "detail": frame.detail}
    for name, members in lay.groups:
        said = dict.fromkeys(member for token in stretch for bit, member in members if token.meaning & bit)
        if len(said) > 1:
            said = _without_doubles(stretch, members, said)
        if len(said) > 1:
            return None
        fields[name] = next(iter(said), None)
        if not said and before is not None:
            fields[name] = getattr(before.candidates[0], name)
    return fields


def _without_doubles(
    stretch: tuple[Token, ...], members: tuple[tuple[int, str], ...], said: dict[str, None]
) -> dict[str, None]:
    """A word that may be several members of a group is the one that another word names, if one does."""
    sure = dict.fromkeys(
        member
        for token in stretch
        for bit, member in members
        if token.meaning & bit and sum(1 for other, _ in members if token.meaning & other) == 1
    )
    return sure or said


Numbered = tuple[tuple[Entry, ...], tuple[Doubt, ...], bool, float]


def _numbered(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    """The entry with its numbers in their slots, its look-alikes, and what is doubtful about them."""
    frame = lay.frame
    if not lay.slots or (not amounts and not frame.counted):
        return (_entry(frame.kind, fields),), (), False, 0.0
    wanted = len(lay.slots)
    if len(amounts) > wanted:
        return _several(lay, amounts, fields) if wanted == 1 and frame.several else None
    if len(amounts) < wanted:
        return None
    best: Numbered | None = None
    for order in permutations(range(wanted)) if wanted > 1 else ((0,),):
        found = _in_slots(lay, [amounts[place] for place in order], fields)
        if found is not None and (best is None or len(found[1]) < len(best[1])):
            best = found
    return best


def _several(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    """More numbers than the entry has: it is one of them, and has to be asked."""
    each = [found for amount in amounts if (found := _in_slots(lay, [amount], fields)) is not None]
    if len(each) < 2:
        return None
    candidates = tuple(dict.fromkeys(one for found in each for one in found[0][:1]))
    return candidates, (Doubt("several numbers", "several numbers were said"),), False, NUMBER_LEFT * (len(amounts) - 1) / 2


def _in_slots(lay: Lay, amounts: list[Amount], fields: dict[str, object]) -> Numbered | None:
    fields = dict(fields)
    doubts: tuple[Doubt, ...] = ()
    others: list[tuple[str, Number]] = []
    for place, amount in enumerate(amounts):
        slots = (lay.slots[place], *(lay.other_slots if place == 0 else ()))
        slot = next((slot for slot in slots if amount.unit is not None and _converted(amount, slot) is not None), None)
        if slot is None and amount.unit is None:
            fitting = (slot for slot in slots if _sayable(slot, amount.value)) if lay.frame.bare else iter(())
            slot = next(fitting, slots[0])
            if not lay.frame.bare and place == 0:
                doubts = (*doubts, Doubt("word missing", "its unit was not said"))
        if slot is None:
            return None
        value = _converted(amount, slot)
        assert value is not None
        if not _sayable(slot, value):
            if len(amounts) > 1:
                return None
            low, high = slot.said
            doubts = (*doubts, Doubt("out of range", f"{value:g} is outside what can be said here ({low:g} to {high:g})"))
        unit_known = amount.unit is not None or lay.frame.bare
        fields[slot.gives] = value
        fields["unit" if slot.gives == "value" else "second_unit"] = in_the_room(slot.unit or NO_UNIT) if unit_known else None
        if amount.contradicted:
            doubts = (*doubts, Doubt("digits disagree", "the number and its digits differ"))
        alike = (_converted(replace(amount, value=other), slot) for other in amount.others)
        others += [(slot.gives, one) for one in alike if one is not None and _sayable(slot, one)]
    entry = _entry(lay.frame.kind, fields)
    alikes = tuple(entry.model_copy(update={field: other}) for field, other in others)
    return (entry, *alikes), doubts, bool(alikes) and not doubts, 0.0


def _entry(kind: str, fields: dict[str, object]) -> Entry:
    return Entry.model_validate({"kind": kind, **{name: value for name, value in fields.items() if value is not None}})


def _converted(amount: Amount, slot: NumberSlot) -> Number | None:
    """The value in the unit that is logged; None if the unit that was said is another's."""
    if amount.unit is None:
        return _plain(float(amount.value) * slot.factor)
    if amount.unit == slot.unit:
        return amount.value
    if (amount.unit, slot.unit) == ("g", "kg"):
        return _plain(float(amount.value) / 1000)
    if (amount.unit, slot.unit) in (("deg", "Cel"), ("{unit}", "[IU]")):
        return amount.value
    return None


def _plain(value: float) -> Number:
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def _sayable(slot: NumberSlot, value: Number) -> bool:
    """Whether it is a number for this slot: what can be said in one go, or is plausible all the same (a litre)."""
    if slot.unit == "kg":
        return 0 < value <= 5
    said = float(value) / slot.factor
    high = max(slot.said[1], slot.plausible[1] if slot.plausible is not None else 0)
    return slot.said[0] <= said <= high and (slot.halves or said == int(said))
