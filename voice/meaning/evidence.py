"""The hearings of one segment side by side, and how far they make the first of them believed.

Six witnesses are asked: how far behind the next best hearing with another meaning is; whether the same is heard in
copies of the sound that are a little slower and faster; whether a second net, which is smaller, hears it too, and how
clearly; how much better the sound fits any sounds at all than the grammar's; and whether an engine of another make
agrees or hears something else. The weights are fitted to the development clips and to voices that trained nothing, by
a library (`python -m tests.bench.hearing --fit`), so that the figure is a probability; that of an engine of another
make which hears something else to the unseen clips (tests/bench/README.md).

What is lost to the grammar is a share of the likelihood, not a sum for each second: in noise everything fits less, so
that a sum dropped entries at 8 dB and let talk in silence through. A phrase in whose sound no speech sounds are found
without the grammar is not believed: it fits noise better than nothing does, and had counted as surest of all ("right
cut", an emergency, at the start of a recording).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple, dataclass, replace

from log.basics.entry import Meaning, NotUnderstood
from voice.engines.protocol import RIVALS, Utterance
from voice.english.doubtful_digits import doubtful_eight, some_eight
from voice.meaning.thresholds import confidence, other_number, same_meaning, same_numbers
from voice.sound.segment import Segment

Words = tuple[str, ...]
Read = Callable[[Words], Meaning]
"""How words are read in the situation they were said in."""

FURTHEST = 4.0
"""Natural log: how far the search looks, the lattice-beam of the shipped model; what is not found is as far behind."""

SATURATED = 4.0
"""Natural log: a hearing that is further ahead than this is hardly believed any more for it."""

ANOTHER_MAKE = 1.0
"""Natural log: what it is worth that an engine of another make hears the same number."""

LEAST_A_SECOND = 20.0
"""Natural log: less than any sounds at all explain of a second of the faintest speech that was heard rightly (45)."""

SHORTEST_SECONDS = 0.5

ALL_OF_IT = 1.0
"""Share that is lost where without a grammar nothing is heard."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """All hearings of one segment."""

    segment: Segment
    first: Utterance
    """Hearing of the engine that is believed."""
    other: Words | None = None
    """Words of the engine of another make; None where there is none."""
    alike: float | None = None
    """Where one engine is alone: how much the hearing without a grammar sounds like the first, 0 to 1."""

    @property
    def words(self) -> Words:
        """Words of the first hearing."""
        return self.first.texts

    @property
    def forced(self) -> float:
        """Share of the likelihood that is lost to the grammar; below 0 where it helps, 0 where nothing is known.

        A share, because in noise any sounds at all fit less well, those of an entry as well as those of talk. All of it
        where no sounds are heard: then the grammar has made a phrase of noise, and surely.
        """
        if self.first.free is None:
            return 0.0
        if self.first.free == 0.0:
            return ALL_OF_IT
        least = LEAST_A_SECOND * max(self.segment.seconds, SHORTEST_SECONDS)
        return (self.first.free - self.first.score) / max(self.first.free, least)

    @property
    def others(self) -> Iterator[Words]:
        """Other hearings, the nearest first; nothing where one engine is alone."""
        if self.alike is None:
            yield from (rival.words for rival in self.first.rivals)
            heard = (self.first.second and self.first.second.texts, *self.first.alternatives, self.other)
            yield from (words for words in heard if words)


@dataclass(frozen=True, slots=True)
class Witnesses:
    """The evidence in figures. As weights: what each unit adds to the log odds."""

    margin: float
    """By how much the first hearing beats the next with another meaning: 0 to FURTHEST."""
    copies: float
    """Share of the copies in which the same is heard; 0 where there are none."""
    second: float
    """The same by the second net; negative where it prefers another meaning. 0 where there is no second net."""
    forced: float
    """As that of the evidence."""
    agrees: float
    """1 if the other engine gives the same entries."""
    differs: float
    """1 if the other engine gives other entries."""


WEIGHTS = Witnesses(margin=0.46, copies=1.888, second=0.306, forced=-5.678, agrees=2.111, differs=-1.738)
CONSTANT = -1.457


def witnesses(evidence: Evidence, meaning: Meaning, read: Read) -> Witnesses:
    """The witnesses for `meaning`, the reading of the first hearing."""
    second = evidence.first.second
    other = read(evidence.other) if evidence.other else NotUnderstood(heard="")
    agrees = same_meaning(meaning, other)
    return Witnesses(
        _lead(evidence.first, lambda words: not same_meaning(meaning, read(words))),
        _copies(evidence.first, meaning, read),
        0.0 if second is None else _second(second, meaning, read),
        evidence.forced,
        float(agrees),
        float(not agrees and not isinstance(other, NotUnderstood)),
    )


def figures(seen: Witnesses) -> tuple[float, ...]:
    """As they are weighed: beyond SATURATED a lead says hardly any more."""
    far = {name: SATURATED * math.tanh(getattr(seen, name) / SATURATED) for name in ("margin", "second")}
    return astuple(replace(seen, **far))


def number_lead(evidence: Evidence, meaning: Meaning, read: Read) -> float:
    """By how much the meaning beats the next that differs in nothing but a number, natural log.

    Both nets' leads add up; where the second prefers another number, that alone counts, and against the meaning. That
    an engine of another make hears the same counts as much as ANOTHER_MAKE.
    """
    second = evidence.first.second
    lead = _lead(evidence.first, lambda words: other_number(meaning, read(words)))
    if second is not None:
        own = read(second.texts)
        if other_number(meaning, own):
            return -_lead(second, lambda words: same_meaning(meaning, read(words)))
        if same_meaning(meaning, own):
            lead += _lead(second, lambda words: other_number(meaning, read(words)))
    agrees = evidence.other is not None and same_meaning(meaning, read(evidence.other))
    return lead + (ANOTHER_MAKE if agrees else 0.0)


def vouched_number(evidence: Evidence, meaning: Meaning, read: Read) -> bool:
    """Whether the engine of another make hears the same numbers."""
    return evidence.other is not None and same_numbers(meaning, read(evidence.other))


def unvouched_eight(evidence: Evidence, bare: bool) -> bool:
    """Whether both nets hear a doubtful "eight" and the engine of another make hears no eight, eighteen or eighty."""
    doubtful = evidence.alike is None and doubtful_eight(evidence.words, bare)
    return doubtful and not some_eight(evidence.other or ())


def _copies(first: Utterance, meaning: Meaning, read: Read) -> float:
    same = [same_meaning(meaning, read(words)) for words in first.alternatives if words]
    return sum(same) / max(len(first.alternatives), 1)


def _second(second: Utterance, meaning: Meaning, read: Read) -> float:
    if same_meaning(meaning, read(second.texts)):
        return _lead(second, lambda words: not same_meaning(meaning, read(words)))
    return -_lead(second, lambda words: same_meaning(meaning, read(words)))


def _lead(heard: Utterance, rivals: Callable[[Words], bool]) -> float:
    """How far behind the nearest of such rivals is. Where none is among as many as are compared, one may follow."""
    looked = heard.rivals[-1].behind if len(heard.rivals) == RIVALS - 1 else FURTHEST
    return min(next((rival.behind for rival in heard.rivals if rivals(rival.words)), looked), FURTHEST)


def belief(evidence: Evidence, meaning: Meaning, read: Read) -> float:
    """Probability, 0 to 1, that the first hearing is what was said."""
    if isinstance(meaning, NotUnderstood):
        return 0.0
    if evidence.alike is not None:
        copies = [float(same_meaning(meaning, read(copy))) for copy in evidence.first.alternatives]
        return confidence(evidence.alike, copies)
    return probability(figures(witnesses(evidence, meaning, read)))


def probability(seen: Sequence[float]) -> float:
    """The probability from the witnesses' figures, 0 to 1."""
    odds = CONSTANT + sum(weight * figure for weight, figure in zip(astuple(WEIGHTS), seen, strict=True))
    return 1 / (1 + math.exp(-max(min(odds, 50.0), -50.0)))
