"""Natural wording, typed: how much of the sets of our own, and of the shared set where it lies, is understood.

    python -m tests.bench.natural [SET ...]

Each set is a file of lines {"text", "must", "expected", ...} (the README of the shared set says what they mean). Every
line is understood in this process, and the shared set's own `score.py` judges it. Where that is absent, it is said, and
only what can be told without it is printed: what was logged, asked and left.
"""

from __future__ import annotations

import importlib.util
import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

from tests.cases import phrases as phrases_of
from tui.live.heard_json import Event
from tui.live.heard_json import events as heard
from voice.meaning.matcher import settled, understand
from voice.phrases.phrases import Phrases

OWN = Path(__file__).parent / "natural"
SHARED = Path(__file__).parents[3] / "shared" / "corpus" / "natural"

Events = list[Event]


def rows(path: Path) -> list[dict[str, Any]]:
    """The lines of one set."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]


def sets() -> Iterator[Path]:
    """Every set there is: our own, and the shared one where it lies."""
    yield from sorted(OWN.glob("own-*.jsonl"))
    if (SHARED / "dev.jsonl").is_file():
        yield SHARED / "dev.jsonl"


def events(phrases: Phrases, text: str) -> Events:
    """What is understood of one line, as `tamponade understand --json` prints it."""
    return heard(settled(understand(phrases, text)), 1.0, 0.0, queries=True)


def judge() -> ModuleType | None:
    """The judge of the shared set, or None where it is not there."""
    path = SHARED / "score.py"
    spec = importlib.util.spec_from_file_location("score", path) if path.is_file() else None
    if spec is None or spec.loader is None:
        return None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def outcome(scorer: ModuleType | None, row: dict[str, Any], found: Events) -> str:
    """How one line was understood."""
    if scorer is not None:
        return str(scorer.judge(row, found))
    if not found:
        return "left alone"
    return "asked" if any(event["pending"] for event in found) else "logged"


def main() -> None:
    """Prints a line for each set and each of log, ask, nothing."""
    scorer, phrases = judge(), phrases_of()
    if scorer is None:
        print(f"{SHARED} is not here: what was logged is counted, whether it is right is not judged")
    for path in sets():
        if sys.argv[1:] and path.stem not in sys.argv[1:]:
            continue
        table: dict[str, Counter[str]] = {}
        for row in rows(path):
            table.setdefault(row["must"], Counter())[outcome(scorer, row, events(phrases, row["text"]))] += 1
        for must, counts in table.items():
            n = sum(counts.values())
            shares = "  ".join(f"{name} {many} ({100 * many / n:.1f} %)" for name, many in counts.most_common())
            print(f"{path.stem:6} must {must:8} n {n:4}  {shares}")


if __name__ == "__main__":
    main()
