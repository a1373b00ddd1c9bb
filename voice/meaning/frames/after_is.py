"""A clause that begins with "is": a question of a thing, or a report that does not name whom or what it is about."""

from __future__ import annotations

from voice.english import talk
from voice.english.harmless import PARTICLES
from voice.english.listed import words_of
from voice.meaning.frames.lexicon import GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.token import Token

IS = frozenset({"is", "was", "are", "were"})

_HOW_IT_IS_DONE = words_of("now already still just all well only not no also again about at to what")
"""Words behind which a state or a deed follows: "is already inside"."""


def after_is(lexicon: Lexicon, rest: tuple[Token, ...]) -> int:
    """What "is" makes of its clause: a question where a thing follows it ("is x-ray confirmed"), a doubt where anything
    else does that is no state or deed of somebody who need not be named ("is running", "was let out"); else nothing.
    """
    said = [token for token in rest if token.meaning != HARMLESS and not token.is_pause]
    first, *others = [word for token in said for word in token.text.split()] or [""]
    if not others or is_participle(said[0]) or first in PARTICLES | _HOW_IT_IS_DONE:
        return 0
    if said[0].meaning & lexicon.things or (len(said) > 1 and is_participle(said[1])):
        return GUARD_BIT["question"]
    return 0 if first.endswith("ing") else GUARD_BIT["unsure"]


def is_participle(token: Token) -> bool:
    """Whether what follows "no" is what has not been done: "no been clamped", "no laid a finger on it"."""
    word = token.text.split()[0]
    return word in talk.REPORTED | {"been", "laid", "got", "done"} or (word.endswith("ed") and len(word) > 4)
