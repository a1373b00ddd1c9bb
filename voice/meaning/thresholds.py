"""How far an engine is believed. A grammar makes everything fit, a cough as well as an entry. So the same sound is
heard again: openly, with no grammar, and in altered copies. What was really said comes back, and the open hearing
sounds like it; what the grammar made up does neither.

What is likely enough is logged, what is doubtful is asked, what is neither was not meant for the log.

Where pocketsphinx hears alone, confidence is 0.4 x likeness of the open hearing + 0.6 x share of the altered copies
(slower, faster, without noise removal) that give the same entry. With the nets it is a probability
(`voice.meaning.evidence`). The defaults are where no wrong value was logged on the development clips at 10 dB and
better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood

Phones = tuple[str, ...]

WEIGHT_OF_SOUND = 0.4
"""Share of the open hearing in the confidence; the rest is how many copies agree. Chosen on the development clips."""


MOST_CANDIDATES = 3
"""As many choices as one can take in at a glance."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Confidence from which something is logged, and from which it is at least asked.

    Those below are where nothing of 474 entries of the development clips was logged wrongly. Of what voices said that
    trained nothing, two of 1,130 at 20 dB and better were, and eight of 565 at 10 dB (tests/bench).
    """

    log_from: float
    ask_from: float
    alike_from: float = 1.1
    """Confidence from which a ten that has a sound-alike is logged without asking, where an engine of another make
    hears it too; above 1: never."""
    bare_from: float = 0.0
    """Confidence from which a bare number is logged: nothing around it can contradict it."""
    forced_most: float = 100.0
    """Share of the likelihood lost to the grammar above which nothing is made of what was heard."""
    forced_asked: float = 0.055
    """The same above which it is asked: near misses, that no phrase fits well."""
    number_margin: float = 2.5
    """Natural log: what differs in a number only has to be at least so far behind for all engines together, else it is
    asked."""


BARE_FROM = 0.93
"""From 0.95 on, seven of 1,410 numbers of voices that trained nothing would be logged wrongly at 10 dB and better,
instead of ten, and a third fewer rightly; from 0.9 on eleven (tests/bench)."""

PUSH_TO_TALK = Thresholds(log_from=0.85, ask_from=0.3, alike_from=0.85, bare_from=BARE_FROM)
"""Everything heard is meant for the log, so that a doubt is worth a question."""

WITH_LEAD_WORD = Thresholds(log_from=0.85, ask_from=0.2, alike_from=0.85, bare_from=BARE_FROM, forced_most=0.1)
"""The lead word was heard, which talk has not: the least doubtful to be meant, however badly the rest is heard."""

IN_TALK = Thresholds(log_from=0.85, ask_from=0.5, alike_from=0.85, bare_from=BARE_FROM, forced_most=0.05)
"""Most of what is heard is talk in the room; a question nobody caused is in the way of the next answer."""

ALONE_PUSH_TO_TALK = Thresholds(log_from=0.75, ask_from=0.4)
"""Where one engine without a net of its own has to do; sound-alikes are always asked."""

ALONE_IN_TALK = Thresholds(log_from=0.75, ask_from=0.5)
"""The same, with talk in the room."""


def similarity(strict: Phones, openly: Phones) -> float:
    """Share of sounds on which the strict and the open hearing of one segment agree, 0 to 1."""
    return float(Levenshtein.normalized_similarity(strict, openly))


def confidence(similarity: float, agreement: Sequence[float]) -> float:
    """One figure from 0 to 1: how alike the open hearing sounds, and how far each copy agrees (0 to 1 each)."""
    if not agreement:
        return similarity
    return WEIGHT_OF_SOUND * similarity + (1 - WEIGHT_OF_SOUND) * sum(agreement) / len(agreement)


def same_meaning(first: Meaning, second: Meaning) -> bool:
    """Whether two hearings give the same entries, doubts aside."""
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood):
        return False
    return [_likeliest(item) for item in first.items] == [_likeliest(item) for item in second.items]


def same_numbers(first: Meaning, second: Meaning) -> bool:
    """Whether two hearings give the same numbers in the same order, whatever they are of."""
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood):
        return False
    one, other = ([(e.value, e.second) for e in map(_likeliest, meaning.items)] for meaning in (first, second))
    return one == other


def other_number(first: Meaning, second: Meaning) -> bool:
    """Whether two hearings give the same entries with other values."""
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood) or len(first.items) != len(second.items):
        return False
    pairs = [(_likeliest(a), _likeliest(b)) for a, b in zip(first.items, second.items, strict=True)]
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
    """What is asked anyway, with the other values that were heard for the same entry to choose from.

    A number whose digits contradict it was misheard: a hearing in which they agree comes first.
    """
    if isinstance(meaning, NotUnderstood):
        return meaning
    items = list(meaning.items)
    for rival in rivals:
        if isinstance(rival, NotUnderstood) or len(rival.items) != len(items):
            continue
        for place, (item, other) in enumerate(zip(items, rival.items, strict=True)):
            first, second = _likeliest(item), _likeliest(other)
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


def _candidates(item: Entry | Question) -> tuple[Entry, ...]:
    return item.candidates if isinstance(item, Question) else (item,)


def _likeliest(item: Entry | Question) -> Entry:
    return _candidates(item)[0]


def _as_words(meaning: Understood) -> str:
    return "; ".join(
        f"{e.site or ''} {e.kind} {e.value if e.value is not None else ''}".strip()
        for e in (_likeliest(item) for item in meaning.items)
    )
