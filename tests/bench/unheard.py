"""How well those are heard whose voices trained nothing: numbers of real people, numbers and entries of neural voices.

    python -m tests.bench.unheard [--voices DIR] [--out FOLDER] [--wrong]

People: one who says teens, tens and "hundred", and one who says digits, both from ../shared/speech-train and both kept
out of the training; words of one person are joined to numbers. Voices: those of Kokoro-82M that the training keeps
apart, in their own accents and in those of models/training/accents.py; DIR holds the archives, as described in
models/training/README.md, and takes up what they have said. All in pink noise. A number is an answer, where nothing but
a number is due; an entry has the lead word before it. What is absent is left out and said so.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import pickle
import random
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from models.training import accents, kokoro
from models.training.plan import KOKORO_AMERICAN, KOKORO_BRITISH, KOKORO_FOREIGN
from models.training.synthesise import ESPEAK_SOUNDS, respelt
from tests.bench.hearing import tables
from tests.bench.hearing.gather import CORPUS, LEAD_WORD, Heard, clips, made_of, phrases
from tests.bench.noise import frames, noisy
from voice.engines import models
from voice.english.numbers import SOUND_ALIKE, TENS, UNITS
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, settled, understand
from voice.meaning.thresholds import PUSH_TO_TALK, WITH_LEAD_WORD
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE

PEOPLE = CORPUS.parent / "speech-train"
SETTINGS = Path(kokoro.__file__).with_name("settings.toml")
MAN, DIGITS = "gbm", "fsdd_jackson"
LEVELS = {"quiet": 40.0, "20 dB": 20.0, "10 dB": 10.0, "5 dB": 5.0}
BETWEEN = 0.03
"""Seconds between the words of a person."""

OUTCOMES = ("right", "asked", "wrong", "nothing")
Wave = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that somebody says."""

    who: str
    text: str
    wave: Wave
    number: bool
    """An answer that is a number; else an entry with the lead word."""

    @property
    def listening(self) -> Listening:
        """What the log knows of the moment."""
        return Listening(number_due=True) if self.number else Listening(lead_word=LEAD_WORD)

    @property
    def wanted(self) -> list[tables.Item]:
        """What should be logged."""
        text = self.text if self.number else f"{LEAD_WORD} {self.text}"
        return [item for item, _ in tables.items(settled(understand(phrases(), text, self.listening)))]


Groups = dict[str, dict[str, list[tuple[Said, tuple[Heard, ...]]]]]
"""Group -> noise -> what was said, and its segments as they were heard."""


def main() -> None:
    """Hears everything and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--voices", type=Path, help="the folder with Kokoro's archives")
    parser.add_argument("--out", type=Path, default=Path("/tmp/tamponade-bench"), help="keeps what was heard")
    parser.add_argument("--wrong", action="store_true", help="print every wrong one")
    options = parser.parse_args()
    groups = gathered(options.out, options.voices)
    print(f"| who trained nothing | noise | n | {' | '.join(OUTCOMES)} |\n|---|---|---|{'---|' * len(OUTCOMES)}")
    for name, by_noise in groups.items():
        for noise, found in by_noise.items():
            outcomes = [outcome(said, heard) for said, heard in found]
            cells = " | ".join(str(outcomes.count(kind)) for kind in OUTCOMES)
            print(f"| {name} | {noise} | {len(found)} | {cells} |")
            for (said, heard), what in zip(found, outcomes, strict=True):
                if options.wrong and what == "wrong":
                    texts = (one.text for h in heard for one in h.evidence.heard.values())
                    print(f"  {said.who}: {said.text} | {' / '.join(texts)}")


def gathered(folder: Path, archives: Path | None) -> Groups:
    """What was heard, from an earlier run of the same model if there is one."""
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    saying: dict[str, list[Said]] = {}
    if PEOPLE.is_dir():
        saying |= {"a man's numbers, words joined": list(man()), "a man's digits, words joined": list(digits())}
    else:
        print(f"people left out: {PEOPLE} is not there")
    if archives is not None and kokoro.complete(archives) and CORPUS.is_dir():
        neural = list(voices(archives))
        saying |= {
            "neural voices, numbers": [said for said in neural if said.number],
            "neural voices, numbers in accents": list(in_accents(archives, accents.ACCENTS)),
            "neural voices, numbers of learners": list(in_accents(archives, (*accents.LEARNERS, *accents.SOFT))),
            "neural voices, entries with the lead word": [said for said in neural if not said.number],
        }
    else:
        print(f"neural voices left out: need --voices with Kokoro's archives, and the speech bench corpus at {CORPUS}")
    kept = folder / f"unheard-{made_of(model.path)}-{len(saying)}.pickle"
    if kept.exists():
        found: Groups = pickle.loads(kept.read_bytes())
        return found
    ears = {lead: Ears(phrases(), lead, "both", model.path) for lead in (None, LEAD_WORD)}
    with ears[None], ears[LEAD_WORD]:
        found = {
            name: {
                noise: [
                    (said, _hear(ears[said.listening.lead_word], said, level, seed)) for seed, said in enumerate(group)
                ]
                for noise, level in LEVELS.items()
            }
            for name, group in saying.items()
        }
    folder.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(pickle.dumps(found))
    return found


def outcome(said: Said, heard: tuple[Heard, ...]) -> str:
    """What became of it, one of OUTCOMES, by the thresholds of the log."""
    thresholds = PUSH_TO_TALK if said.number else WITH_LEAD_WORD
    meanings = [tables.judge(phrases(), segment, thresholds).meaning for segment in heard]
    found = [item for meaning in meanings for item in tables.items(meaning)]
    stands = [item for item, asked in found if not asked]
    if not found:
        return "nothing"
    if not stands:
        return "asked"
    return "right" if stands == said.wanted else "wrong"


def man() -> Iterator[Said]:
    """Every number word alone, and tens with units, and hundreds."""
    words = {text: wave for _, text, wave in _people(MAN)}
    rng = random.Random(1)
    alone = [word for word in (*UNITS, *SOUND_ALIKE, "ten", "eleven", "twelve", "twenty") if word in words]
    tens = [f"{ten} {unit}" for ten in TENS for unit in rng.sample(("one", "three", "five", "six", "eight"), 2)]
    hundreds = [f"{unit} hundred and {rest}" for unit in ("one", "two", "three") for rest in ("fifty", "thirteen")]
    for text in (*alone, *tens, *hundreds):
        if all(word in words for word in text.split()):
            yield Said(MAN, text, _joined([words[word] for word in text.split()]), True)


def digits() -> Iterator[Said]:
    """Strings of two and three."""
    rng = random.Random(1)
    takes: dict[str, list[Wave]] = {}
    for _, text, wave in _people(DIGITS):
        takes.setdefault(text, []).append(wave)
    for many in (2, 3) * 20:
        words = [rng.choice(UNITS[1:]), *rng.choices(UNITS, k=many - 1)]
        yield Said(DIGITS, " ".join(words), _joined([rng.choice(takes[word]) for word in words]), True)


def _people(who: str) -> Iterator[tuple[str, str, Wave]]:
    """Clips of one speaker, or of one folder that holds one speaker."""
    for line in (PEOPLE / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
        clip = json.loads(line)
        if who in (clip["speaker"], clip["file"].split("/")[1]):
            pcm = np.frombuffer(AudioFile(PEOPLE / clip["file"]).pcm(), "<i2")
            yield clip["speaker"], clip["transcript"], (pcm / 32768).astype(np.float32)


def _joined(waves: list[Wave]) -> Wave:
    gap = np.zeros(int(BETWEEN * SAMPLE_RATE), np.float32)
    return np.concatenate([part for wave in waves for part in (wave / np.abs(wave).max(), gap)])


def voices(folder: Path) -> Iterator[Said]:
    """Each kept-apart voice says every number that has a sound-alike, and digits; they take turns at entries."""
    names, rng = kept_apart(), random.Random(1)
    for name in names:
        strings = [" ".join(rng.choices(UNITS[1:], k=many)) for many in (1, 1, 1, 2, 2, 2, 3, 3)]
        for text in (*SOUND_ALIKE, *strings):
            yield Said(name, text, spoken(folder, text, name), True)
    said = dict.fromkeys(clip["transcript"] for clip in clips() if clip["task"] == "command")
    for number, text in enumerate(list(said)[::2]):
        name = names[number % len(names)]
        yield Said(name, text, spoken(folder, f"{LEAD_WORD} {text}", name), False)


def in_accents(folder: Path, known: Sequence[Mapping[str, str]]) -> Iterator[Said]:
    """Each kept-apart voice in each of these accents that the training knows of: a number with a sound-alike, and two
    digits, which sound as usual where the accent changes none.
    """
    rng = random.Random(1)
    for name in kept_apart():
        for accent in known:
            spelt = {word: spelling for word in accents.NUMBERS if (spelling := accents.spelt(word, accent))}
            for texts in (SOUND_ALIKE, [f"{one} {other}" for one in UNITS[1:] for other in UNITS]):
                changed = [text for text in texts if spelt.keys() & set(text.split())]
                text = rng.choice(changed or list(texts))  # some accents have every digit as it usually is
                said = " ".join(spelt.get(word, word) for word in text.split())
                yield Said(name, text, spoken(folder, said, name), True)


def kept_apart() -> list[str]:
    kept = tomllib.loads(SETTINGS.read_text(encoding="utf-8"))["plan"]["kept_apart"]
    return [name for name in kept if name in {*KOKORO_AMERICAN, *KOKORO_BRITISH, *KOKORO_FOREIGN}]


def spoken(folder: Path, text: str, name: str) -> Wave:
    accent = "en-gb" if name in KOKORO_BRITISH else "en-us"
    file = folder / "said" / f"{name}-{hashlib.sha256(text.encode()).hexdigest()[:16]}.npy"
    if not file.exists():
        file.parent.mkdir(exist_ok=True)
        wave = kokoro.opened(folder).say(respelt(text, ESPEAK_SOUNDS), f"{accent}+{name}", 1.0)
        np.save(file, resample_poly(wave, 2, 3).astype(np.float32))
    found: Wave = np.load(file)
    return found


def _hear(ears: Ears, said: Said, level: float, seed: int) -> tuple[Heard, ...]:
    found = segments(frames(noisy(said.wave, level, seed)))
    return tuple(Heard(ears.gather(segment, said.listening), said.listening, 0.0) for segment in found)


if __name__ == "__main__":
    from tests.bench import unheard

    unheard.main()  # of the module: what is kept must be readable for tests.bench.hearing too
