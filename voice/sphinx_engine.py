"""The pocketsphinx engine: works straight after installation, with a strict grammar made from the definition.

Only this module imports pocketsphinx. It runs in a child process (the binding holds the interpreter lock while it
decodes) and hears two ways: with a grammar, and openly with the general language model that ships with it, which
shows how far the sound is from what the grammar made of it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from log.errors import EngineError
from voice.grammar import Grammar
from voice.recogniser import SAMPLE_RATE, Segment, Utterance, Word

OPEN = "open"
"""Name of the search that has no grammar."""

FRAME_SECONDS = 0.01

FOR_GRAMMARS: Mapping[str, object] = {"lm": None, "bestpath": False, "maxhmmpf": 1500}
"""No lattice search (it costs ten times the decoding in noise and its posteriors are of no use here), and a bound on
what is searched in a frame, so that noise cannot make an answer late."""

FOR_OPEN_HEARING: Mapping[str, object] = {"bestpath": False, "fwdflat": False, "maxhmmpf": 1000}
"""One pass is enough: its text is compared, never logged."""

ANOTHER_ENTRY = -7_000
"""Log probability (in the decoder's own base) of a second entry in one breath: dear, so that noise adds none."""


@dataclass(frozen=True, slots=True)
class SphinxSpec:
    """Everything the child process needs to build the engine."""

    grammars: Mapping[str, Grammar] = field(default_factory=dict)
    pronunciations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    hears_openly: bool = False
    name: str = "pocketsphinx"

    def build(self) -> SphinxEngine:
        """Called in the child process."""
        return SphinxEngine(self)


class SphinxEngine:
    """A decoder with its grammars loaded."""

    def __init__(self, spec: SphinxSpec) -> None:
        from pocketsphinx import Decoder

        self.name = spec.name
        self._decoder = Decoder(loglevel="FATAL", **(FOR_OPEN_HEARING if spec.hears_openly else FOR_GRAMMARS))
        self._open_search = self._decoder.current_search() if spec.hears_openly else None
        self._add_pronunciations(spec.pronunciations)
        self._refuse_unknown_words(spec.grammars)
        for grammar in spec.grammars.values():
            self._add_grammar(grammar)

    def hear(self, segment: Segment, grammar: str) -> Utterance:
        """Decodes one whole segment; words are empty when no complete phrase was heard."""
        decoder = self._decoder
        decoder.activate_search(self._open_search if grammar == OPEN else grammar)
        decoder.start_utt()
        decoder.process_raw(segment.pcm, full_utt=True)
        decoder.end_utt()
        hypothesis = decoder.hyp()
        words = self._words(segment) if hypothesis is not None and hypothesis.hypstr else ()
        return Utterance(words, self.name, segment.start, segment.end)

    def phones(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """The sounds of these words by the dictionary; a word that it lacks gives one sound of its own."""
        sounds = (self._decoder.lookup_word(word) or word for word in words)
        return tuple(phone for sound in sounds for phone in sound.split())

    def close(self) -> None:
        """The decoder is freed with the process."""

    def _words(self, segment: Segment) -> tuple[Word, ...]:
        found = []
        for part in self._decoder.seg():
            text = re.sub(r"\(\d+\)$", "", part.word)
            if text.startswith(("<", "[", "+", "(")):
                continue
            start = segment.start + part.start_frame * FRAME_SECONDS
            found.append(Word(text, start, segment.start + (part.end_frame + 1) * FRAME_SECONDS))
        return tuple(found)

    def _add_pronunciations(self, pronunciations: Mapping[str, tuple[str, ...]]) -> None:
        for word, variants in pronunciations.items():
            known = self._known_pronunciations(word)
            for variant in variants:
                if variant not in known:
                    known.append(variant)
                    name = word if len(known) == 1 else f"{word}({len(known)})"
                    try:
                        self._decoder.add_word(name, variant, update=False)
                    except RuntimeError:
                        raise EngineError(f'pronunciations.{word}: "{variant}" has a sound the dictionary does not know',
                                          "write it with the ARPAbet symbols the other words use") from None

    def _known_pronunciations(self, word: str) -> list[str]:
        known: list[str] = []
        name = word
        while (sound := self._decoder.lookup_word(name)) is not None:
            known.append(sound)
            name = f"{word}({len(known) + 1})"
        return known

    def _refuse_unknown_words(self, grammars: Mapping[str, Grammar]) -> None:
        words = sorted({word for grammar in grammars.values() for word in grammar.words})
        missing = [word for word in words if self._decoder.lookup_word(word) is None]
        if missing:
            raise EngineError(f"the speech engine cannot pronounce: {', '.join(missing)}",
                              "add them under [pronunciations] in the definition")

    def _add_grammar(self, grammar: Grammar) -> None:
        from pocketsphinx import FsgModel

        entry = grammar.entry
        end = len(entry.arcs)
        weight = float(self._decoder.config["lw"])
        graph = FsgModel(grammar.name, self._decoder.get_logmath(), weight, end + 1)
        ids = {word: graph.word_add(word) for word in sorted(entry.words)}
        for state, arcs in enumerate(entry.arcs):
            for word, target in arcs.items():
                graph.trans_add(state, target, 0, ids[word])
        for state in entry.final:
            graph.null_trans_add(state, end, 0)
            if grammar.repeats:
                graph.null_trans_add(state, 0, ANOTHER_ENTRY)
        graph.set_start_state(0)
        graph.set_final_state(end)
        self._decoder.add_fsg(grammar.name, graph)


class SpeechDetector(Protocol):
    """What the endpointer needs of a detector of speech in 30 ms frames."""

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking after the last frame."""
        ...

    @property
    def speech_start(self) -> float:
        """Seconds at which the present speech began."""
        ...

    def process(self, frame: bytes) -> bytes | None:
        """Takes one frame; gives the sound that belongs to speech, a little later than it came in."""
        ...


def speech_detector() -> SpeechDetector:
    """The detector that comes with pocketsphinx, as it is set by default: stricter settings cut off first sounds."""
    from pocketsphinx import Endpointer

    detector: SpeechDetector = Endpointer(sample_rate=SAMPLE_RATE)
    return detector
