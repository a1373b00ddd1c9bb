"""Natural wording, spoken: the sets that `tests.bench.natural` reads typed, said by voices that trained nothing.

    python -m tests.bench.spoken SET [--voices DIR] [--level DB] [--every N] [--lead-word] [--show]

Every line is said by one voice, the voices in turn: two of espeak-ng, two of flite, and those of Kokoro-82M that the
training keeps apart where DIR holds its archives (models/training/README.md). Pink noise, the shipped ears; with the
talk key, or with the lead word before every line. The shared set's own `score.py` judges it.

What the ear expects people to say is learnt from the sets of this folder: of those only a set that
`voice/english/as_said.txt` was not made of says how well others are heard.
"""

from __future__ import annotations

import argparse
import pickle
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from log.basics.entry import Meaning
from tests.bench import talk
from tests.bench.hearing.gather import LEAD_WORD, Heard, phrases
from tests.bench.natural import Events, events, judge, outcome, sets
from tests.bench.natural import rows as lines
from tests.bench.noise import frames, noisy
from tui.live.heard_json import events as as_json
from voice.engines import models
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, settled
from voice.meaning.thresholds import PUSH_TO_TALK, WITH_LEAD_WORD, Thresholds
from voice.meaning.verdict import judged
from voice.sound.endpoint import segments

RIGHT = ("right", "asked right")
FOR_FIT = (25.0, 10.0)
"""dB."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a set, said by one voice."""

    row: dict[str, Any]
    voice: str
    heard: tuple[Heard, ...]


def main() -> None:
    """Prints what became of the lines, and of how many that are right when they are typed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("set")
    parser.add_argument("--voices", type=Path, help="the folder with Kokoro's archives")
    parser.add_argument("--level", type=float, default=25.0, help="dB of the speech above the noise")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--lead-word", action="store_true")
    parser.add_argument("--show", action="store_true", help="print every line with what was heard")
    options = parser.parse_args()
    lead = LEAD_WORD if options.lead_word else None
    table: dict[str, Counter[str]] = {}
    typed = both = 0
    for line in said(options.set, options.voices, options.level, lead, options.every):
        words, found = verdict(line, WITH_LEAD_WORD if lead else PUSH_TO_TALK)
        result = outcome(SCORER, line.row, found)
        table.setdefault(line.row["must"], Counter())[result] += 1
        if line.row["must"] == "log" and outcome(SCORER, line.row, events(phrases(), line.row["text"])) in RIGHT:
            typed, both = typed + 1, both + (result in RIGHT)
        if options.show:
            print(f"{line.voice} | {line.row['must']} | {result} | {line.row['text']} | {words}", flush=True)
    for must, counts in table.items():
        shares = "  ".join(f"{name} {many}" for name, many in counts.most_common())
        print(f"{options.set} must {must:8} n {counts.total():4}  {shares}")
    if typed and SCORER is not None:
        low, high = SCORER.wilson(both, typed)
        print(f"right spoken of right typed: {both} of {typed}, {100 * both / typed:.1f} % ({low:.0f} to {high:.0f})")


SCORER = judge()


def said(name: str, archives: Path | None, level: float, lead_word: str | None, every: int = 1) -> Iterator[Line]:
    """Every line of a set, said and heard."""
    (path,) = (one for one in sets() if one.stem == name)
    model = models.default_model(models.models_dir())
    listening = Listening(lead_word=lead_word)
    voices = list(talk.voices(archives))
    with Ears(phrases(), lead_word, "auto", model.path if model else None) as ears:
        for place, row in enumerate(lines(path)[::every]):
            voice, say = voices[(place * 5 + place // len(voices)) % len(voices)]
            wave = say(f"{lead_word}, {row['text']}" if lead_word else row["text"])
            found = segments(frames(noisy(wave, level, place)))
            yield Line(row, voice, tuple(Heard(ears.gather(one, listening), listening, 0.0) for one in found))


def verdict(line: Line, thresholds: Thresholds) -> tuple[str, Events]:
    """The words that were believed, and what the log made of them."""
    words, found = list[str](), Events()
    for heard in line.heard:
        hearing = judged(phrases(), heard.evidence, heard.listening, thresholds, "")
        words.append(hearing.text)
        found += as_json(hearing.meaning, hearing.confidence, 0.0, queries=True)
    return " ".join(words), found


def for_fit(
    folder: Path, name: str, archives: Path | None, every: int
) -> Iterator[tuple[str, Callable[[Meaning], bool], tuple[Heard, ...]]]:
    """Voice, what is right of what it is heard to say, and what was heard, from an earlier run if there is one."""
    folder.mkdir(parents=True, exist_ok=True)
    for level in FOR_FIT:
        kept = folder / f"said-{name}-{level:g}-{every}.pickle"
        if not kept.exists():
            kept.write_bytes(pickle.dumps(list(said(name, archives, level, None, every))))
        found: list[Line] = pickle.loads(kept.read_bytes())
        yield from ((line.voice, partial(_is_right, line.row), line.heard) for line in found)


def _is_right(row: dict[str, Any], meaning: Meaning) -> bool:
    result = outcome(SCORER, row, as_json(settled(meaning), 1.0, 0.0, queries=True))
    return (row["must"], result) in {("log", "right"), ("log", "asked right"), ("ask", "asked")}


if __name__ == "__main__":
    from tests.bench import spoken

    spoken.main()  # of the module: what is kept must be readable for tests.bench.hearing too
