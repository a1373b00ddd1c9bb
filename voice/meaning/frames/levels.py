"""Numbers that are a level and no amount: "let down to fifty" leaves fifty, "let down by fifty" takes fifty out."""

from __future__ import annotations

from dataclasses import replace

from voice.english.plain_words import CHANGED
from voice.meaning.frames.lexicon import ANY_GUARD, HARMLESS, Lexicon
from voice.meaning.frames.token import Token

TO = "to"


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
        for at in range(start, place - 1):
            if found[at].meaning & ANY_GUARD:
                continue
            if found[at].meaning & lexicon.moving or not CHANGED.isdisjoint(found[at].text.split()):
                out[at] = replace(found[at], meaning=found[at].meaning | HARMLESS)
    return out
