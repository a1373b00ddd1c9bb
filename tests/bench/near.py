"""How often what is nearly an entry becomes one: an order for it, its opposite, something the log knows nothing of.

    python -m tests.bench.near [--wrong]

The sentences of near.txt beside this file, by two voices of espeak-ng and two of flite that trained nothing, in pink
noise of 25 dB; with the lead word before them, and as everything said while the talk key is down. What is absent is
left out.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tests.bench import talk
from tests.bench.hearing.gather import LEAD_WORD, phrases
from tests.bench.turned import outcome
from voice import models
from voice.doubt import PUSH_TO_TALK, WITH_LEAD_WORD
from voice.listener import Ears
from voice.matcher import Situation


def main() -> None:
    """Hears everything and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--wrong", action="store_true", help="print every one that was logged")
    options = parser.parse_args()
    model = models.default_model(models.models_dir())
    assert model is not None, "no speech model"
    print("| near.txt | mode | n | logged | asked | nothing |\n|---|---|---|---|---|---|")
    for name, situation, thresholds in (
        ("with the lead word", Situation(lead_word=LEAD_WORD), WITH_LEAD_WORD),
        ("talk key", Situation(), PUSH_TO_TALK),
    ):
        with Ears(phrases(), situation.lead_word, "both", model.path, thresholds=thresholds) as ears:
            for part, sentences in parts():
                said = Counter(
                    outcome(ears, situation, voice, text, say, options.wrong)
                    for voice, say in talk.voices(None)
                    for text in sentences
                )
                cells = " | ".join(str(said[kind]) for kind in ("logged", "asked", "nothing"))
                print(f"| {part} | {name} | {said.total()} | {cells} |", flush=True)


def parts() -> Iterator[tuple[str, list[str]]]:
    """The parts of near.txt, each with its sentences."""
    part, sentences = "", list[str]()
    for line in Path(__file__).with_suffix(".txt").read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            sentences.append(line)
            continue
        if sentences:
            yield part, sentences
        part, sentences = line.removeprefix("# ").partition(":")[0], []
    yield part, sentences


if __name__ == "__main__":
    main()
