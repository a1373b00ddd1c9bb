"""What the lead word is worth: how many entries are logged that began with it, and how many that did not.

    python -m tests.bench.lead_word [--every 2]

Said with it: entries of the speech bench's development split, spoken anew by espeak-ng in two voices that trained
nothing, "log" before each, in pink noise. Said without it: the development clips themselves, as somebody speaks who
does not mean the log. Needs ../shared/corpus and espeak-ng; without them this says so and ends.
"""

from __future__ import annotations

import argparse
import io
import shutil
import subprocess
from collections import Counter

import numpy as np
import soundfile

from tests.bench.hearing import tables
from tests.bench.hearing.gather import CORPUS, LEAD_WORD, Clip, clips, phrases
from tests.bench.noise import frames, noisy
from voice.engines import models
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE

VOICES = ("en-gb-x-rp", "en-029")
QUIET = 40.0
LEVELS = (QUIET, 20.0, 10.0, 5.0)


def main() -> None:
    """Hears everything and prints two tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=2, help="take every n-th entry")
    options = parser.parse_args()
    if not CORPUS.is_dir() or not shutil.which("espeak-ng"):
        print(f"skipped: needs the speech bench corpus at {CORPUS} and espeak-ng")
        return
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    entries = [clip for clip in clips() if clip["task"] == "command"][:: options.every]
    said = {clip["transcript"]: clip for clip in entries}
    with Ears(phrases(), LEAD_WORD, "both", model.path) as ears:
        print(
            "| said with the lead word | n | logged right | asked | logged wrong | nothing |\n|---|---|---|---|---|---|"
        )
        for level in LEVELS:
            found = Counter(
                _outcome(ears, clip, _spoken(text, VOICES[number % len(VOICES)], level, number))
                for number, (text, clip) in enumerate(said.items())
            )
            name = "quiet" if level == QUIET else f"{level:.0f} dB"
            print(_row(name, found, ("right", "asked", "wrong", "nothing")), flush=True)
        print("\n| said without it | n | logged | asked | nothing |\n|---|---|---|---|---|")
        for noise in ("clean", "20", "10", "5", "0"):
            chosen = [clip for clip in entries if str(clip["snr"]) == noise]
            found = Counter(_outcome(ears, clip, AudioFile(CORPUS / "dev" / clip["file"]).pcm()) for clip in chosen)
            found["logged"] = found["right"] + found["wrong"]
            print(_row(noise, found, ("logged", "asked", "nothing")), flush=True)


def _row(name: str, found: Counter[str], kinds: tuple[str, ...]) -> str:
    n = sum(found[kind] for kind in kinds)
    return f"| {name} | {n} | " + " | ".join(str(found[kind]) for kind in kinds) + " |"


def _spoken(text: str, voice: str, level: float, seed: int) -> bytes:
    """ "log ..." in noise."""
    command = ("espeak-ng", "-v", voice, "-s", "165", "--stdout", f"{LEAD_WORD} {text}")
    wave, rate = soundfile.read(io.BytesIO(subprocess.run(command, check=True, capture_output=True).stdout))
    at = np.arange(0, len(wave), rate / SAMPLE_RATE)
    return noisy(np.interp(at, np.arange(len(wave)), wave), level, seed)


def _outcome(ears: Ears, clip: Clip, wave: bytes) -> str:
    """ "right", "wrong", "asked" or "nothing"."""
    listening = Listening(lead_word=LEAD_WORD)
    heard = [item for segment in segments(frames(wave)) for item in tables.items(ears.hear(segment, listening).meaning)]
    stands = [item for item, asked in heard if not asked]
    if not stands:
        return "asked" if heard else "nothing"
    wanted = [tables.SCORE.norm(event, False) for event in clip["expected"]]
    same = len(stands) == len(wanted) and all(map(lambda w, g: tables.SCORE.same(w, g, False), wanted, stands))
    return "right" if same else "wrong"


if __name__ == "__main__":
    main()
