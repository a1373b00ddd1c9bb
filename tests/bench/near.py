"""How often what is nearly an entry becomes one: an order for it, its opposite, something the log knows nothing of.

    python -m tests.bench.near [--wrong]

The sentences of near.txt beside this file, by two voices of espeak-ng and two of flite that trained nothing, in pink
noise of 25 dB; with the lead word before them, and as everything said while the talk key is down. What is absent is
left out.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from tests.bench.turned import HEADER, modes, row


def main() -> None:
    """Hears everything and prints a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--wrong", action="store_true", help="print every one that was logged")
    options = parser.parse_args()
    print(f"| near.txt | mode | {HEADER}")
    for mode, situation, ears in modes():
        for part, sentences in parts():
            print(row(f"{part} | {mode}", ears, situation, sentences, options.wrong), flush=True)


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
