"""How often talk in the room becomes an entry, or a question, that nobody meant, an hour. Voices that trained nothing.

    python -m tests.bench.talk [--voices DIR]

Sentences that must make no entry (questions, orders, hypotheticals, near misses, ordinary talk): those of talk.txt
beside this file and, where ../shared/corpus is, those of the speech bench. They are said one after the other without a
longer pause by two espeak-ng voices, two of flite and, with the archives that models/training/README.md describes in
DIR, five neural ones, all kept out of the training; in pink noise. Nobody talks like this without a break: an hour of
it is more than an hour of a room. What is absent is left out.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import shutil
import subprocess
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from models.training import kokoro
from tests.bench import unheard
from tests.bench.hearing import tables
from tests.bench.hearing.gather import CORPUS, LEAD_WORD, phrases
from tests.bench.noise import frames, noisy
from voice.engines import models
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.meaning.thresholds import IN_TALK, WITH_LEAD_WORD
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE

ESPEAK, FLITE = ("en-gb-x-rp", "en-029"), ("rms", "awb")
LEVELS = (20.0, 10.0)
PAUSE = (0.2, 1.0)
"""Seconds between two sentences."""

Wave = NDArray[np.floating]
Voice = Callable[[str], Wave]


def main() -> None:
    """Hears everything and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--voices", type=Path, help="the folder with Kokoro's archives")
    options = parser.parse_args()
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    print("| talk that trained nothing | noise | minutes | logged | asked |\n|---|---|---|---|---|")
    for source, sentences in (("talk.txt", own()), ("corpus", of_the_corpus())):
        streams = {name: stream(sentences, say, name) for name, say in voices(options.voices)} if sentences else {}
        if streams:
            table(source, streams, model.path)


def own() -> list[str]:
    """The sentences of talk.txt."""
    lines = Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").splitlines()
    return [line for line in lines if not line.startswith("#")]


def of_the_corpus() -> list[str]:
    """The sentences of the speech bench, if it is here."""
    file = CORPUS / "chatter.jsonl"
    return [json.loads(line)["text"] for line in file.read_text(encoding="utf-8").splitlines()] if file.exists() else []


def table(source: str, streams: dict[str, Wave], model: Path) -> None:
    """What became an entry or a question, with the lead word wanted and without, one row for each noise."""
    hours = sum(len(wave) for wave in streams.values()) / SAMPLE_RATE / 3600
    for name, listening, thresholds in (
        ("with the lead word", Listening(lead_word=LEAD_WORD), WITH_LEAD_WORD),
        ("open", Listening(in_talk=True), IN_TALK),
    ):
        with Ears(phrases(), listening.lead_word, "both", model, thresholds=thresholds) as ears:
            for level in LEVELS:
                found = [one for voice, wave in streams.items() for one in made_of(ears, listening, voice, wave, level)]
                logged, asked = (sum(pending is kind for _, _, pending in found) for kind in (False, True))
                cells = f"{tables.rate(logged, hours)} | {tables.rate(asked, hours)}"
                print(f"| {source}, {name} | {level:.0f} dB | {60 * hours:.0f} | {cells} |", flush=True)
                for voice, text, pending in found:
                    print(f"  {voice}: {'asked' if pending else 'logged'}: {text}", flush=True)


def voices(archives: Path | None) -> Iterator[tuple[str, Voice]]:
    """Name and voice of those that are here."""
    if shutil.which("espeak-ng"):
        yield from ((name, partial(_said, "espeak-ng", "-v", name, "--stdout")) for name in ESPEAK)
    if shutil.which("flite"):
        yield from ((name, partial(_said, "flite", "-voice", name, "-o", "/dev/stdout", "-t")) for name in FLITE)
    if archives is not None and kokoro.complete(archives):
        yield from ((name, partial(unheard.spoken, archives, name=name)) for name in unheard.kept_apart())


def _said(*command: str) -> Wave:
    """At 16 kHz."""
    made = subprocess.run(command, check=True, capture_output=True, timeout=60).stdout
    wave, rate = soundfile.read(io.BytesIO(made))
    at = np.arange(0, len(wave), rate / SAMPLE_RATE)
    resampled: Wave = np.interp(at, np.arange(len(wave)), wave)
    return resampled


def stream(sentences: list[str], say: Voice, seed: str) -> Wave:
    """All sentences in an order of the voice's own, with short pauses, each as loud as the others."""
    dice = random.Random(seed)
    parts: list[Wave] = []
    for text in dice.sample(sentences, len(sentences)):
        wave = say(text)
        parts += [wave / np.abs(wave).max(), np.zeros(int(dice.uniform(*PAUSE) * SAMPLE_RATE))]
    return np.concatenate(parts)


def made_of(ears: Ears, listening: Listening, voice: str, wave: Wave, level: float) -> Iterator[tuple[str, str, bool]]:
    """Voice, what was heard, and whether it would be asked, of everything that became an entry or a question."""
    for segment in segments(frames(noisy(wave, level, sum(map(ord, voice))))):
        hearing = ears.hear(segment, listening)
        yield from ((voice, hearing.text, asked) for _, asked in tables.items(hearing.meaning))


if __name__ == "__main__":
    main()
