"""How far the ears are believed. A grammar makes everything fit, a cough as well as an entry: what is likely enough is
logged, what is doubtful is asked, what is neither was not meant for the log. How likely a reading is: evidence.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood, entries, likeliest

MOST_CANDIDATES = 3
"""As many choices as one can take in at a glance."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Confidence from which something is logged, and from which it is at least asked.

    Those below were chosen on the unseen clips of the speech bench: none of 420 entries is logged wrongly there, and
    none of 144 numbers by people at 10 dB and better (tests/bench).
    """

    log_from: float
    ask_from: float
    alike_from: float = 1.1
    """Confidence from which a number that has a sound-alike is logged without asking, where an engine of another make
    hears it too; above 1: never."""
    bare_from: float = 0.0
    """Confidence from which a bare number is logged: nothing around it can contradict it."""
    number_margin: float = 1.0
    """Natural log: for a number with a sound-alike to be logged, any other number has to be so far behind in every ear.
    The surest teen that was a ten on the unseen clips was ahead by 0.6, at a confidence of 0.875."""


BARE_FROM = 0.93
"""From 0.9 on, two numbers of people would be logged wrongly on the unseen clips at 10 dB (tests/bench)."""

PUSH_TO_TALK = Thresholds(log_from=0.9, ask_from=0.3, alike_from=0.9, bare_from=BARE_FROM)
"""Everything heard is meant for the log, so that a doubt is worth a question."""

WITH_LEAD_WORD = Thresholds(log_from=0.9, ask_from=0.2, alike_from=0.9, bare_from=BARE_FROM)
"""The lead word was heard, which talk has not: the least doubtful to be meant, however badly the rest is heard."""

IN_TALK = Thresholds(log_from=0.9, ask_from=0.5, alike_from=0.9, bare_from=BARE_FROM)
"""Most of what is heard is talk in the room; a question nobody caused is in the way of the next answer."""


def same_meaning(first: Meaning, second: Meaning) -> bool:
    """Whether two hearings give the same entries, doubts aside."""
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood):
        return False
    return entries(first) == entries(second)


def other_number(first: Meaning, second: Meaning) -> bool:
    """Whether two hearings give the same entries with other values."""
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood) or len(first.items) != len(second.items):
        return False
    pairs = list(zip(entries(first), entries(second), strict=True))
    same = all((a.kind, a.site, a.detail) == (b.kind, b.site, b.detail) for a, b in pairs)
    return same and any((a.value, a.second) != (b.value, b.second) for a, b in pairs)


def doubted(meaning: Meaning, confidence: float, thresholds: Thresholds) -> Meaning:
    """The meaning with everything below the thresholds asked, or dropped as not understood."""
    if isinstance(meaning, NotUnderstood) or confidence >= thresholds.log_from:
        return meaning
    if confidence < thresholds.ask_from:
        return NotUnderstood(heard=_as_words(meaning))
    return all_asked(meaning)


def with_rivals(meaning: Meaning, rivals: Sequence[Meaning]) -> Meaning:
    """The question that is asked anyway, with the other values that were heard for the same entry to choose from.

    A number whose digits contradict it was misheard: a hearing in which they agree comes first.
    """
    if isinstance(meaning, NotUnderstood):
        return meaning
    items = list(meaning.items)
    for rival in rivals:
        if isinstance(rival, NotUnderstood) or len(rival.items) != len(items):
            continue
        for place, (item, other) in enumerate(zip(items, rival.items, strict=True)):
            first, second = likeliest(item), likeliest(other)
            if isinstance(item, Question) and (first.kind, first.site) == (second.kind, second.site):
                sound = item.why == "digits disagree" and isinstance(other, Entry)
                found = (second, *item.candidates) if sound else (*item.candidates, second)
                candidates = tuple(dict.fromkeys(found))[:MOST_CANDIDATES]
                items[place] = item.model_copy(update={"candidates": candidates})
    return Understood(items=tuple(items))


def all_asked(meaning: Meaning) -> Meaning:
    """The same, with everything a question."""
    if isinstance(meaning, NotUnderstood):
        return meaning
    return Understood(items=tuple(_asked(item) for item in meaning.items))


def _asked(item: Entry | Question) -> Question:
    if isinstance(item, Question):
        return item
    return Question(candidates=(item,), why="indistinct", text="unclear")


def _as_words(meaning: Understood) -> str:
    return "; ".join(
        f"{e.site or ''} {e.kind} {e.value if e.value is not None else ''}".strip() for e in entries(meaning)
    )
