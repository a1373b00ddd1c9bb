"""One frame laid over a stretch of words: what it explains, what it leaves and what that costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from log.basics.entry import Entry
from voice.english.asides import DENIED_WHOLE, NOT_HAD
from voice.meaning.doubt import Doubt
from voice.meaning.frames.lexicon import ANY_GUARD, GUARD_BIT, HARMLESS, Lay
from voice.meaning.frames.numbered import NUMBER_LEFT, Numbered, converted, numbered, several_cost
from voice.meaning.frames.token import Amount, Token

UNEXPLAINED = 2.0
"""The cost of a word that nobody explains."""
DOUBT = 3.0
LATER_FRAME = 0.25
"""Each further entry in a breath costs a little, so that one frame that explains all goes before two."""
NEED_MET = 0.02
IDEA_MET = 0.01
"""The gain of a frame for every word that it explains, so that the one that explains more goes first."""
GUARDED = 100.0
SAID_UNSURE = 0.1
AS_GOOD = 1e-9
MOST_GAINED = 1.0
"""More than the needs and ideas of one frame gain together."""
UNSURE = GUARD_BIT["unsure"]


@dataclass(frozen=True, slots=True)
class Laid:
    """A frame over a stretch of words."""

    lay: Lay
    candidates: tuple[Entry, ...]
    doubts: tuple[Doubt, ...]
    alike: bool
    """The candidates after the first only sound like it."""
    cost: float
    ideas: int = 0
    """Words of its own that were said, numbers among them."""
    also: Entry | None = None
    """A second entry that the same words hold."""
    comment: bool = False
    """Said beside another entry, with no pause between them."""


Cost = tuple[Laid, float, tuple[str, ...], int]


def left_of(token: Token, allowed: int) -> tuple[float, int, tuple[str, ...]]:
    """The cost of a token that no frame takes: nothing, if it is harmless."""
    if token.amount is not None:
        return NUMBER_LEFT, 0, (token.text,)
    if token.meaning & allowed:
        return 0.0, 0, ()
    if token.meaning & ANY_GUARD == UNSURE:
        return SAID_UNSURE, UNSURE, ()
    if token.meaning & ANY_GUARD:
        return GUARDED, token.meaning & ANY_GUARD, ()
    if " " in token.text and (token.text.startswith(NOT_HAD) or not DENIED_WHOLE.isdisjoint(token.text.split())):
        return GUARDED, GUARD_BIT["not"], ()  # "nobody has", "have not got" deny where no frame takes them as a whole
    return UNEXPLAINED, 0, (token.text,)


def lay_over(lay: Lay, stretch: tuple[Token, ...], before: Laid | None, most: float) -> Cost | None:
    """The frame over these words, if it can be laid at no more than `most`."""
    left = _left_over(lay, stretch, most + MOST_GAINED)
    taken = _needs_met(lay, stretch, before) if left is not None else 0
    if left is None or not taken:
        return None
    cost, words, guards, amounts = left
    cost -= NEED_MET * taken
    if amounts and not lay.slots:
        cost, words, amounts = cost + NUMBER_LEFT * len(amounts), [*words, *("#" for _ in amounts)], []
    filled = _filled(lay, stretch, before, amounts) if cost + _least_doubts(lay, amounts) <= most else None
    if filled is None:
        return None
    doubts = (*filled.doubts, WORD_MISSING) if lay.frame.asks else filled.doubts
    cost += filled.extra + DOUBT * len(doubts) + (LATER_FRAME / 2 if before is not None else 0.0)
    if cost > most + AS_GOOD:
        return None
    candidates = filled.candidates()
    said = sum(1 for token in stretch if token.meaning & lay.allowed & ~HARMLESS) + len(amounts)
    laid = Laid(lay, candidates, doubts, filled.alike, cost, said, _second(lay, stretch, candidates[0]))
    return laid, cost, tuple(words), guards


WORD_MISSING = Doubt("word missing", "a word that matters was not said")


def _least_doubts(lay: Lay, amounts: list[Amount]) -> float:
    """The least cost of its doubts, before its numbers are looked at."""
    several = DOUBT + several_cost(amounts) if len(amounts) > len(lay.slots) == 1 else 0.0
    return several + (DOUBT if lay.frame.asks else 0.0)


def _filled(lay: Lay, stretch: tuple[Token, ...], before: Laid | None, amounts: list[Amount]) -> Numbered | None:
    """The frame with what was said in its places."""
    fields = _group_fields(lay, stretch, before)
    if fields is None or (lay.also is not None and _group_fields(lay.also, stretch, None) is None):
        return None
    return numbered(lay, amounts, fields)


def _second(lay: Lay, stretch: tuple[Token, ...], first: Entry) -> Entry | None:
    """The second entry where its words are there; what has a site is of the same one."""
    if lay.also is None or not _needs_met(lay.also, stretch, None):
        return None
    fields = _group_fields(lay.also, stretch, None) or {}
    site = first.site if lay.also.site else None
    said = {name: fields[name] for name in ("value", "detail") if fields.get(name) is not None}
    return Entry.model_validate({"kind": lay.also.frame.kind, "site": site, **said})


def _needs_met(lay: Lay, stretch: tuple[Token, ...], before: Laid | None) -> int:
    """How many needs have a token of their own; 0 where one has none and nothing before may stand for it."""
    taken: set[int] = set()
    for need in lay.needs:
        place = _place_for(stretch, need, taken)
        if place is not None:
            taken.add(place)
        elif before is None:
            return 0
    return len(taken)


def _left_over(lay: Lay, stretch: tuple[Token, ...], most: float) -> tuple[float, list[str], int, list[Amount]] | None:
    """The cost of the words that the frame does not take, and the numbers that it may; None above `most`."""
    cost, guards = 0.0, 0
    words: list[str] = []
    amounts: list[Amount] = []
    allowed = lay.allowed
    ideas = allowed & ~HARMLESS
    for token in stretch:
        if token.meaning & lay.against:
            return None
        if token.amount is not None:
            if not token.amount.implied or _wanted(lay, token.amount):
                amounts.append(token.amount)
            elif not token.meaning & allowed:
                cost += UNEXPLAINED / 4
        elif token.meaning & ideas:
            cost -= IDEA_MET
        elif not token.meaning & allowed:
            price, guard, left = left_of(token, allowed)
            cost, guards = cost + price, guards | guard
            words += left
            if cost > most:
                return None
    return cost, words, guards, amounts


def _wanted(lay: Lay, amount: Amount) -> bool:
    return any(converted(amount, slot) is not None for slot in (*lay.slots, *lay.other_slots))


def _place_for(stretch: Sequence[Token], need: int, taken: set[int]) -> int | None:
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
    for name, mask, members in lay.groups:
        named = [token.meaning for token in stretch if token.meaning & mask]
        said = dict.fromkeys(member for meaning in named for bit, member in members if meaning & bit)
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
