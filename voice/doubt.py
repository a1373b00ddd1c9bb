"""How far to believe an engine. A grammar makes everything fit, a cough as well as an entry; so the same sound is
also heard openly, with no grammar, and what the two make of it is compared sound by sound.

What is likely enough is logged, what is doubtful is asked, what is neither was not meant for the log.
"""

from __future__ import annotations

from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from log.spoken import Entry, Meaning, NotUnderstood, Question, Understood

Phones = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Confidence from which something is logged, and from which it is at least asked. Settings; see tests/bench."""

    log_from: float = 0.6
    ask_from: float = 0.4


DEFAULT = Thresholds()


def confidence(grammar: Phones, open_hearing: Phones) -> float:
    """Share of sounds on which the strict and the open hearing of one segment agree, 0 to 1."""
    return float(Levenshtein.normalized_similarity(grammar, open_hearing))


def doubted(meaning: Meaning, confidence: float, thresholds: Thresholds) -> Meaning:
    """The meaning with everything below the thresholds asked, or dropped as not understood."""
    if isinstance(meaning, NotUnderstood) or confidence >= thresholds.log_from:
        return meaning
    if confidence < thresholds.ask_from:
        return NotUnderstood(heard=_as_words(meaning))
    return Understood(items=tuple(_asked(item) for item in meaning.items))


def agreed(first: Meaning, second: Meaning) -> Meaning:
    """What two engines make of one segment: what both heard stands, anything else is a question.

    The first engine's reading is the likelier one.
    """
    if isinstance(first, NotUnderstood) or isinstance(second, NotUnderstood):
        heard = second if isinstance(first, NotUnderstood) else first
        return doubted(heard, 0.0, Thresholds(log_from=1.0, ask_from=0.0))
    if [_likeliest(item) for item in first.items] == [_likeliest(item) for item in second.items]:
        return Understood(items=tuple(a if isinstance(a, Question) else b
                                      for a, b in zip(first.items, second.items, strict=True)))
    if len(first.items) == len(second.items):
        return Understood(items=tuple(_either(a, b) for a, b in zip(first.items, second.items, strict=True)))
    return doubted(first, 0.0, Thresholds(log_from=1.0, ask_from=0.0))


def _either(first: Entry | Question, second: Entry | Question) -> Entry | Question:
    if _likeliest(first) == _likeliest(second):
        return first if isinstance(first, Question) else second
    candidates = tuple(dict.fromkeys((*_candidates(first), *_candidates(second))))
    return Question(candidates=candidates, reason="two engines heard different things")


def _asked(item: Entry | Question) -> Question:
    return item if isinstance(item, Question) else Question(candidates=(item,), reason="heard indistinctly")


def _candidates(item: Entry | Question) -> tuple[Entry, ...]:
    return item.candidates if isinstance(item, Question) else (item,)


def _likeliest(item: Entry | Question) -> Entry:
    return _candidates(item)[0]


def _as_words(meaning: Understood) -> str:
    return "; ".join(f"{e.site or ''} {e.kind} {e.value if e.value is not None else ''}".strip()
                     for e in (_likeliest(item) for item in meaning.items))
