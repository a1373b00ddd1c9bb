"""The one way to lay frames over an utterance so that every word is explained, or a question, or nothing.

Frames are laid side by side over stretches of words; the cheapest way wins. A word that nothing explains costs, a word
that makes an order or a question of it costs everything. What costs is never logged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from voice.english.harmless import NOTHING
from voice.meaning.frames.laying import (
    GUARDED,
    LATER_FRAME,
    UNEXPLAINED,
    UNSURE,
    Cost,
    Laid,
    lay_over,
    left_of,
)
from voice.meaning.frames.lexicon import ANY_GUARD, FIRST_IDEA, GUARD_BIT, GUARDS, HARMLESS, Lay, Lexicon
from voice.meaning.frames.token import Token

MOST_TOKENS = 60
LONGEST_STRETCH = 24
IN_PASSING = frozenset({"kit", "tube", "skin", "companion"})
"""Kinds that are often a comment on what was said before; they need a pause or an "and", or they are asked."""


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
    if not lays:
        return None
    found = _with_what_speaks_against(lays, _plain_words(lays, found))
    stands = _guard_that_stands(lays, found)
    if stands is not None:
        return Reading((), GUARDED, (), stands)
    whole = _best(lays, found, _cuts(found))
    if whole is None or whole.cost >= UNEXPLAINED:
        finer = _best(lays, found, _finer_cuts(found))
        if finer is not None and (whole is None or finer.cost < whole.cost):
            whole = finer
    return whole


def _plain_words(lays: tuple[Lay, ...], found: tuple[Token, ...]) -> tuple[Token, ...]:
    """A plain word of English means nothing more where none of these frames can use what else it stands for."""
    used = ANY_GUARD
    for lay in lays:
        for need in lay.needs:
            used |= need
    return tuple(
        replace(token, meaning=token.meaning | HARMLESS)
        if not token.meaning & used and NOTHING.issuperset(token.text.split())
        else token
        for token in found
    )


def _with_what_speaks_against(lays: tuple[Lay, ...], found: tuple[Token, ...]) -> tuple[Token, ...]:
    """A word that speaks against one of these frames cannot be passed over: "the chest pain has gone"."""
    against = 0
    for lay in lays:
        against |= lay.against
    if not against:
        return found
    return tuple(
        replace(token, meaning=token.meaning & ~HARMLESS) if token.meaning & against else token for token in found
    )


def _guard_that_stands(lays: tuple[Lay, ...], found: tuple[Token, ...]) -> str | None:
    """A guard that no frame takes as one of its own words: nothing is logged, however the rest is read."""
    allowed = HARMLESS | UNSURE
    for lay in lays:
        allowed |= lay.allowed
    held = 0
    for token in found:
        if token.amount is None and not token.meaning & allowed:
            held |= token.meaning & ANY_GUARD
    return _first_guard(held)


def first_guard(found: tuple[Token, ...]) -> str | None:
    """The effect of any of these words on a sentence, if no frame takes it."""
    held = 0
    for token in found:
        held |= token.meaning if token.meaning < FIRST_IDEA else 0
    return _first_guard(held & ~UNSURE)


def _first_guard(held: int) -> str | None:
    return next((guard for guard in GUARDS if held & GUARD_BIT[guard]), None)


def _possible(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Lay, ...]:
    """The frames whose needs are met somewhere in the utterance."""
    ideas = 0
    for token in found:
        ideas |= token.meaning
    return tuple(lay for lay in lexicon.lays if lay.needs[0] & ideas and all(need & ideas for need in lay.needs))


def _cuts(found: tuple[Token, ...]) -> frozenset[int]:
    """Where one entry most likely ends: at pauses and joining words."""
    cuts = {0, len(found)}
    for place, token in enumerate(found):
        if token.is_pause or token.text in ("and", "then", "and then", "so", "with", "but", "plus"):
            cuts |= {place, place + 1}
    return frozenset(cuts)


def _finer_cuts(found: tuple[Token, ...]) -> frozenset[int]:
    """Where one entry may end at all: beside words that mean something, and numbers."""
    cuts = {0, len(found)}
    for place, token in enumerate(found):
        if token.amount is not None or token.meaning >= FIRST_IDEA or token.is_pause:
            cuts |= {place, place + 1}
    return frozenset(cuts)


@dataclass(frozen=True, slots=True)
class _Path:
    cost: float = 0.0
    laid: tuple[tuple[Laid, ...], ...] = ()
    unexplained: tuple[str, ...] = ()
    guards: int = 0


def _all_skipped(found: tuple[Token, ...]) -> list[_Path]:
    """For every place the path that lays no frame: what costs more than this is never looked at."""
    paths = [_Path()]
    for token in found:
        paths.append(_skipped(paths[-1], token))
    return paths


def _best(lays: tuple[Lay, ...], found: tuple[Token, ...], cuts: frozenset[int]) -> Reading | None:
    paths = _all_skipped(found)
    for start in range(len(found)):
        path = paths[start]
        _put(paths, start + 1, _skipped(path, found[start]))
        if start in cuts and path.guards & ~UNSURE == 0:
            _lay_from(lays, found, start, cuts, paths)
    last = paths[-1]
    if not last.laid:
        return None
    return Reading(last.laid, last.cost, last.unexplained, _first_guard(last.guards))


def _lay_from(
    lays: tuple[Lay, ...], found: tuple[Token, ...], start: int, cuts: frozenset[int], paths: list[_Path]
) -> None:
    """Every frame that can be laid from one place on."""
    path = paths[start]
    after_pause = start > 0 and found[start - 1].is_pause
    joined = after_pause or (start > 0 and found[start - 1].text in ("and", "and then")) or found[start].text == "and"
    if start > 0 and not after_pause and _says_nothing(found[start]):
        return  # what begins behind it costs as little
    ideas = numbers = 0
    lays = _met_from(lays, found[start : start + LONGEST_STRETCH], bool(path.laid))
    for end in range(start + 1, min(len(found), start + LONGEST_STRETCH) + 1):
        token = found[end - 1]
        ideas |= token.meaning
        numbers += token.amount is not None
        if end not in cuts or (ideas < FIRST_IDEA and not (numbers and path.laid)):
            continue
        if end < len(found) and not found[end].is_pause and _says_nothing(token):
            continue  # what ends before it costs as little
        clause = (start == 0 or after_pause) and (end == len(found) or found[end].is_pause)
        stretch = _Stretch(found[start:end], ideas, numbers, clause)
        later = LATER_FRAME if path.laid and not after_pause else 0.0
        most = paths[end].cost - path.cost - later
        for entry, cost, words, guards in _laid_over(lays, stretch, path, most):
            if path.laid and not joined and entry.lay.frame.kind in IN_PASSING:
                entry = replace(entry, comment=True)
            longer = _Path(
                path.cost + cost + later, (*path.laid, (entry,)), (*path.unexplained, *words), path.guards | guards
            )
            _put(paths, end, longer)


def _says_nothing(token: Token) -> bool:
    return token.meaning == HARMLESS and token.amount is None


def _met_from(lays: tuple[Lay, ...], rest: tuple[Token, ...], some: bool) -> tuple[Lay, ...]:
    """The frames whose needs these tokens meet: all of them, or `some` where an entry before may give the others."""
    ideas = 0
    for token in rest:
        ideas |= token.meaning
    if some:
        return tuple(lay for lay in lays if any(need & ideas for need in lay.needs))
    return tuple(lay for lay in lays if _all_met(lay.needs, ideas))


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Tokens from one place to another."""

    tokens: tuple[Token, ...]
    ideas: int
    numbers: int
    clause: bool
    """From one pause to another."""


def _put(paths: list[_Path], place: int, path: _Path) -> None:
    known = paths[place]
    if path.cost < known.cost - 1e-9:
        paths[place] = path
    elif path.cost <= known.cost + 1e-9 and path.laid and _alternative(known, path):
        paths[place] = replace(known, laid=(*known.laid[:-1], (*known.laid[-1], *path.laid[-1])))


def _alternative(known: _Path, path: _Path) -> bool:
    """Whether a path as good ends with another entry."""
    alike = len(path.laid) == len(known.laid) and path.laid[:-1] == known.laid[:-1]
    return alike and all(path.laid[-1][0].candidates != other.candidates for other in known.laid[-1])


def _skipped(path: _Path, token: Token) -> _Path:
    cost, guards, words = left_of(token, HARMLESS)
    return _Path(path.cost + cost, path.laid, (*path.unexplained, *words), path.guards | guards)


def _laid_over(lays: tuple[Lay, ...], stretch: _Stretch, path: _Path, most: float) -> Iterator[Cost]:
    """The frames that can be laid over a stretch at no more than `most`."""
    before = path.laid[-1][0] if path.laid else None
    ideas, numbers = stretch.ideas, stretch.numbers
    for lay in lays:
        met = _all_met(lay.needs, ideas)
        if not met and before is None:
            continue
        frame = lay.frame
        if (frame.alone and not stretch.clause) or (numbers < len(lay.slots) and frame.counted):
            continue
        if frame.after and (before is None or before.lay.frame.kind not in frame.after):
            continue
        inherits = before if frame.after else None
        if not met:
            if before is None or not _may_inherit(lay, before, ideas, numbers):
                continue
            inherits = before
        laid = lay_over(lay, stretch.tokens, inherits, most)
        if laid is not None:
            yield laid


def _all_met(needs: tuple[int, ...], ideas: int) -> bool:
    for need in needs:  # noqa: SIM110 (a generator costs twice as much, and this is what is done most often)
        if not need & ideas:
            return False
    return True


OF_A_BALLOON = frozenset({"gastric", "oesophageal", "both"})


def _may_inherit(lay: Lay, before: Laid, ideas: int, numbers: int) -> bool:
    """Whether what is missing was said with the entry just before: "gastric's up, clamped", "gastric twelve,
    oesophageal thirty one"."""
    own = lay.frame.inherits and any(need & ideas for need in lay.needs)
    if before.lay is lay:
        return own and (numbers > 0 or not lay.slots)
    lacks = [need for need in lay.needs if not need & ideas]
    site = lay.site
    return own and len(lacks) == 1 and site != 0 and lacks[0] == site and before.candidates[0].site in OF_A_BALLOON
