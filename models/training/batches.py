"""Puts utterances together into batches: who speaks, when in the batch's time, and which sounds that makes.

Drawing is done by processes of its own; the sound itself stays on the training device all the time.
"""

from __future__ import annotations

import io
import json
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.training.plan import Spoken, read_plan
from models.training.synthesise import SAMPLE_RATE, trimmed

DIGITS = frozenset(("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"))
GREATER = frozenset(
    (
        *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
        *("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety", "hundred"),
    )
)
VOICES_IN_A_ROW = 4
SLOWEST, FASTEST = 0.82, 1.22
MOST_SOUNDS = 140
PAUSE = (-0.12, 0.4)
"""Seconds between utterances, each of which has 0.15 s of silence around it."""

REPEATED = 0.15
"""Chance that a digit is said once more: "five five" must not become "five"."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Utterance:
    """Where an utterance lies in the sound of all, and its sounds word by word."""

    start: int
    length: int
    words: list[list[int]]


@dataclass(frozen=True, slots=True)
class Batch:
    """`B` items of `samples` each, with up to four utterances one after the other."""

    samples: int
    speed: NDArray[np.float32]
    """(B)."""
    source: Ints
    """(B, 4): where each utterance begins in the sound of all."""
    at: Ints
    """(B, 4): where it begins in the item, before the change of speed."""
    length: Ints
    """(B, 4): in samples; 0 where there is none."""
    loudness: NDArray[np.float32]
    """(B, 4)."""
    sounds: Ints
    """(B, n): the right sequence, silences included."""
    optional: NDArray[np.bool_]
    """(B, n): silences that may be absent."""
    lengths: Ints
    """(B): of the sequences."""
    people: NDArray[np.bool_]
    """(B): said by a real person."""


class People:
    """The clips of real people: each a speaker, and few words."""

    def __init__(self, folder: Path) -> None:
        """Reads `people.json` and `people.bin`; without them there are none."""
        import soundfile

        self.waves: list[NDArray[np.int16]] = []
        self.words: list[list[list[int]]] = []
        self.speakers: list[str] = []
        self.texts: list[str] = []
        if not (folder / "people.json").exists():
            return
        packed = (folder / "people.bin").read_bytes()
        for speaker, text, words, first, length in json.loads((folder / "people.json").read_text(encoding="utf-8")):
            wave, rate = soundfile.read(io.BytesIO(packed[first : first + length]), dtype="float32")
            sound = trimmed(wave) if rate == SAMPLE_RATE else None
            if sound is not None:
                self.waves.append(sound)
                self.words.append(words)
                self.speakers.append(speaker)
                self.texts.append(text)


class Drawer:
    """Draws batches. `add` tells of synthetic speech that has come since."""

    def __init__(self, settings: dict[str, Any], plan: list[Spoken], people: People, seed: int) -> None:
        self._rng = np.random.default_rng(seed)
        self._augment, self._plan = settings["augment"], plan
        self._voices: defaultdict[str, list[Utterance]] = defaultdict(list)
        self._people: list[Utterance] = []
        self._by_speaker: dict[str, list[int]] = {}
        self._digits: list[int] = []
        self._greater: list[int] = []
        self._speakers, self._texts = people.speakers, people.texts
        start = 0
        for number, (wave, words, speaker) in enumerate(zip(people.waves, people.words, people.speakers, strict=True)):
            self._people.append(Utterance(start, len(wave), words))
            self._by_speaker.setdefault(speaker, []).append(number)
            if people.texts[number] in DIGITS:
                self._digits.append(number)
            elif GREATER.intersection(people.texts[number].split()):
                self._greater.append(number)
            start += len(wave)
        self._end = start

    def add(self, lengths: Ints, which: Ints) -> None:
        """A piece of synthetic speech."""
        for length, number in zip(lengths.tolist(), which.tolist(), strict=True):
            said = self._plan[number]
            self._voices[said.engine].append(Utterance(self._end, length, said.sounds))
            self._end += length

    def draw(self, many: int) -> Batch:
        """A batch of items of one length."""
        rng = self._rng
        seconds = rng.choice(self._augment["seconds"], p=self._augment["seconds_share"])
        samples = int(seconds * SAMPLE_RATE)
        speed = rng.uniform(SLOWEST, FASTEST, many).astype(np.float32)
        places = [np.zeros((many, VOICES_IN_A_ROW), np.int64) for _ in range(3)]
        loudness = rng.uniform(0.6, 1.0, (many, VOICES_IN_A_ROW)).astype(np.float32)
        sequences, people = [], np.zeros(many, bool)
        for item in range(many):
            chosen, people[item] = self._chosen(samples, float(speed[item]))
            room = samples * min(1.0, float(speed[item])) - sum(u.length for u in chosen)
            at = min(rng.uniform(0.03, 0.5) * SAMPLE_RATE, max(room, 0) * 0.6)
            rest = max(room - at, 0.0) / max(len(chosen), 1)
            sequence = [0]
            for turn, utterance in enumerate(chosen):
                for place, value in zip(places, (utterance.start, int(at), utterance.length), strict=True):
                    place[item, turn] = value
                at += utterance.length + min(rest, rng.uniform(*PAUSE) * SAMPLE_RATE)
                for word in utterance.words:
                    sequence += [*word, 0]
            sequences.append(sequence[:MOST_SOUNDS])
        lengths = np.array([len(s) for s in sequences], np.int64)
        sounds = np.zeros((many, max(int(lengths.max()), 3)), np.int64)
        for item, sequence in enumerate(sequences):
            sounds[item, : len(sequence)] = sequence
        optional = (sounds == 0) & (lengths > 1)[:, None]
        source, begins, length = places
        return Batch(samples, speed, source, begins, length, loudness, sounds, optional, lengths, people)

    def _chosen(self, samples: int, speed: float) -> tuple[list[Utterance], bool]:
        """The content of one item, so that it fits; and whether a real person says it."""
        rng, fits = self._rng, samples * min(1.0, speed) * 0.97
        if rng.random() < self._augment["noise_only"]:
            return [], False
        for _ in range(60):
            people = bool(self._people) and rng.random() < self._augment["human"]
            chosen = self._person() if people else self._voice()
            gaps = 0.05 * SAMPLE_RATE * (len(chosen) + 1)
            if sum(u.length for u in chosen) + gaps < fits:
                return [self._cut_short(utterance) for utterance in chosen], people
        return [], False

    def _voice(self) -> list[Utterance]:
        engines = list(self._voices)
        shares = np.array([self._augment[engine] for engine in engines])
        voices = self._voices[engines[self._rng.choice(len(engines), p=shares / shares.sum())]]
        return [voices[self._rng.integers(len(voices))]]

    def _cut_short(self, utterance: Utterance) -> Utterance:
        """As a gate that opens late and closes early leaves it: without, "sixty" that ends abruptly is "six eight"."""
        late, early = (
            int(self._rng.uniform(0, self._augment["longest_cut"]) * SAMPLE_RATE)
            if self._rng.random() < self._augment["cut_short"]
            else 0
            for _ in range(2)
        )
        return replace(utterance, start=utterance.start + late, length=utterance.length - late - early)

    def _person(self) -> list[Utterance]:
        """People say few words: strings of one to four clips of the same person."""
        rng = self._rng
        if self._greater and rng.random() < self._augment.get("greater_numbers", 0.0):
            return self._greater_number()
        digit = bool(self._digits) and rng.random() < self._augment["digits"]
        first = int(self._digits[rng.integers(len(self._digits))] if digit else rng.integers(len(self._people)))
        others = self._by_speaker[self._speakers[first]]
        if digit:
            digits = [number for number in others if number in self._digit_set]
            others = digits if rng.random() < 0.85 else others
        more = int(rng.integers(0, VOICES_IN_A_ROW)) if len(others) > 1 else 0
        said = [first]
        for _ in range(more):
            again = digit and rng.random() < REPEATED
            same = [number for number in others if self._texts[number] == self._texts[said[-1]]] if again else others
            said.append(same[rng.integers(len(same))] if same else said[-1])
        return [self._people[number] for number in said]

    def _greater_number(self) -> list[Utterance]:
        """Teens and tens, which few people said: alone, or with another clip of the same person."""
        first = int(self._greater[self._rng.integers(len(self._greater))])
        others = self._by_speaker[self._speakers[first]]
        more = [others[self._rng.integers(len(others))] for _ in range(int(self._rng.integers(0, 2)))]
        return [self._people[number] for number in (first, *more)]

    @property
    def _digit_set(self) -> frozenset[int]:
        if not hasattr(self, "_digits_once"):
            self._digits_once = frozenset(self._digits)
        return self._digits_once


def produce(settings: dict[str, Any], work: Path, many: int, seed: int, pieces: Any, batches: Any) -> None:
    """A process that draws batches for ever; `pieces` are the files that the trainer holds, as they come."""
    _, plan = read_plan(work / "plan.jsonl.gz")
    drawer = Drawer(settings, plan, People(work), seed)

    def take() -> None:
        with np.load(pieces.get()) as piece:
            drawer.add(piece["lengths"], piece["which"])

    take()  # without any there is nothing to draw
    while True:
        while not pieces.empty():
            take()
        batches.put(drawer.draw(many))
