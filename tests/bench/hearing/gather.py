"""Has every clip of the speech bench heard once by everything, and keeps what was heard: tables, fits and plots are
made of that, so that all engines are compared on the same segments of the same run.
"""

from __future__ import annotations

import hashlib
import json
import pickle
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from log.rules.definitions import load
from voice.engines import models
from voice.meaning.ears import Ears
from voice.meaning.evidence import Evidence
from voice.meaning.matcher import Listening
from voice.phrases.phrases import Phrases, compile_phrases
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments

CORPUS = Path(__file__).resolve().parents[4] / "shared" / "corpus"
LEAD_WORD = "log"
Clip = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Heard:
    """One segment of a clip."""

    evidence: Evidence
    listening: Listening
    seconds: float
    """From having the whole segment to having all evidence."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """Everything that was heard in one run."""

    open: dict[str, tuple[Heard, ...]]
    """Clip -> its segments, heard without a lead word."""
    with_lead_word: dict[str, tuple[Heard, ...]]
    """The clips that hold no entry, and the sessions, heard with one."""


def clips(split: str = "dev") -> list[Clip]:
    """The clips of a split."""
    return _lines(CORPUS / split / "manifest.jsonl")


def sessions(split: str = "dev") -> list[Clip]:
    """The continuous sessions of a split, with their truth."""
    return _lines(_sessions(split) / "manifest.jsonl")


def _sessions(split: str) -> Path:
    return CORPUS / "sessions" if split == "dev" else CORPUS / split / "sessions"


def _lines(path: Path) -> list[Clip]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


@cache
def phrases() -> Phrases:
    """What may be said."""
    return compile_phrases(load("three-lumen").procedure)


def made_of(model: Path) -> str:
    """Tells models apart, that of the people's ear among them."""
    nets = (model / "am" / "final.mdl", model / "lexicon.txt", models.people_model() / "net.onnx")
    parts = b"".join(net.read_bytes() for net in nets)
    return hashlib.sha256(parts).hexdigest()[:12]


def gathered(folder: Path, every: int, split: str = "dev") -> Gathered:
    """What was heard of a split, from an earlier run of the same model on the same clips if there is one."""
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    kept = folder / f"heard-{split}-{made_of(model.path)}-{every}.pickle"
    if kept.exists():
        found: Gathered = pickle.loads(kept.read_bytes())
        return found
    chosen, talk = clips(split)[::every], sessions(split)
    place, places = CORPUS / split, _sessions(split)
    with Ears(phrases(), None, "both", model.path) as ears:
        heard = {
            clip["file"]: _hear(place / clip["file"], ears, Listening(number_due=clip["task"] == "number"))
            for clip in chosen
        }
        heard |= {clip["file"]: _hear(places / clip["file"], ears, Listening()) for clip in talk}
    others = [clip for clip in chosen if clip["task"] == "noncommand"]
    with Ears(phrases(), LEAD_WORD, "both", model.path) as ears:
        said = Listening(lead_word=LEAD_WORD)
        led = {clip["file"]: _hear(place / clip["file"], ears, said) for clip in others}
        led |= {clip["file"]: _hear(places / clip["file"], ears, said) for clip in talk}
    result = Gathered(heard, led)
    folder.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(pickle.dumps(result))
    return result


def _hear(path: Path, ears: Ears, listening: Listening) -> tuple[Heard, ...]:
    found = []
    for segment in segments(AudioFile(path).frames()):
        began = time.perf_counter()
        evidence = ears.gather(segment, listening)
        found.append(Heard(evidence, listening, time.perf_counter() - began))
    return tuple(found)
