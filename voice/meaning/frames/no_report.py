"""Signs in a sentence, before any frame is laid, that it is no report: a question that begins in the middle, an
article that is nearly a number.
"""

from __future__ import annotations

from voice.english.amounts import longest_number
from voice.english.numbers import NUMBER_WORDS
from voice.meaning.frames.lexicon import Lexicon
from voice.meaning.frames.token import PAUSE


def asked_midway(words: tuple[str, ...]) -> bool:
    """Whether a report turns into a question: "fifty in is the airway secured"."""
    begins = [
        place for place, word in enumerate(words) if (place == 0 or words[place - 1] == ",") and word in ASKS_FIRST
    ]
    if words[:1] == ("any",):
        return True
    if any(words[place + 1 : place + 2] == ("the",) for place in begins):
        return True
    return any(
        verb in ("is", "are", "has") and then == "the" and (_ends_a_report(one) or _states(words, place + 3))
        for place, (one, verb, then) in enumerate(zip(words, words[1:], words[2:], strict=False))
        if one not in NO_REPORT_BEFORE and "how" not in words[:place] and words[place + 3 : place + 4] not in COMPARED
    )


ASKS_FIRST = frozenset(["is", "are", "was", "were", "has", "does", "did", "can", "could", "should", "will"])
NO_REPORT_BEFORE = frozenset(
    [",", "that", "this", "it", "here", "there", "which", "what", "when", "long", "much", "many"]
)


COMPARED = (("same",), ("only",))
""" "Breath sounds are the same" states."""


def _ends_a_report(word: str) -> bool:
    return word in ENDS_A_REPORT or (word.endswith("ed") and len(word) > 4)


def _states(words: tuple[str, ...], start: int) -> bool:
    """Whether a clause ends with a state: "... is the airway secured"."""
    end = words.index(",", start) if "," in words[start:] else len(words)
    return end - start > 1 and _ends_a_report(words[end - 1])


ENDS_A_REPORT = frozenset(["in", "out", "on", "off", "up", "down", "clear", "done", "gone", "given", "shut", "open"])


def _begins_a_phrase(table: Lexicon, words: tuple[str, ...]) -> bool:
    """Whether a number word is part of a name, "three way taps", or a pronoun, "the one, ..."."""
    if words[:1] == ("one",) and (len(words) == 1 or words[1] in (PAUSE, "in", "on", "with", "that", "there", "here")):
        return True
    return any(" ".join(words[:length]) in table.meanings for length in range(2, 5)) or words[1:2] == ("of",)


def after_the_article(table: Lexicon, words: tuple[str, ...]) -> str:
    """The number word after a "the" that is nearly "three", for no unit follows; empty where there is none."""
    for place, word in enumerate(words[:-1]):
        if word != "the" or words[place + 1] not in NUMBER_WORDS:
            continue
        number = longest_number(words, place + 1)
        end = number[0] if number is not None else len(words)
        then, more = (*words[end : end + 2], "", "")[:2]
        counts = then.endswith("s") and len(then) > 3 and then in table.known
        of_a_unit = then in table.units or f"{then} {more}" in table.units
        if not (counts or of_a_unit or _begins_a_phrase(table, words[place + 1 :])):
            return words[place + 1]
    return ""
