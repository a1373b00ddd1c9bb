"""The verdict on one segment: logged, asked with what else it could have been, or not meant for the log.

A number that has a sound-alike in its slot (fifteen, fifty) is asked, unless it was said digit by digit ("one five")
or as number and digits ("fifteen, one five"), or engines of two independent makes hear the same ten, surely
(`Thresholds.alike_from`) and with no other number near (`Thresholds.number_margin`). Both margins were chosen on the
development clips and on voices that trained no engine. A teen is asked however many engines agree: all of them make
"fifteen" of "fifty" now and then, and none makes "fifty" of "fifteen" (tests/bench: of 95 settled by agreement 4 of 28
teens were wrong, and none of 67 tens).

Two nets that hear different numbers are a question, however sure each is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from log.basics.entry import Meaning, NotUnderstood
from voice.english.doubtful_digits import two_noughts
from voice.english.numbers import MAY_BE_A_TEN
from voice.meaning.evidence import Evidence, Words, belief, number_lead, unvouched_eight, vouched_number
from voice.meaning.matcher import Listening, settled, understand
from voice.meaning.thresholds import Thresholds, all_asked, doubted, with_rivals
from voice.phrases.phrases import Phrases
from voice.sound.segment import Segment


@dataclass(frozen=True, slots=True)
class Hearing:
    """The verdict on one segment."""

    segment: Segment
    meaning: Meaning
    text: str
    """The words of the engine that was believed."""
    engine: str
    confidence: float
    said_at: float
    """Seconds from the start of the source to the first word."""


def judged(phrases: Phrases, evidence: Evidence, listening: Listening, thresholds: Thresholds, engines: str) -> Hearing:
    """The verdict on the evidence: logged, asked with the alternatives, or not meant for the log."""

    @cache
    def read(words: Words) -> Meaning:
        return read_words(phrases, words, listening)

    meaning = read(evidence.words)
    sure = belief(evidence, meaning, read)
    if evidence.forced > thresholds.forced_most:
        meaning = NotUnderstood(heard=evidence.first.text)
    near = evidence.alike is None and number_lead(evidence, meaning, read) < thresholds.number_margin
    teen = not MAY_BE_A_TEN.isdisjoint(evidence.words)
    if sure >= thresholds.alike_from and vouched_number(evidence, meaning, read) and not (near or teen):
        meaning = settled(meaning)
    odd = unvouched_eight(evidence, listening.number_due) or two_noughts(evidence.words)
    if near or odd or evidence.forced > thresholds.forced_asked:
        meaning = all_asked(meaning)
    if listening.number_due:
        thresholds = replace(thresholds, log_from=max(thresholds.log_from, thresholds.bare_from))
    meaning = with_rivals(doubted(meaning, sure, thresholds), [read(words) for words in evidence.others])
    words = evidence.first.words
    said_at = words[0].start if words else evidence.segment.start
    return Hearing(evidence.segment, meaning, evidence.first.text, engines, round(sure, 3), said_at)


def read_words(phrases: Phrases, words: Words, listening: Listening) -> Meaning:
    """The meaning of what an engine heard; it may have heard nothing."""
    return understand(phrases, words, listening) if words else NotUnderstood(heard="")
