"""What is said beside a sentence and turns nothing: a "yeah no" before it, a question that is answered in one breath, a
denial that is said twice.
"""

from __future__ import annotations

from itertools import pairwise

from voice.english.listed import words_of
from voice.english.numbers import NUMBER_WORDS

PAUSE = ","

YES = words_of("yeah yes yep aye yup yea")
NO = words_of("no nah na naw")

_ASKS = words_of("is are was were did does do has have right correct sure")
_LONGEST_QUESTION = 4

_DENIES = words_of("no nothing none nobody nowt neither never")
DENIED_WHOLE = words_of("nobody never neither")
"""Deny all of a sentence: "nobody has confirmed that film"."""
NOT_HAD = ("have not", "has not", "had not", "'ve not")
"""Deny what follows: "have not got the tube down"."""
_DENIED_VERBS = words_of("is are was were do does did can could has have would")
_NOT_YET = words_of("yet until till before as than like")


def without_asides(words: tuple[str, ...]) -> tuple[str, ...]:
    """The words without a "yeah, no" that begins them, and without questions that are answered at once."""
    return _asked_of_oneself(_answered(_without_yeah_no(words)))


def _without_yeah_no(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "Yeah, no, fifty in" denies nothing."""
    said = [(place, word) for place, word in enumerate(words[:5]) if word != PAUSE]
    if len(said) < 3 or said[0][1] not in YES or said[1][1] not in NO:
        return words
    together = said[1][0] == 1 or words[said[1][0] + 1] == PAUSE
    return words[said[2][0] :] if together else words


def _answered(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "Thirty four, is that right, yeah, thirty four" asks nothing any more."""
    cuts = [place for place, word in enumerate(words) if word == PAUSE]
    for start, end, answered in zip(cuts, cuts[1:], [*cuts[2:], len(words)], strict=False):
        asked, answer = words[start + 1 : end], words[end + 1 : answered]
        if asked and asked[0] in _ASKS and len(asked) <= _LONGEST_QUESTION and answer and set(answer) <= YES:
            return _answered(words[:start] + words[answered:])
    return words


_OF_ONESELF = frozenset(
    ("what", verb, *rest)
    for verb in ("is", "'s", "was")
    for rest in (("it",), ("it", "now"), ("it", "again"), ("that",), ("that", "now"), ("that", "again"))
) | {("what's", *rest) for rest in (("it",), ("it", "now"), ("it", "again"), ("that",), ("that", "now"))}


def _asked_of_oneself(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "Thirty eight" answers "it reads, what is it now, thirty eight"; the answer to what it "was" may be a guess."""
    cuts = [place for place, word in enumerate(words) if word == PAUSE]
    for start, end in pairwise(cuts):
        asked = words[start + 1 : end]
        if asked in _OF_ONESELF and start > 0 and not NUMBER_WORDS.isdisjoint(words[end + 1 : end + 3]):
            return (*words[:start], *((PAUSE, A_GUESS) if "was" in asked else ()), *words[end:])
    return words


A_GUESS = "perhaps"
"""Stands for a question that was asked of oneself about what was."""


def denied_once(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "Ain't hearing nothing" is "hearing nothing": of two denials in one clause the verb's is left out."""
    out: list[str] = []
    for place, word in enumerate(words):
        end = words.index(PAUSE, place) if PAUSE in words[place:] else len(words)
        clause = words[place + 1 : end]
        twice = word == "not" and not _DENIES.isdisjoint(clause) and _NOT_YET.isdisjoint(clause)
        if twice and out and out[-1] in _DENIED_VERBS:
            out.pop()
        elif not twice or not out:
            out.append(word)
    return tuple(out)
