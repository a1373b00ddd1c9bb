"""Makes the sound of the demo case from its script: synthetic voices on a timeline, over the noise of a room.

Run it with `python -m tui.demo.make_demo`. It writes `demo.opus` and `timeline.json` beside the script. It needs
flite, festival and espeak-ng; the program itself does not.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from log.basics.errors import EngineError
from voice.sound.segment import SAMPLE_RATE

Sound = npt.NDArray[np.float64]
"""Mono samples at 16 kHz, full scale 1."""

HERE = Path(__file__).parent
SPEECH_DB = -23.0
"""Active speech level of every line, decibels of full scale."""
NOISE_BELOW_DB = 30.0
"""How far the noise of the room lies below the speech."""
PAUSE_AT_END_S = 1.5
SEED = 20

PACKAGES = {"flite": "flite", "text2wave": "festival", "espeak-ng": "espeak-ng"}
"""Program -> Debian package."""
VOICE_PACKAGES = {"kal_diphone": "festvox-kallpc16k", "ked_diphone": "festvox-kdlpc16k"}
"""Festival voice -> Debian package."""
SPOKEN_AS = {"oesophageal": "ee soffa jee ul"}
"""Words that flite and festival read wrongly, spelt so that they come out right."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the script, as far as the sound is concerned."""

    pause: float
    """Seconds of room before it."""
    voice: str
    """Synthesiser and voice, "flite slt"."""
    text: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A line with its sound and its place on the timeline."""

    line: Line
    sound: Sound
    first_sample: int

    @property
    def end_sample(self) -> int:
        """The sample after the last one."""
        return self.first_sample + len(self.sound)


def main() -> int:
    """Writes sound and timeline; returns the exit code."""
    try:
        placed = place(read_script(HERE / "script.toml"))
    except EngineError as error:
        sys.stderr.write(f"{error}\n")
        return error.exit_code
    soundfile.write(HERE / "demo.opus", mix(placed), SAMPLE_RATE, format="OGG", subtype="OPUS")
    (HERE / "timeline.json").write_text(timeline(placed), encoding="utf-8")
    return 0


def read_script(path: Path) -> tuple[Line, ...]:
    """The lines in the order in which they are said."""
    script = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(Line(float(line["pause"]), line["voice"], line["text"]) for line in script["line"])


def place(lines: tuple[Line, ...]) -> tuple[Placed, ...]:
    """Speaks every line and sets it after the one before."""
    placed: list[Placed] = []
    now = 0
    for line in lines:
        now += round(line.pause * SAMPLE_RATE)
        placed.append(Placed(line, levelled(trimmed(speak(line))), now))
        now = placed[-1].end_sample
    return tuple(placed)


def timeline(placed: tuple[Placed, ...]) -> str:
    """Start and end of every line in seconds, as JSON, one line each."""
    rows = (
        json.dumps(
            {
                "start": round(p.first_sample / SAMPLE_RATE, 3),
                "end": round(p.end_sample / SAMPLE_RATE, 3),
                "text": p.line.text,
            }
        )
        for p in placed
    )
    return "[\n  " + ",\n  ".join(rows) + "\n]\n"


def speak(line: Line) -> Sound:
    """A line as its voice says it; raises EngineError if the synthesiser or its voice is not installed."""
    synthesiser, voice = line.voice.split(maxsplit=1)
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "line.wav"
        program, *options = _command(synthesiser, voice, line.text, wav)
        _require(program)
        done = subprocess.run([program, *options], input=_spelt(line.text), text=True, capture_output=True, check=False)
        if done.returncode or not wav.exists():
            package = VOICE_PACKAGES.get(voice, PACKAGES[program])
            raise EngineError(f'{synthesiser} cannot speak with the voice "{voice}"', f"apt-get install {package}")
        samples, rate = soundfile.read(wav, dtype="float64")
    return np.asarray(soxr.resample(samples, rate, SAMPLE_RATE), dtype=np.float64)


def _command(synthesiser: str, voice: str, text: str, wav: Path) -> list[str]:
    match synthesiser:
        case "flite":
            return ["flite", "-voice", voice, "-t", _spelt(text), "-o", str(wav)]
        case "festival":
            return ["text2wave", "-eval", f"(voice_{voice})", "-o", str(wav)]
        case "espeak-ng":
            return ["espeak-ng", "-v", voice, "-s", "155", "-w", str(wav), text]
        case _:
            raise EngineError(f'there is no synthesiser named "{synthesiser}"', "take flite, festival or espeak-ng")


def _require(program: str) -> None:
    if shutil.which(program) is None:
        raise EngineError(f"{program} is not installed", f"apt-get install {PACKAGES[program]}")


def _spelt(text: str) -> str:
    return re.sub(r"[a-z]+", lambda word: SPOKEN_AS.get(word[0], word[0]), text)


def _frame_levels(sound: Sound) -> Sound:
    """Mean square of every 20 ms."""
    size = SAMPLE_RATE // 50
    frames = sound[: len(sound) // size * size].reshape(-1, size)
    return np.asarray(np.mean(frames**2, axis=1))


def trimmed(sound: Sound) -> Sound:
    """The sound without the silence at its ends (40 dB below its loudest 20 ms)."""
    levels = _frame_levels(sound)
    loud = np.flatnonzero(levels > levels.max() * 1e-4)
    return sound[loud[0] * SAMPLE_RATE // 50 : (loud[-1] + 1) * SAMPLE_RATE // 50]


def levelled(sound: Sound) -> Sound:
    """The sound at the common speech level, measured where somebody speaks (within 20 dB of the loudest)."""
    levels = _frame_levels(sound)
    active = float(np.mean(levels[levels > levels.max() * 1e-2]))
    return sound * float(10 ** (SPEECH_DB / 20) / np.sqrt(active))


def mix(placed: tuple[Placed, ...]) -> Sound:
    """All lines over the room."""
    total = placed[-1].end_sample + round(PAUSE_AT_END_S * SAMPLE_RATE)
    mixed = room(total) * 10 ** ((SPEECH_DB - NOISE_BELOW_DB) / 20)
    for part in placed:
        mixed[part.first_sample : part.end_sample] += part.sound
    return np.clip(mixed, -0.99, 0.99)


def room(length: int) -> Sound:
    """Hiss, ventilator and monitor with an effective level of 1, always the same."""
    rng = np.random.default_rng(SEED)
    seconds = np.arange(length) / SAMPLE_RATE
    breath = np.clip(np.sin(2 * np.pi * seconds / 4.0), 0, None) ** 2  # fifteen breaths a minute
    since_beep = seconds % 0.6  # a hundred beats a minute
    beep = np.where(since_beep < 0.08, np.sin(np.pi * since_beep / 0.08), 0) * np.sin(2 * np.pi * 880 * seconds)
    noise = _pink(rng, length, 40) + 0.8 * breath * _pink(rng, length, 300) + 0.5 * beep
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def _pink(rng: np.random.Generator, length: int, from_hz: float) -> Sound:
    """Noise that falls by 3 dB per octave, without anything below `from_hz`; effective level 1."""
    spectrum = np.fft.rfft(rng.standard_normal(length))
    hertz = np.fft.rfftfreq(length, 1 / SAMPLE_RATE)
    spectrum *= np.where(hertz < from_hz, 0, 1 / np.sqrt(np.maximum(hertz, 1)))
    noise = np.fft.irfft(spectrum, length)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


if __name__ == "__main__":
    sys.exit(main())
