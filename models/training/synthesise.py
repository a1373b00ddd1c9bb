"""Makes the training voices speak. Every process takes a share of the list and leaves pieces of sound that the training
picks up while the rest is still being said. A piece that is there already is not made again.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.io import wavfile
from scipy.signal import resample_poly

from models.training import kokoro as neural
from models.training.plan import ENGINES, Spoken, read_plan

SAMPLE_RATE = 16_000
PIECE = 40
"""Utterances in one piece."""

LONGEST_SECONDS, SHORTEST_SECONDS = 6.0, 0.15
TRIM_DB = -40.0
PEAK = 0.7

RESPELT = {
    "oesophageal": "esophageal",
    "oesophagus": "esophagus",
    "mils": "mills",
    "mil": "mill",
    "litre": "leeter",
    "litres": "leeters",
    "x-ray": "x ray",
    "c": "see",
    "oh": "oh",
    "log": "log",
    "haemoglobin": "hemoglobin",
}
ESPEAK_SOUNDS = {
    "oesophageal": "[[I#s'0f@dZ'i@l]]",
    "oesophagus": "[[I#s'0f@g@s]]",
    "lavage": "[[l@v'A:Z]]",
    "lavaged": "[[l@v'A:Zd]]",
}
"""Words that the voices do not read as they are said in the room."""

Sound = NDArray[np.int16]


def respelt(text: str, sounds: dict[str, str]) -> str:
    """The text so that a voice reads it rightly."""
    words = (sounds.get(word) or RESPELT.get(word, word) for word in text.split())
    return re.sub(r"(milli|centi)metres", r"\1meters", re.sub(r"litres", "leeters", " ".join(words)))


def espeak(said: Spoken, file: Path) -> None:
    """Words a minute and pitch 0 to 99."""
    speed, pitch = str(round(160 * said.speed)), str(min(99, round(50 * said.pitch**1.6)))
    text = respelt(said.text, ESPEAK_SOUNDS)
    _run(["espeak-ng", "-v", said.voice, "-s", speed, "-p", pitch, "-w", str(file), text])


def flite(said: Spoken, file: Path) -> None:
    """Durations are stretched, the mean pitch is in Hz."""
    pitch = round((170 if said.voice == "slt" else 105) * said.pitch)
    options = ["--setf", f"duration_stretch={1 / said.speed:.2f}", "--setf", f"int_f0_target_mean={pitch}"]
    _run(["flite", "-voice", said.voice, *options, "-t", respelt(said.text, {}), "-o", str(file)])


def festival(said: Spoken, file: Path) -> None:
    """A process for each utterance: slow, but nothing can get out of step."""
    script = (
        f"(voice_{said.voice})\n(Parameter.set 'Duration_Stretch {1 / said.speed:.2f})\n"
        f'(utt.save.wave (utt.synth (Utterance Text "{respelt(said.text, {})}")) "{file}" \'riff)\n'
    )
    _run(["festival", "--pipe"], script.encode())


def pico(said: Spoken, file: Path) -> None:
    """Speed and pitch in per cent."""
    text = respelt(said.text, {})
    speed, pitch = round(100 * said.speed), round(100 * said.pitch)
    spoken = _pico(said.voice).speak(f'<pitch level="{pitch}"><speed level="{speed}">{text}</speed></pitch>')
    wavfile.write(file, SAMPLE_RATE, np.frombuffer(spoken, np.int16))


def kokoro(archives: Path, said: Spoken, file: Path) -> None:
    """In a voice or a mixture of two. The pitch is their own."""
    wave = neural.opened(archives).say(respelt(said.text, ESPEAK_SOUNDS), said.voice, said.speed)
    wavfile.write(file, neural.SAMPLE_RATE, wave)


@cache
def _pico(voice: str) -> Any:
    import ttspico

    return ttspico.TtsEngine(voice)


def _run(command: list[str], script: bytes | None = None) -> None:
    subprocess.run(command, input=script, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True, timeout=30)


def engines(archives: Path) -> dict[str, Callable[[Spoken, Path], None]]:
    """The synthesisers that are here; `archives` is where those of Kokoro would be."""
    known: dict[str, Callable[[Spoken, Path], None]] = {
        "espeak": espeak,
        "flite": flite,
        "festival": festival,
        "pico": pico,
        "kokoro": partial(kokoro, archives),
    }
    return {name: speak for name, speak in known.items() if installed(name, archives)}


def spoken(said: Spoken, folder: Path, speak: Callable[[Spoken, Path], None]) -> Sound | None:
    """The sound of one utterance at 16 kHz, without the silence around it; None when the voice failed at it."""
    file = folder / "said.wav"
    file.unlink(missing_ok=True)  # a voice that fails in silence must not be given the words of the one before
    try:
        speak(said, file)
        rate, sound = wavfile.read(file)
    except (OSError, ValueError, subprocess.SubprocessError, ImportError):
        return None
    wave = sound.astype(np.float32)
    if rate != SAMPLE_RATE:
        common = int(np.gcd(rate, SAMPLE_RATE))
        wave = resample_poly(wave, SAMPLE_RATE // common, rate // common).astype(np.float32)
    return trimmed(wave)


def trimmed(wave: NDArray[np.float32]) -> Sound | None:
    """Between the first and the last sound, as loud as can be; None when too short, too long or silent."""
    frames = wave[: len(wave) // 160 * 160].reshape(-1, 160)
    if not len(frames):
        return None
    level = np.sqrt((frames**2).mean(1))
    loud = np.flatnonzero(level > level.max() * 10 ** (TRIM_DB / 20))
    if not len(loud):
        return None
    wave = wave[max(0, loud[0] - 6) * 160 : (loud[-1] + 9) * 160]
    peak = float(np.abs(wave).max(initial=0.0))
    if peak < 1e-3 or not SHORTEST_SECONDS < len(wave) / SAMPLE_RATE < LONGEST_SECONDS:
        return None
    return (wave / peak * PEAK * 32767).astype(np.int16)


def installed(engine: str, archives: Path) -> bool:
    """Whether the synthesiser is here."""
    if engine == "pico":
        try:
            _pico("en-GB")
        except Exception:
            return False
        return True
    if engine == "kokoro":
        return neural.complete(archives) and installed("espeak", archives) and find_spec("onnxruntime") is not None
    return shutil.which({"espeak": "espeak-ng"}.get(engine, engine)) is not None


def synthesise(plan: Path, target: Path, processes: int, archives: Path, alone: Sequence[str] = ENGINES) -> None:
    """Every utterance of the list, or those of some synthesisers alone, in pieces `000.npz`, `001.npz` ... of the
    target folder.
    """
    _, utterances = read_plan(plan)
    missing = {said.engine for said in utterances if said.engine in alone} - engines(archives).keys()
    if missing:
        print(f"synthesise: not installed, left out: {', '.join(sorted(missing))}", flush=True)
    target.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(processes) as pool:
        jobs = [
            pool.submit(make_piece, list(range(first, first + len(part))), part, target / f"{number:03d}.npz", archives)
            for number, first, part in _pieces(utterances)
            if part[0].engine in alone and not (target / f"{number:03d}.npz").exists()
        ]
        for job in jobs:
            job.result()


def _pieces(utterances: Sequence[Spoken]) -> Iterator[tuple[int, int, Sequence[Spoken]]]:
    for number, first in enumerate(range(0, len(utterances), PIECE)):
        yield number, first, utterances[first : first + PIECE]


def make_piece(indices: list[int], utterances: Sequence[Spoken], file: Path, archives: Path) -> None:
    """One piece: the sounds end to end, their lengths, and which utterances of the list they are. Nothing is
    written where nothing can be said for want of the synthesiser: the piece is made once that is here.
    """
    if file.exists():
        return
    sounds, kept, here = [], [], engines(archives)
    with tempfile.TemporaryDirectory() as folder:
        for index, said in zip(indices, utterances, strict=True):
            sound = spoken(said, Path(folder), here[said.engine]) if said.engine in here else None
            if sound is not None:
                sounds.append(sound)
                kept.append(index)
    if not sounds:
        return
    draft = file.with_suffix(".draft.npz")
    lengths = np.array([len(sound) for sound in sounds], np.int64)
    np.savez(draft, sound=np.concatenate(sounds), lengths=lengths, which=np.array(kept, np.int64))
    draft.rename(file)
