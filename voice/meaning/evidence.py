"""The hearings of one segment side by side, and how likely each of their readings is what was said.

Every ear proposes what it hears. For each proposal all ears are witnesses: how far it leads in their hearing or is
behind there, how much the sound loses to the grammar, how clear any sounds are at all, and whether ears of independent
makes hear the same. The weights are data (`belief.toml`), fitted by a library to speech that trained nothing
(`python -m tests.bench.hearing --fit`), so that the figure is a probability; each set of ears has its own.

What the net loses to the grammar counts where the people's ear understood nothing; where it did, how well the grammar
fits is that ear's to say. It is a share of the likelihood, not a sum for each second: in noise everything fits less, so
that a sum dropped entries at 8 dB and let talk in silence through. A phrase in whose sound no speech sounds are found
without the grammar fits noise better than nothing does: all of it is lost.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from log.basics.entry import Meaning, NotUnderstood
from voice.engines.protocol import RIVALS, Rival, Utterance, Word
from voice.meaning.thresholds import other_number, same_meaning
from voice.sound.segment import Segment

Words = tuple[str, ...]
Read = Callable[[Words], Meaning]
"""How words are read in the situation they were said in."""

Figures = dict[str, float]
"""Witness -> figure, or weight."""

FURTHEST = 4.0
"""Natural log: how far the search looks, the lattice-beam of the shipped model; what is not found is as far behind. A
hearing that is further ahead is hardly believed any more for it."""

LEAST_A_SECOND = 20.0
"""Natural log: less than any sounds at all explain of a second of the faintest speech that was heard rightly (45)."""

SENTENCE = "sentence"
"""The set of weights for what is no phrase: the people's ear alone hears it."""

SHORTEST_SECONDS = 0.5

ALL_OF_IT = 1.0
"""Share that is lost where without a grammar nothing is heard."""

MOST_LOST = 40.0
"""Natural log: more lost to the grammar says nothing more."""

MOST_WORDS = 8
"""Longer phrases are no surer for it."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """The hearings of one segment by the ears that there are."""

    segment: Segment
    people: Utterance | None = None
    """Hearing of people-en."""
    net: Utterance | None = None
    """Hearing of vosk's net."""

    @property
    def heard(self) -> Mapping[str, Utterance]:
        """Ear -> its hearing."""
        ears = {"people": self.people, "net": self.net}
        return {name: said for name, said in ears.items() if said is not None}

    @property
    def forced(self) -> float:
        """Share of the likelihood that the net loses to the grammar; below 0 where it helps, 0 where nothing is known.
        All of it where no sounds are heard: then the grammar has made a phrase of noise, and surely.
        """
        if self.net is None or self.net.free is None or not self.net.words:
            return 0.0
        if self.net.free == 0.0:
            return ALL_OF_IT
        least = LEAST_A_SECOND * max(self.segment.seconds, SHORTEST_SECONDS)
        return (self.net.free - self.net.score) / max(self.net.free, least)

    def is_sentence(self, words: Words) -> bool:
        """Whether these words were heard as people say them and not as a phrase."""
        ways = () if self.people is None else _ways(self.people)
        return any(way.words == words and not way.phrase for way in ways)

    @property
    def rivals(self) -> Iterator[Words]:
        """All that was heard, the first hearings first, then what is nearest to them."""
        yield from (said.texts for said in self.heard.values() if said.words)
        for said in self.heard.values():
            yield from (rival.words for rival in said.rivals)


@dataclass(frozen=True, slots=True)
class Proposal:
    """One reading of what was heard."""

    meaning: Meaning
    said: Utterance
    """The first hearing that has it."""
    sure: float
    """Probability, 0 to 1, that it is what was said."""


def proposals(evidence: Evidence, read: Read, bare: bool) -> list[Proposal]:
    """The hearings of the ears, each reading once, the likeliest first. `bare`: nothing but a number is due."""
    found = (
        Proposal(one, said, belief(evidence, one, said.texts, read, bare)) for one, said in readings(evidence, read)
    )
    return sorted(found, key=lambda proposal: -proposal.sure)


def readings(evidence: Evidence, read: Read) -> list[tuple[Meaning, Utterance]]:
    """The meanings that the ears understand, each reading once, and the first hearing that has it."""
    found: list[tuple[Meaning, Utterance]] = []
    for said in evidence.heard.values():
        way = understood(said, read)
        if way is not None and not any(same_meaning(read(way.words), known) for known, _ in found):
            found.append((read(way.words), _as_heard(said, way)))
    return found


def understood(said: Utterance, read: Read) -> Rival | None:
    """The likeliest way to hear it that means something: "has two c" is "has to see". None where an ear heard nothing
    first, or nothing near means anything.
    """
    near = (way for way in _ways(said) if way.behind < FURTHEST)
    return next((way for way in near if not isinstance(read(way.words), NotUnderstood)), None)


def _ways(said: Utterance) -> tuple[Rival, ...]:
    """The words that were heard first, and the other ways."""
    return (Rival(said.texts, 0.0, said.phrase), *said.rivals) if said.words else ()


def _as_heard(said: Utterance, way: Rival) -> Utterance:
    """The utterance with the words of one of its ways."""
    if way.words == said.texts:
        return said
    first, last = said.words[0].start, said.words[-1].end
    return replace(said, words=tuple(Word(text, first, last) for text in way.words), phrase=way.phrase)


def belief(evidence: Evidence, meaning: Meaning, words: Words, read: Read, bare: bool) -> float:
    """Probability, 0 to 1, that this reading of these words is what was said."""
    ears = SENTENCE if evidence.is_sentence(words) else "-".join(evidence.heard)
    return probability(witnesses(evidence, meaning, words, read, bare), weights()[ears])


def witnesses(evidence: Evidence, meaning: Meaning, words: Words, read: Read, bare: bool) -> Figures:
    """The evidence for a reading in figures."""
    figures = {"words": min(len(words), MOST_WORDS) / MOST_WORDS}
    if evidence.people is not None:
        figures |= _heard_by("people", evidence.people, meaning, read) | _sounds(evidence.people, evidence.segment)
    if evidence.is_sentence(words):  # the people's ear alone hears them
        return figures
    if evidence.net is not None:
        alone = evidence.people is None or understood(evidence.people, read) is None
        forced = max(0.0, min(evidence.forced, ALL_OF_IT)) if alone else 0.0
        figures |= _heard_by("net", evidence.net, meaning, read) | {"net_forced": forced}
    if len(evidence.heard) > 1:
        figures["agree"] = float(all(same_meaning(meaning, read(one.texts)) for one in evidence.heard.values()))
    return figures | {"bare": float(bare)}


def _heard_by(ear: str, said: Utterance, meaning: Meaning, read: Read) -> Figures:
    return {
        f"{ear}_lead": _flattened(lead(said, meaning, read)),
        f"{ear}_number": _flattened(number_lead(said, meaning, read)),
        f"{ear}_silent": float(understood(said, read) is None),
    }


def _sounds(said: Utterance, segment: Segment) -> Figures:
    """The loss of the people's ear to the grammar, natural log, and how unclear any sounds at all are, a second."""
    if not said.words or said.free is None:
        return {"people_lost": 0.0, "people_unclear": 0.0}
    lost = min(max(said.free - said.score, 0.0), MOST_LOST) / MOST_LOST
    return {"people_lost": lost, "people_unclear": -said.free / max(segment.seconds, SHORTEST_SECONDS)}


def lead(said: Utterance, meaning: Meaning, read: Read) -> float:
    """By how much the meaning is ahead of all others in one ear's hearing, natural log; negative where it is behind, 0
    where the ear understood nothing.
    """
    if understood(said, read) is None:
        return 0.0
    ours = _nearest(said, lambda words: same_meaning(meaning, read(words)))
    return _nearest(said, lambda words: not same_meaning(meaning, read(words))) - ours


def number_lead(said: Utterance, meaning: Meaning, read: Read) -> float:
    """The same among readings that differ from it in nothing but a number; 0 where the ear heard neither."""
    way = understood(said, read)
    own = read(way.words) if way else NotUnderstood(heard="")
    if not (same_meaning(meaning, own) or other_number(meaning, own)):
        return 0.0
    ours = _nearest(said, lambda words: same_meaning(meaning, read(words)))
    return _nearest(said, lambda words: other_number(meaning, read(words))) - ours


def _flattened(ahead: float) -> float:
    return FURTHEST * math.tanh(ahead / FURTHEST)


def _nearest(said: Utterance, wanted: Callable[[Words], bool]) -> float:
    """How far behind the nearest of such ways is. Where none is among as many as are compared, one may follow."""
    looked = said.rivals[-1].behind if len(said.rivals) >= RIVALS - 1 else FURTHEST
    return min(next((way.behind for way in _ways(said) if wanted(way.words)), looked), FURTHEST)


def probability(figures: Figures, weighed: Mapping[str, float]) -> float:
    """The probability from the witnesses' figures, 0 to 1."""
    odds = weighed["constant"] + sum(weighed[name] * figure for name, figure in figures.items())
    return 1 / (1 + math.exp(-max(min(odds, 50.0), -50.0)))


@cache
def weights() -> Mapping[str, Mapping[str, float]]:
    """Set of ears -> what each unit of a witness's figure adds to the log odds, and the constant."""
    table: dict[str, dict[str, float]] = tomllib.loads(
        (files("voice.meaning") / "belief.toml").read_text(encoding="utf-8")
    )
    return table
