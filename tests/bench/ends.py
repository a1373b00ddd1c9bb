"""Where speech begins and ends in noise: ours against the WebRTC detector of pocketsphinx, on the same sound.

    python -m tests.bench.ends [--every 2]

The development clips without noise (entries, and people's digits), where the loud parts tell when somebody speaks, with
noise added: pink, suction that gurgles, and five people talking (clips that are no entries). Counted: clips that are
one segment and whole; a first or last sound cut off by more than 50 ms; clips in several segments; clips whose segment
does not end before the sound does, 1.5 s later. Needs ../shared/corpus; without it this says so and ends.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from tests.bench.hearing.gather import CORPUS, Clip, clips
from voice.sound.audio import FRAME_BYTES, AudioFile, Frame
from voice.sound.endpoint import segments
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE

Wave = NDArray[np.float64]
Stretch = tuple[float, float]
LEVELS = (None, 20, 10, 5)
AROUND_SECONDS = 1.5
CUT_SECONDS = 0.05
LOUD_DB = -25.0
"""Below the loudest 10 ms: fainter sounds than this are not counted as cut off."""

KINDS = ("whole", "begins late", "ends early", "several", "never ends", "not found")


def main() -> None:
    """Finds the ends of everything, and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=2, help="take every n-th clip")
    options = parser.parse_args()
    if not CORPUS.is_dir():
        print(f"skipped: the speech bench corpus is not at {CORPUS}")
        return
    quiet = [clip for clip in clips() if clip["snr"] == "clean" and clip["task"] != "noncommand"][:: options.every]
    talk = [sound(clip) for clip in clips() if clip["task"] == "noncommand" and clip["snr"] == "clean"]
    noises: dict[str, Callable[[int, np.random.Generator], Wave]] = {
        "pink": pink,
        "suction": suction,
        "talk": lambda samples, dice: babble(talk, samples, dice),
    }
    print("| noise | endpointer | n | " + " | ".join(KINDS) + " |\n|---|---|---|" + "---|" * len(KINDS))
    for level in LEVELS:
        for name, noise in noises.items() if level is not None else [("none", pink)]:
            mixed = [with_noise(sound(clip), level, noise, number) for number, clip in enumerate(quiet)]
            for maker, ends in (("ours", ours), ("WebRTC", webrtc)):
                counts = Counter(outcome(ends(pcm), spoken, len(pcm)) for pcm, spoken in mixed)
                title = name if level is None else f"{name}, {level} dB"
                cells = " | ".join(str(counts[kind]) for kind in KINDS)
                print(f"| {title} | {maker} | {len(mixed)} | {cells} |", flush=True)


def sound(clip: Clip) -> Wave:
    """A clip's samples, full scale 1."""
    return np.frombuffer(AudioFile(CORPUS / "dev" / clip["file"]).pcm(), "<i2") / 32768


def with_noise(
    wave: Wave, level: int | None, noise: Callable[[int, np.random.Generator], Wave], seed: int
) -> tuple[bytes, Stretch]:
    """The sound with more room around it, in noise so many dB below the speech; and when somebody speaks."""
    dice = np.random.default_rng(seed)
    around = np.zeros(round(AROUND_SECONDS * SAMPLE_RATE))
    wave = np.concatenate([around, wave, around])
    frames = wave[: len(wave) // 160 * 160].reshape(-1, 160)
    power = (frames**2).mean(1)
    loud = np.flatnonzero(power > power.max() * 10 ** (LOUD_DB / 10))
    spoken = (loud[0] / 100, (loud[-1] + 1) / 100)
    below = 60 if level is None else level
    made = noise(len(wave), dice)
    wave = wave + made / np.sqrt((made**2).mean()) * np.sqrt(power[loud].mean()) * 10 ** (-below / 20)
    return (wave * 32768).clip(-32768, 32767).astype("<i2").tobytes(), spoken


def pink(samples: int, dice: np.random.Generator) -> Wave:
    """As much power in each octave."""
    spectrum = np.fft.rfft(dice.normal(size=samples)) / np.sqrt(np.arange(samples // 2 + 1).clip(1))
    return np.asarray(np.fft.irfft(spectrum, samples))


def suction(samples: int, dice: np.random.Generator) -> Wave:
    """A hiss, and bursts of lower noise some twenty times a second, now and then."""
    hertz = np.fft.rfftfreq(samples, 1 / SAMPLE_RATE)
    hiss = np.fft.irfft(np.fft.rfft(dice.normal(size=samples)) * ((hertz > 400) & (hertz < 6500)), samples)
    low = np.fft.irfft(np.fft.rfft(dice.normal(size=samples)) * ((hertz > 150) & (hertz < 1800)), samples)
    t = np.arange(samples) / SAMPLE_RATE
    bursts = (np.sin(2 * np.pi * dice.uniform(12, 30) * t) > 0) * (np.sin(2 * np.pi * dice.uniform(0.3, 1) * t) > 0.3)
    return np.asarray(hiss / hiss.std() + 1.5 * low / low.std() * bursts)


def babble(talk: list[Wave], samples: int, dice: np.random.Generator) -> Wave:
    """Five people at a time."""
    total = np.zeros(samples)
    for which in dice.choice(len(talk), 5, replace=False):
        voice = np.resize(talk[which], samples)
        total += np.roll(voice, dice.integers(samples)) / voice.std()
    return total


def frames(pcm: bytes) -> Iterator[Frame]:
    """As they come from a microphone."""
    for start in range(0, len(pcm) - FRAME_BYTES + 1, FRAME_BYTES):
        yield Frame(pcm[start : start + FRAME_BYTES], start // BYTES_PER_SAMPLE)


def ours(pcm: bytes) -> list[Stretch]:
    """Of the log's own endpointer, in seconds."""
    return [(found.start, found.end) for found in segments(frames(pcm))]


def webrtc(pcm: bytes) -> list[Stretch]:
    """Of pocketsphinx's endpointer, which asks the WebRTC detector, in seconds."""
    from pocketsphinx import Endpointer

    endpointer, found = Endpointer(), []
    size, left = endpointer.frame_bytes, b""
    for start in range(0, len(pcm) - size + 1, size):
        before = endpointer.in_speech
        endpointer.process(pcm[start : start + size])
        if before and not endpointer.in_speech:
            found.append((endpointer.speech_start, endpointer.speech_end))
        left = pcm[start + size :]
    if endpointer.in_speech:
        endpointer.end_stream(left or bytes(BYTES_PER_SAMPLE))
        found.append((endpointer.speech_start, len(pcm) / BYTES_PER_SAMPLE / SAMPLE_RATE))
    return found


def outcome(found: list[Stretch], spoken: Stretch, length: int) -> str:
    """What became of one clip."""
    begins, ends = spoken
    near = [(first, last) for first, last in found if last > begins and first < ends]
    if not near:
        return "not found"
    if near[-1][1] > length / BYTES_PER_SAMPLE / SAMPLE_RATE - 0.1:
        return "never ends"
    if len(near) > 1:
        return "several"
    (first, last) = near[0]
    if first > begins + CUT_SECONDS:
        return "begins late"
    return "ends early" if last < ends - CUT_SECONDS else "whole"


if __name__ == "__main__":
    main()
