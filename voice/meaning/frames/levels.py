"""Numbers that are a level and no amount: "let down to fifty" leaves fifty, "let down by fifty" takes fifty out."""

from __future__ import annotations

from dataclasses import replace

from voice.english import talk
from voice.english.harmless import CHANGED
from voice.meaning.frames.lexicon import ANY_GUARD, GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.token import Token

TO = "to"


def _others(found: list[Token], start: int, place: int) -> list[Token]:
    """The tokens of a clause without its number and what stands before that."""
    end = next((at for at in range(place, len(found)) if found[at].is_pause), len(found))
    return found[start : place - 1] + found[place + 1 : end]


def _tells(lexicon: Lexicon, token: Token) -> bool:
    """Whether it says what has become of something: "gastric to three hundred" may be an order."""
    if token.amount is not None or token.meaning & lexicon.ideas.get("correct", 0):
        return True
    words = token.text.split()
    done = any(word.endswith(("ed", "ing")) or word in CHANGED or word in talk.REPORTED for word in words)
    return done or bool(token.meaning & lexicon.moving)


def with_levels(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """A number right after "to" is a level. The verb that led to it says no more than that it changed."""
    out = list(found)
    start = 0
    for place, token in enumerate(found):
        if token.is_pause:
            start = place + 1
        if token.amount is None or token.amount.implied or place == start:
            continue
        if found[place - 1].text.split()[-1] != TO:
            continue
        out[place] = replace(token, amount=replace(token.amount, level=True))
        out[place - 1] = replace(found[place - 1], meaning=found[place - 1].meaning | lexicon.level)
        if found[place - 1].text == TO and not any(_tells(lexicon, one) for one in _others(found, start, place)):
            out[place - 1] = replace(found[place - 1], meaning=GUARD_BIT["unsure"])
        for at in range(start, place - 1):
            if found[at].meaning & ANY_GUARD:
                continue
            if found[at].meaning & lexicon.moving or not CHANGED.isdisjoint(found[at].text.split()):
                out[at] = replace(found[at], meaning=found[at].meaning | HARMLESS)
    return out
