"""The pocketsphinx engine: works straight after installation, with a strict grammar made from the definition.

Only this module imports pocketsphinx. It runs in a child process (the binding holds the interpreter lock while it
decodes). A strict grammar makes everything fit, so the engine hears everything again: slower and faster, without noise
removal, and openly with the general language model that comes with it. `voice.meaning.thresholds` weighs what they
agree on.

One pass, no lattice: the best-path search costs ten times the decoding in noise and its posteriors are of no use.
Without it, and with a bound on what is searched in a frame, the engine is faster and hears more. Its grammar has the
phrases as they are written: with the small words of a sentence it took 40 % longer and logged nothing more (110 and
109 of 120 sentences).
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from log.basics.errors import EngineError
from voice.engines.protocol import Utterance, Word
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.sound.speed import at_speed
from voice.templates.grammar import BREATH, ENTRIES, Grammar

FRAME_SECONDS = 0.01

SPEEDS = (0.925, 1.085)
"""The same sound a little slower and a little faster. What was really said is heard again in such copies; what the
grammar made out of noise seldom is (measured: tests/bench/README.md)."""

FOR_GRAMMARS: Mapping[str, object] = {"lm": None, "bestpath": False, "maxhmmpf": 1500}
"""No lattice search (it costs ten times the decoding in noise and its posteriors are of no use here), and a bound on
what is searched in a frame, so that noise cannot make an answer late."""

FOR_OPEN_HEARING: Mapping[str, object] = {"bestpath": False, "fwdflat": False, "maxhmmpf": 1000}
"""One pass is enough: its text is compared, never logged."""

ANOTHER_ENTRY = -100_000
"""Log probability, in the decoder's own base, of a second entry in one breath: dear, so that noise adds none."""

TOGETHER = {ENTRIES, BREATH}
"""Grammars with which the same sound is heard."""

SETTLING_SECONDS = 2

Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SphinxSpec:
    """Everything the child process needs to build the engine."""

    grammars: Mapping[str, Grammar]
    pronunciations: Mapping[str, Words]
    name: str = "pocketsphinx"
    copies: bool = True
    """Whether altered copies of the sound are heard as well."""

    def build(self) -> SphinxEngine:
        """Called in the child process."""
        return SphinxEngine(self)


class SphinxEngine:
    """Hears with the strict grammar, and hears slower and faster copies of the sound for comparison."""

    def __init__(self, spec: SphinxSpec) -> None:
        self.name = spec.name
        self._decoder, self._copies = _Decoder(FOR_GRAMMARS, spec), spec.copies
        self._breath = BREATH in spec.grammars
        for first in [*spec.grammars][:1]:
            self.prepare(first)

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """Decodes one whole segment; words are empty when no complete phrase was heard.

        `closely`: with the altered copies.
        """
        words = self._decoder.hear(segment.pcm, grammar, segment.start)
        copies: tuple[Words, ...] = ()
        if words and closely and self._copies and grammar != BREATH:
            copies = tuple(_texts(self._decoder.hear(at_speed(segment.pcm, speed), grammar)) for speed in SPEEDS)
        return Utterance(words, self.name, segment.start, segment.end, copies)

    def prepare(self, grammar: str) -> None:
        """Makes ready to hear with this grammar, and with two of its entries in a breath."""
        self._decoder.hold(grammar)
        if grammar == ENTRIES and self._breath:
            self._decoder.hold(BREATH)

    def follow(self, so_far: Segment, grammar: str) -> str:
        """The words of an utterance that is still being said."""
        return self.hear(so_far, grammar, closely=False).text

    def close(self) -> None:
        """The decoder is freed with the process."""


@dataclass(frozen=True, slots=True)
class SecondHearing:
    """The same segment heard in other ways."""

    raw: Words
    """With the same grammar, but without noise removal."""
    openly: Words
    """With no grammar at all."""


@dataclass(frozen=True, slots=True)
class SecondEarSpec:
    """Everything the child process needs to build the second ear."""

    grammars: Mapping[str, Grammar]
    pronunciations: Mapping[str, Words]
    name: str = "pocketsphinx (second hearing)"

    def build(self) -> SecondEar:
        """Called in the child process."""
        return SecondEar(self)


class SecondEar:
    """Hears everything again in other ways, to distinguish what was said from what a grammar makes of a cough."""

    def __init__(self, spec: SecondEarSpec) -> None:
        self.name = spec.name
        self._raw = _Decoder(FOR_GRAMMARS, spec, remove_noise=False)
        self._openly = _Decoder(FOR_OPEN_HEARING, SecondEarSpec({}, spec.pronunciations))

    def check(self, segment: Segment, grammar: str) -> SecondHearing:
        """Both other hearings of one segment."""
        return SecondHearing(_texts(self._raw.hear(segment.pcm, grammar)), _texts(self._openly.hear(segment.pcm, None)))

    def prepare(self, grammar: str) -> None:
        """Makes ready to hear with this grammar."""
        self._raw.hold(grammar)

    def phones(self, words: Words) -> Words:
        """The sounds of these words by the dictionary."""
        return self._openly.phones(words)

    def close(self) -> None:
        """The decoders are freed with the process."""


class _Decoder:
    """One pocketsphinx decoder with its dictionary and grammars."""

    def __init__(
        self, options: Mapping[str, object], spec: SphinxSpec | SecondEarSpec, remove_noise: bool = True
    ) -> None:
        from pocketsphinx import Decoder

        with tempfile.TemporaryDirectory() as folder:
            if spec.grammars:
                options = {**options, "dict": str(_part_of_dictionary(spec, Path(folder)))}
            self._decoder = Decoder(loglevel="FATAL", **options)
        if not remove_noise:  # as an option it would be overruled by the acoustic model's own settings
            self._decoder.config["remove_noise"] = False
            self._decoder.reinit_feat()
        self._open_search = None if "lm" in options else self._decoder.current_search()
        self._add_pronunciations(spec.pronunciations)
        self._refuse_unknown_words(spec.grammars)
        self._grammars, self._held = spec.grammars, set[str]()
        self._settle(next(iter(spec.grammars), None))

    def hold(self, grammar: str) -> None:
        """Has this grammar ready to hear with. Others are let go of, for each takes tens of megabytes."""
        if grammar in self._held:
            return
        if not TOGETHER.issuperset({grammar, *self._held}):
            for name in self._held:
                self._decoder.remove_search(name)
            self._held.clear()
        self._add_grammar(self._grammars[grammar])
        self._held.add(grammar)

    def _settle(self, grammar: str | None) -> None:
        """A fresh decoder hears its first sound a little differently; after some noise it hears the same every time."""
        if grammar is None and self._open_search is None:
            return
        noise = np.random.default_rng(0).normal(0, 300, SETTLING_SECONDS * SAMPLE_RATE)
        self.hear(noise.astype("<i2").tobytes(), grammar)

    def hear(self, pcm: bytes, grammar: str | None, start: float = 0.0) -> tuple[Word, ...]:
        """The words of one whole piece of sound; None is no grammar. `start` is added to the times."""
        decoder = self._decoder
        if grammar is not None:
            self.hold(grammar)
        decoder.activate_search(grammar or self._open_search)
        decoder.start_utt()
        decoder.process_raw(pcm, full_utt=True)
        decoder.end_utt()
        hypothesis = decoder.hyp()
        return self._words(start) if hypothesis is not None and hypothesis.hypstr else ()

    def phones(self, words: Words) -> Words:
        """The sounds of these words; a word that the dictionary lacks is one sound of its own."""
        sounds = (self._decoder.lookup_word(word) or word for word in words)
        return tuple(phone for sound in sounds for phone in sound.split())

    def _words(self, start: float) -> tuple[Word, ...]:
        found = []
        for part in self._decoder.seg():
            text = re.sub(r"\(\d+\)$", "", part.word)
            if text.startswith(("<", "[", "+", "(")):
                continue
            began, ended = part.start_frame * FRAME_SECONDS, (part.end_frame + 1) * FRAME_SECONDS
            found.append(Word(text, start + began, start + ended))
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
                        raise EngineError(
                            f'pronunciations.{word}: "{variant}" has a sound the dictionary does not know',
                            "write it with the ARPAbet symbols the other words use",
                        ) from None

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
            raise EngineError(
                f"the speech engine cannot pronounce: {', '.join(missing)}",
                "add them under [pronunciations] in the definition",
            )

    def _add_grammar(self, grammar: Grammar) -> None:
        from pocketsphinx import FsgModel

        first, then = grammar.entry, grammar.then
        last = then or first
        end = len(first.arcs) + (len(then.arcs) if then else 0)
        graph = FsgModel(grammar.name, self._decoder.get_logmath(), float(self._decoder.config["lw"]), end + 1)
        ids = {word: graph.word_add(word) for word in sorted(grammar.words)}
        offset = 0
        for part in (first, then) if then else (first,):
            for state, arcs in enumerate(part.arcs):
                for word, target in arcs.items():
                    graph.trans_add(offset + state, offset + target, 0, ids[word])
            for state in part.final:
                graph.null_trans_add(offset + state, *((end, 0) if part is last else (len(first.arcs), ANOTHER_ENTRY)))
            offset += len(part.arcs)
        graph.set_start_state(0)
        graph.set_final_state(end)
        self._decoder.add_fsg(grammar.name, graph)


def _texts(words: tuple[Word, ...]) -> Words:
    return tuple(word.text for word in words)


def _part_of_dictionary(spec: SphinxSpec | SecondEarSpec, folder: Path) -> Path:
    """What the grammars need of it, as a file: all 135,000 words would take as much memory as a grammar."""
    needed = {*spec.pronunciations, *(word for grammar in spec.grammars.values() for word in grammar.words)}
    target = folder / "words.dict"
    with dictionary().open(encoding="utf-8") as lines, target.open("w", encoding="utf-8") as kept:
        kept.writelines(line for line in lines if line.partition(" ")[0].partition("(")[0] in needed)
    return target


def dictionary() -> Path:
    """The pronunciations that come with pocketsphinx: a word and its phones (ARPAbet without stress) a line."""
    from pocketsphinx import get_model_path

    return Path(get_model_path()) / "en-us" / "cmudict-en-us.dict"
