"""How far to believe an engine. A grammar makes everything fit, a cough as well as an entry. So the same sound is
heard again: openly, with no grammar, and in altered copies. What was really said comes back, and the open hearing
sounds like it; what the grammar made up does neither.

What is likely enough is logged, what is doubtful is asked, what is neither was not meant for the log.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from log.spoken import Entry, Meaning, NotUnderstood, Question, Understood

Phones = tuple[str, ...]

WEIGHT_OF_SOUND = 0.4
"""Share of the open hearing in the confidence; the rest is how many copies agree. Chosen on the development clips."""


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Confidence from which something is logged, and from which it is at least asked.

    The defaults are where no wrong value and no false entry was logged on the development clips (tests/bench).
    """

    log_from: float = 0.75
    ask_from: float = 0.4


PUSH_TO_TALK = Thresholds()
"""Everything heard is meant for the log, so that a doubt is worth a question."""

OPEN_MICROPHONE = Thresholds(ask_from=0.5)
"""Most of what is heard is talk in the room; a question nobody caused is in the way of the next answer."""


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


def doubted(meaning: Meaning, confidence: float, thresholds: Thresholds) -> Meaning:
    """The meaning with everything below the thresholds asked, or dropped as not understood."""
    if isinstance(meaning, NotUnderstood) or confidence >= thresholds.log_from:
        return meaning
    if confidence < thresholds.ask_from:
        return NotUnderstood(heard=_as_words(meaning))
    return _all_asked(meaning)


def agreed(first: Meaning, second: Meaning) -> Meaning:
    """What two engines make of one segment: what both heard stands, anything else is a question.

    The first engine's reading is the likelier one.
    """
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood):
        heard = second if isinstance(first, NotUnderstood) else first
        return heard if isinstance(heard, NotUnderstood) else _all_asked(heard)
    if same_meaning(first, second):
        return Understood(
            items=tuple(a if isinstance(a, Question) else b for a, b in zip(first.items, second.items, strict=True))
        )
    if len(first.items) == len(second.items):
        return Understood(items=tuple(_either(a, b) for a, b in zip(first.items, second.items, strict=True)))
    return _all_asked(first)


def _either(first: Entry | Question, second: Entry | Question) -> Entry | Question:
    if _likeliest(first) == _likeliest(second):
        return first if isinstance(first, Question) else second
    candidates = tuple(dict.fromkeys((*_candidates(first), *_candidates(second))))
    return Question(candidates=candidates, reason="two engines heard different things")


def _all_asked(meaning: Understood) -> Understood:
    return Understood(items=tuple(_asked(item) for item in meaning.items))


def _asked(item: Entry | Question) -> Question:
    return item if isinstance(item, Question) else Question(candidates=(item,), reason="heard indistinctly")


def _candidates(item: Entry | Question) -> tuple[Entry, ...]:
    return item.candidates if isinstance(item, Question) else (item,)


def _likeliest(item: Entry | Question) -> Entry:
    return _candidates(item)[0]


def _as_words(meaning: Understood) -> str:
    return "; ".join(
        f"{e.site or ''} {e.kind} {e.value if e.value is not None else ''}".strip()
        for e in (_likeliest(item) for item in meaning.items)
    )
