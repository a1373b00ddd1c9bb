"""The clauses beside a report: what is only polite, what says why, what remembers, denies or plans something else."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from voice.english import talk
from voice.meaning.frames.lexicon import FIRST_IDEA, GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.token import Token

ORDER, QUESTION, UNSURE = GUARD_BIT["order"], GUARD_BIT["question"], GUARD_BIT["unsure"]
CONDITION = GUARD_BIT["condition"]
ASIDE = GUARD_BIT["past"] | GUARD_BIT["not"] | GUARD_BIT["plan"]
"""Things that may be said of something else in a clause of its own: "..., earlier it was thirty"."""


def with_clauses_beside(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """The tokens, with clauses that are only polite left out and those that speak of something else made a doubt."""
    return _asides_asked(lexicon, _please_at_the_end(_purposes_asked(_tags_of_a_command(lexicon, found))))


def clauses(found: tuple[Token, ...] | list[Token]) -> list[tuple[int, int]]:
    """Where one drew breath to where one drew it next."""
    cuts = [place for place, token in enumerate(found) if token.is_pause]
    return list(zip([0, *(cut + 1 for cut in cuts)], [*cuts, len(found)], strict=True))


_TAGS_OF_A_COMMAND = frozenset(["would you", "will you", "could you", "can you", "if you would", "eh", "please"])


def _tags_of_a_command(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """ "Start a timer, would you" is only polite: what asks so behind a command of the log is no question."""
    *_, (start, end) = clauses(found)
    said = [token for token in found[start:end] if token.meaning != HARMLESS]
    if start == 0 or len(said) != 1 or said[0].text not in _TAGS_OF_A_COMMAND:
        return found
    if not any(token.meaning & lexicon.queries for token in found[:start]):
        return found
    return [*found[:start], *(replace(token, meaning=HARMLESS) for token in found[start:end])]


def _please_at_the_end(found: list[Token]) -> list[Token]:
    """ "I have given fifty, please" is a report: somebody says what has been done, and only is polite."""
    last = next((place for place in range(len(found) - 1, -1, -1) if not found[place].is_pause), None)
    if last is None or found[last].text != "please":
        return found
    words = [word for token in found[:last] for word in token.text.split()]
    pairs = set(pairwise(words))
    has_done = any(one in _HAVE_DONE and (then.endswith(("ed", "en")) or then in talk.REPORTED) for one, then in pairs)
    if has_done and not any(token.meaning & (ORDER | CONDITION | QUESTION) for token in found[:last]):
        found[last] = replace(found[last], meaning=HARMLESS)
    return found


_HAVE_DONE = frozenset(["have", "has", "'ve", "been", "was", "were"])
_WHY = frozenset(["so", "so that", "because", "cause", "as", "since", "in case", "before"])
_WHO = frozenset(["it", "he", "she", "they", "that", "this", "we"])


def _purposes_asked(found: list[Token]) -> list[Token]:
    """ "... so it'll not creep back" says why; what it plans or denies makes a question of the rest, not nothing."""
    for place in range(2, len(found) - 2):
        if found[place].text in _WHY and found[place + 1].text in _WHO:
            end = next((at for at in range(place, len(found)) if found[at].is_pause), len(found))
            held = 0
            for token in found[place:end]:
                held |= token.meaning if token.meaning < FIRST_IDEA else 0
            if held & ASIDE and not held & (ORDER | QUESTION):
                return [*found[:place], Token("aside", UNSURE), *found[end:]]
    return found


def _asides_asked(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """A clause that names nothing and speaks of the past, or denies, makes what stands beside it a question."""
    parts = clauses(found)
    named = [any(token.meaning & lexicon.things for token in found[start:end]) for start, end in parts]
    if len(parts) < 2 or not any(named):
        return found
    out: list[Token] = []
    for number, (start, end) in enumerate(parts):
        said = found[start:end]
        aside = (
            not named[number]
            and (number > 0 or not any(token.meaning & GUARD_BIT["plan"] for token in said))
            and _is_aside(said)
        )
        out += [Token("aside", UNSURE)] if aside else said
        out += found[end : end + 1]
    return out


def _is_aside(said: list[Token]) -> bool:
    held = 0
    for token in said:
        if token.meaning < FIRST_IDEA:
            held |= token.meaning & ~HARMLESS
    return bool(held & ASIDE) and not held & ~(ASIDE | UNSURE)
