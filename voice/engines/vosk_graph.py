"""The language that may be said, as the two graphs of a vosk model: which words follow each other, and how words
sound.

vosk's own run-time grammar lets words recombine ("gastric thirty seven"); the graphs made here allow the definition's
phrases and nothing else, except noises and other talk, which come out as `[unk]`, and silence.

The sounds are those of acoustic models of our make: SIL and ARPAbet sounds without stress, each in four variants by
its place in the word (begin, end, internal, singleton), one state with two transitions a variant, numbered as Kaldi
does.

An unknown word may stand within a phrase wherever no number is being said, in the graphs of nets of our make: a strict
grammar made a complete kit of "kit incomplete", and a wrong position of "x-ray shows good position". It costs 6.5 nats
beside its sounds; at 4.5 more entries are asked in noise and accents (tests/bench). A ready-made model has one sound
for all that is no word, and noise is among it, so it gets none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from voice.engines.openfst import EMPTY, Arc, Graph
from voice.templates.acceptor import Acceptor

UNKNOWN = "[unk]"
"""The word for everything that is none of the words."""

SILENCE = "SIL"

_PLACES = ("begin", "end", "internal", "singleton")
"""In the order in which the variants of a sound are numbered."""


@dataclass(frozen=True, slots=True)
class GraphParameters:
    """Costs (negative natural logarithms) and probabilities of the graphs."""

    stay: float = 0.7
    """Probability of staying in a sound for another frame of 0.03 s. Above one half every further sound costs
    something, so that fewer are made up (fifty for fifteen)."""
    silence: float = 0.5
    """Probability of silence at the start and after a word."""
    unknown_sound: float = 2.5
    """Cost of each sound of an unknown word. Much cheaper, the search overflows; dearer, noise becomes words."""
    unknown_start: float = 2.0
    """Cost of beginning an unknown word, beside its sounds."""
    unknown_word: float = 3.0
    """Cost of each unknown word in a sentence."""
    unknown_within: float | None = 6.5
    """Cost of an unknown word within a phrase, beside its sounds; None if there may be none. Cheaper, noise breaks
    phrases; dearer, a phrase is made of what is nearly one."""
    turned: float = 2.0
    """Cost of each word that leads nowhere. Cheaper, noise turns statements round; dearer, it is not heard."""
    another_entry: float = 9.0
    """Cost of a second entry in one breath. Dear enough that noise adds none: at half of it, entries are lost."""


DEFAULTS = GraphParameters()


@dataclass(frozen=True, slots=True)
class Words:
    """The words of a model with their labels."""

    labels: Mapping[str, int]
    """Word -> label, from 1."""

    @classmethod
    def of(cls, words: Iterable[str]) -> Words:
        """These words and the unknown one, numbered in alphabetical order."""
        return cls({word: label for label, word in enumerate(sorted({*words, UNKNOWN}), start=1)})

    def text(self) -> str:
        """The content of words.txt."""
        ordered = sorted((label, word) for word, label in self.labels.items() if label != EMPTY)
        return "".join(f"{word} {label}\n" for label, word in ((EMPTY, "<eps>"), *ordered))


def without(acceptor: Acceptor, words: Words) -> Acceptor:
    """The phrases of which all words are in `words`. States keep their numbers; some are not reached any more."""
    leads: dict[int, bool] = {}

    def leads_to_an_end(state: int) -> bool:
        if state not in leads:
            onward = {leads_to_an_end(after) for word, after in acceptor.arcs[state].items() if word in words.labels}
            leads[state] = True in onward or state in acceptor.final
        return leads[state]

    leads_to_an_end(0)
    return Acceptor(
        tuple(
            {word: after for word, after in onward.items() if word in words.labels and leads.get(after)}
            for onward in acceptor.arcs
        ),
        acceptor.final,
        tuple(loops.intersection(words.labels) for loops in acceptor.loops),
    )


def sentences(
    entry: Acceptor,
    then: Acceptor | None,
    words: Words,
    parameters: GraphParameters = DEFAULTS,
    must: bool = True,
) -> Graph:
    """Gr.fst: one entry; followed by another if there is `then` (or with `must` false: if one was said); or unknown
    words only; or nothing, which costs nothing, else words are made up when the sound ends early. Where words lead
    nowhere, unknown ones may stand too: what is nearly a phrase is heard as that and not as the phrase.
    """
    count = len(entry.arcs)
    arcs = list(_steps(entry, words, 0, parameters))
    final = {0: 0.0} | ({} if then and must else dict.fromkeys(entry.final, 0.0))
    if then:  # its start falls together with every end of the first, so that no step is empty
        arcs += [
            Arc(end, count + after, words.labels[word], words.labels[word], parameters.another_entry)
            for end in sorted(entry.final)
            for word, after in then.arcs[0].items()
        ]
        arcs += _steps(then, words, count, parameters)
        final |= dict.fromkeys((count + end for end in then.final), 0.0)
        count += len(then.arcs)
    unknown = words.labels.get(UNKNOWN)
    if unknown:
        arcs += [Arc(before, count, unknown, unknown, parameters.unknown_word) for before in (0, count)]
        final[count] = 0.0
        count += 1
    return Graph(count, arcs, final)


def _steps(acceptor: Acceptor, words: Words, offset: int, parameters: GraphParameters) -> Iterable[Arc]:
    for state, onward in enumerate(acceptor.arcs):
        for word, after in onward.items():
            label = words.labels[word]
            yield Arc(offset + state, offset + after, label, label, 0.0)
    unknown = words.labels.get(UNKNOWN)
    for state, loops in enumerate(acceptor.loops):
        for label in sorted(words.labels[word] for word in loops):
            yield Arc(offset + state, offset + state, label, label, parameters.turned)
        if loops and unknown and parameters.unknown_within is not None:
            yield Arc(offset + state, offset + state, unknown, unknown, parameters.unknown_within)


class Sounds:
    """The sounds of an acoustic model of our make, and the numbers that Kaldi gives them and their transitions."""

    def __init__(self, phones: Sequence[str]) -> None:
        """`phones`: the base phones in the net's order, SIL first."""
        if not phones or phones[0] != SILENCE or len(set(phones)) < len(phones):
            raise ValueError(f"the sounds have to begin with {SILENCE} and differ from each other")
        self.phones = tuple(phones[1:])
        self._base = {phone: 2 + len(_PLACES) * place for place, phone in enumerate(self.phones)}

    @property
    def count(self) -> int:
        """How many there are, with all variants."""
        return 1 + len(_PLACES) * len(self.phones)

    def number(self, phone: str, place: str = "") -> int:
        """Kaldi's number of a phone; `place` is not asked for silence. Raises KeyError for an unknown phone."""
        return 1 if phone == SILENCE else self._base[phone] + _PLACES.index(place)

    def in_word(self, phones: Sequence[str]) -> list[int]:
        """The numbers of a word's phones by their places in it. Raises KeyError for an unknown phone."""
        inner = ["internal"] * (len(phones) - 2)
        places = ["singleton"] if len(phones) == 1 else ["begin", *inner, "end"]
        return [self.number(phone, place) for phone, place in zip(phones, places, strict=True)]

    def word_boundary(self) -> str:
        """The content of phones/word_boundary.int."""
        places = ("nonword", *(place for _ in self.phones for place in _PLACES))
        return "".join(f"{number} {place}\n" for number, place in enumerate(places, start=1))

    def disambiguation(self) -> str:
        """The content of disambig_tid.int: no such symbol is needed, the file is; one number that no transition has."""
        return f"{2 * self.count + 1}\n"


def _stay(sound: int) -> int:
    """Kaldi's number of the transition that stays in a sound."""
    return 2 * sound - 1


def _enter(sound: int) -> int:
    """Kaldi's number of the transition that leaves a sound's state; in a chain model it is taken on entering."""
    return 2 * sound


class _Pronouncing:
    """The graph of words' sounds, made piece by piece."""

    def __init__(self, sounds: Sounds, parameters: GraphParameters) -> None:
        self.sounds = sounds
        self.arcs: list[Arc] = []
        self.states = 0
        self.entering, self.staying = -math.log(1 - parameters.stay), -math.log(parameters.stay)
        self.silent, self.speaking = -math.log(parameters.silence), -math.log(1 - parameters.silence)

    def state(self) -> int:
        self.states += 1
        return self.states - 1

    def empty(self, before: int, after: int, word: int = EMPTY, cost: float = 0.0) -> None:
        self.arcs.append(Arc(before, after, EMPTY, word, cost))

    def sound(self, before: int, sound: int, word: int = EMPTY, cost: float = 0.0) -> int:
        """One sound of one frame or more; gives the state after it."""
        after = self.state()
        self.arcs.append(Arc(before, after, _enter(sound), word, cost + self.entering))
        self.arcs.append(Arc(after, after, _stay(sound), EMPTY, self.staying))
        return after

    def maybe_silence(self, before: int, after: int) -> None:
        self.empty(before, after, cost=self.speaking)
        self.empty(self.sound(before, self.sounds.number(SILENCE), cost=self.silent), after)

    def word(self, before: int, after: int, word: int, sounds: Sequence[int]) -> None:
        state = before
        for place, sound in enumerate(sounds):
            state = self.sound(state, sound, EMPTY if place else word)
        self.empty(state, after)

    def unknown(self, before: int, after: int, word: int, parameters: GraphParameters) -> None:
        """Two sounds or more, whichever."""
        start, within, end = self.state(), self.state(), self.state()
        self.empty(before, start, word, parameters.unknown_start)
        steps = ((start, "begin", within), (within, "internal", within), (within, "end", end))
        for phone in self.sounds.phones:
            for source, place, target in steps:
                number = self.sounds.number(phone, place)
                self.empty(self.sound(source, number, cost=parameters.unknown_sound), target)
        self.empty(end, after)


def pronunciations(
    sounds: Sounds,
    lexicon: Mapping[str, Sequence[Sequence[str]]],
    words: Words,
    parameters: GraphParameters = DEFAULTS,
) -> Graph:
    """HCLr.fst: every word in each of its pronunciations, silence around them, and the unknown word.

    The word's label is on its first step, so that the search knows at once which words can follow. Inputs are numbers
    of transitions. `lexicon`: word -> pronunciations as phones. Raises KeyError for a phone the model does not have.
    """
    graph = _Pronouncing(sounds, parameters)
    start, between, after = graph.state(), graph.state(), graph.state()
    graph.maybe_silence(start, between)
    graph.maybe_silence(after, between)
    for word in sorted(lexicon):
        for phones in lexicon[word]:
            graph.word(between, after, words.labels[word], sounds.in_word(phones))
    graph.unknown(between, after, words.labels[UNKNOWN], parameters)
    return Graph(graph.states, graph.arcs, {start: 0.0, between: 0.0})
