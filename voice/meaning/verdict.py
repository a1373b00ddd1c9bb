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
from voice.english.doubtful_digits import doubtful_eight, two_noughts
from voice.meaning.evidence import Evidence, Proposal, Read, Words, number_lead, proposals
from voice.meaning.matcher import Listening, settled, understand
from voice.meaning.thresholds import Thresholds, all_asked, doubted, likeliest, other_number, same_meaning, with_rivals
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

    found = proposals(evidence, read, listening.number_due)
    if listening.in_talk:  # talk is sentences, too
        found = [one for one in found if one.said.phrase]
    found = [one for one in found if _heard_first(one, evidence) or not _is_urgent(phrases, one.meaning)]
    if not found:
        return _nothing(evidence, read, engines)
    best = found[0]
    thresholds = _stricter(thresholds, alone=len(evidence.heard) == 1, bare=listening.number_due)
    meaning = _weighed(best, evidence, read, thresholds, listening.number_due)
    meaning = with_rivals(doubted(meaning, best.sure, thresholds), [read(words) for words in evidence.rivals])
    return Hearing(evidence.segment, meaning, best.said.text, engines, round(best.sure, 3), _said_at(evidence, best))


def _heard_first(proposal: Proposal, evidence: Evidence) -> bool:
    """Whether an ear heard these very words, and not others that mean nothing."""
    return any(proposal.said.texts == said.texts for said in evidence.heard.values())


def _is_urgent(phrases: Phrases, meaning: Meaning) -> bool:
    """Whether it calls an emergency: of all readings, that one has to be what was heard."""
    kinds = {template.kind.id for template in phrases.urgent}
    return any(entry.kind in kinds for entry in likeliest(meaning))


def _stricter(thresholds: Thresholds, alone: bool, bare: bool) -> Thresholds:
    """Those of one ear that hears alone, and of a bare number, that nothing around it can contradict."""
    log_from = max(thresholds.log_from, thresholds.alone_from if alone else 0.0, thresholds.bare_from if bare else 0.0)
    return replace(thresholds, log_from=log_from, alike_from=max(log_from, thresholds.alike_from))


def _weighed(best: Proposal, evidence: Evidence, read: Read, thresholds: Thresholds, bare: bool) -> Meaning:
    """The likeliest reading, settled where both ears prove its number, asked where something contradicts it however
    likely it is.
    """
    words = best.said.texts
    if best.said.phrase and evidence.forced > thresholds.forced_most:
        return NotUnderstood(heard=best.said.text)
    others = [read(said.texts) for said in evidence.heard.values()]
    vouched = len(others) > 1 and all(same_meaning(best.meaning, other) for other in others)
    odd = two_noughts(words) or (doubtful_eight(words, bare) and not vouched)
    odd = odd or any(other_number(best.meaning, other) for other in others)
    if odd or evidence.forced > thresholds.forced_asked or not (best.said.phrase or vouched):
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
