"""The verdict on one segment: logged, asked with what else it could have been, or not meant for the log.

A number that has a sound-alike in its slot (fifteen, fifty) is asked, unless it was said digit by digit ("one five")
or as number and digits ("fifteen, one five"), or ears of two independent makes hear the same one, surely
(`Thresholds.alike_from`) and with no other number near (`Thresholds.number_margin`). One ear alone never settles it.

Ears that hear different numbers, or different directions of the same entry, are a question, however sure each is. So is
a sentence that is no phrase, for one ear hears it alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from log.basics.entry import Meaning, NotUnderstood
from log.facts.spoken_notes import cries_out
from voice.english.doubtful_digits import doubtful_eight, two_noughts
from voice.meaning.evidence import Evidence, Proposal, Read, Words, number_lead, proposals
from voice.meaning.matcher import Listening, settled, understand
from voice.meaning.thresholds import Thresholds, all_asked, doubted, other_number, same_meaning, with_rivals
from voice.phrases.phrases import Phrases
from voice.sound.segment import Segment


@dataclass(frozen=True, slots=True)
class Hearing:
    """The verdict on one segment."""

    segment: Segment
    meaning: Meaning
    text: str
    """The words that were believed."""
    engine: str
    confidence: float
    said_at: float
    """Seconds from the start of the source to the first word."""


def judged(phrases: Phrases, evidence: Evidence, listening: Listening, thresholds: Thresholds, engines: str) -> Hearing:
    """The verdict on the evidence: logged, asked with the alternatives, or not meant for the log."""

    @cache
    def read(words: Words) -> Meaning:
        return read_words(phrases, words, listening)

    every = proposals(evidence, read, listening.number_due)
    found = [one for one in every if may_be_meant(phrases, evidence, one.said.texts, one.meaning, listening)]
    if not found:
        return _nothing(evidence, read, engines)
    best = found[0]
    if listening.number_due:
        thresholds = _of_bare_numbers(thresholds)
    meaning = _weighed(best, evidence, read, thresholds, listening.number_due)
    meaning = with_rivals(doubted(meaning, best.sure, thresholds), [read(words) for words in evidence.rivals])
    return Hearing(evidence.segment, meaning, best.said.text, engines, round(best.sure, 3), _said_at(evidence, best))


def may_be_meant(phrases: Phrases, evidence: Evidence, words: Words, meaning: Meaning, listening: Listening) -> bool:
    """Whether a reading counts at all. Talk is sentences, too; and an emergency has to be what an ear heard first, not
    what it nearly heard.
    """
    if listening.in_talk and evidence.is_sentence(words):
        return False
    heard_first = any(words == said.texts for said in evidence.heard.values())
    return heard_first or not cries_out(phrases.procedure, meaning)


def _of_bare_numbers(thresholds: Thresholds) -> Thresholds:
    """Stricter: nothing around a bare number can contradict it."""
    log_from = max(thresholds.log_from, thresholds.bare_from)
    return replace(thresholds, log_from=log_from, alike_from=max(log_from, thresholds.alike_from))


def _weighed(best: Proposal, evidence: Evidence, read: Read, thresholds: Thresholds, bare: bool) -> Meaning:
    """The likeliest reading, settled where both ears prove its number, asked where something contradicts it however
    likely it is.
    """
    words = best.said.texts
    others = [read(said.texts) for said in evidence.heard.values()]
    vouched = len(others) > 1 and all(same_meaning(best.meaning, other) for other in others)
    odd = two_noughts(words) or (doubtful_eight(words, bare) and not vouched)
    odd = odd or any(other_number(best.meaning, other) for other in others)
    if odd or not (best.said.phrase or vouched):
        return all_asked(best.meaning)
    clear = all(number_lead(said, best.meaning, read) >= thresholds.number_margin for said in evidence.heard.values())
    return settled(best.meaning) if vouched and clear and best.sure >= thresholds.alike_from else best.meaning


def _nothing(evidence: Evidence, read: Read, engines: str) -> Hearing:
    """Nothing that was understood counts; the words of the ear that heard some are shown."""
    said = next((said for said in evidence.heard.values() if said.words), None)
    text = "" if said is None else said.text
    meaning = NotUnderstood(heard=text) if said is None else read(said.texts)
    if not isinstance(meaning, NotUnderstood):
        meaning = NotUnderstood(heard=text)
    began = evidence.segment.start if said is None else said.words[0].start
    return Hearing(evidence.segment, meaning, text, engines, 0.0, began)


def _said_at(evidence: Evidence, best: Proposal) -> float:
    """The net knows when a word was said; the people's ear knows when it began to hear sounds."""
    timed = evidence.net if evidence.net is not None and evidence.net.words else best.said
    return timed.words[0].start


def read_words(phrases: Phrases, words: Words, listening: Listening) -> Meaning:
    """The meaning of what an engine heard; it may have heard nothing."""
    return understand(phrases, words, listening) if words else NotUnderstood(heard="")
