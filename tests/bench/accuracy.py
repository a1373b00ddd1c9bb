"""How well entries are heard: the speech bench's development clips through the public command, as a table by noise.

    python tests/bench/accuracy.py [--engine auto] [--out FOLDER]

The corpus lies beside the repository (../shared/corpus) and is not part of it; without it this says so and ends.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import subprocess
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType
from typing import Any

CORPUS = Path(__file__).resolve().parents[3] / "shared" / "corpus"
Clip = dict[str, Any]
Event = dict[str, Any]
NOISE = ("clean", 20, 10, 5, 0)
OUTCOMES = (
    "logged right",
    "asked, first guess right",
    "asked, first guess wrong",
    "logged wrong value",
    "logged wrong otherwise",
    "missed",
)


def main() -> None:
    """Hears everything, prints the tables, and leaves the raw answers for the corpus's own scorer."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--engine", default="auto")
    parser.add_argument("--out", type=Path, default=Path("/tmp/tamponade-bench"))
    options = parser.parse_args()
    if not CORPUS.is_dir():
        print(f"skipped: the speech bench corpus is not at {CORPUS}")
        return
    options.out.mkdir(parents=True, exist_ok=True)
    clips = [json.loads(line) for line in (CORPUS / "dev" / "manifest.jsonl").read_text().splitlines()]
    heard = hear([c for c in clips if c["task"] != "number"], ["--engine", options.engine])
    heard |= hear([c for c in clips if c["task"] == "number"], ["--engine", options.engine, "--expect", "number"])
    lines = [json.dumps({"file": name, "events": events}) for name, events in heard.items()]
    (options.out / "dev.jsonl").write_text("\n".join(lines) + "\n")
    score = scorer()
    print(table("entries", [c for c in clips if c["task"] == "command"], heard, score))
    print(table("human number readings", [c for c in clips if c["task"] == "number"], heard, score))
    print(false_entries([c for c in clips if c["task"] == "noncommand"], heard, score))
    print(f"raw answers: {options.out / 'dev.jsonl'} (for {CORPUS / 'score.py'})")


def hear(clips: list[Clip], options: list[str]) -> dict[str, list[Event]]:
    """The public command over these clips."""
    names = "\n".join(str(CORPUS / "dev" / clip["file"]) for clip in clips)
    command = [sys.executable, "-c", "from tui.cli import main; main()", "hear", "--json", *options, "-"]
    answer = subprocess.run(command, input=names, capture_output=True, text=True, check=True)
    return {line["file"]: line["events"] for line in map(json.loads, answer.stdout.splitlines())}


def scorer() -> ModuleType:
    """The corpus's own scorer: its rules of what is equal, and its intervals."""
    spec = importlib.util.spec_from_file_location("score", CORPUS / "score.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def outcome(clip: Clip, events: list[Event], score: ModuleType) -> str:
    """What became of one clip."""
    got = [score.norm(event, False) for event in events]
    wanted = [score.norm(event, False) for event in clip["expected"]]
    right = len(got) == len(wanted) and all(score.same(w, g, False) for w, g in zip(wanted, got, strict=True))
    if not events:
        return "missed"
    if any(event["pending"] for event in events):
        return "asked, first guess right" if right else "asked, first guess wrong"
    if right:
        return "logged right"
    kinds = [entry[0] for entry in got] == [entry[0] for entry in wanted]
    values = [entry[2] for entry in got] == [entry[2] for entry in wanted]
    return "logged wrong value" if kinds and not values else "logged wrong otherwise"


def table(title: str, clips: list[Clip], heard: dict[str, list[Event]], score: ModuleType) -> str:
    """Shares by noise with 95 % Wilson intervals."""
    rows = [f"| {title} | n | " + " | ".join(OUTCOMES) + " |", "|---|---|" + "---|" * len(OUTCOMES)]
    for noise in (*NOISE, "all"):
        chosen = [clip for clip in clips if noise in ("all", clip["snr"])]
        counts = Counter(outcome(clip, heard[clip["file"]], score) for clip in chosen)
        name = f"{noise} dB" if isinstance(noise, int) else str(noise)
        cells = [share(counts[kind], len(chosen), score) for kind in OUTCOMES]
        rows.append(f"| {name} | {len(chosen)} | " + " | ".join(cells) + " |")
    return "\n".join(rows) + "\n"


def share(count: int, of: int, score: ModuleType) -> str:
    """A share in per cent with its interval."""
    low, high = score.wilson(count, of)
    return f"{100 * count / max(of, 1):.1f} ({100 * low:.0f}-{100 * high:.0f})"


def false_entries(clips: list[Clip], heard: dict[str, list[Event]], score: ModuleType) -> str:
    """Entries and questions made out of speech that is none, per hour of it, with 95 % Poisson intervals."""
    hours = sum(clip["duration"] for clip in clips) / 3600
    rows = [f"| {len(clips)} clips of other speech, {60 * hours:.1f} min | count | per hour |", "|---|---|---|"]
    for name, pending in (("logged", False), ("asked", True)):
        count = sum(event["pending"] is pending for clip in clips for event in heard[clip["file"]])
        low, high = score.pois(count, hours)
        rows.append(f"| {name} | {count} | {count / hours:.1f} ({low:.1f}-{high:.1f}) |")
    return "\n".join(rows) + "\n"


if __name__ == "__main__":
    main()
