"""How well entries are heard, on the speech bench's development clips: every engine alone and all together, one run.

    python -m tests.bench.hearing [--out FOLDER] [--every 1] [--fit [--voices DIR]]

Tables go to the screen, plots into the folder. The corpus lies beside the repository (../shared/corpus) and is not part
of it; without it this says so and ends. `--fit` fits the weights of the witnesses (extra `training`) to these clips and
to what tests.bench.unheard hears, DIR as there, and holds them against those in force.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from tests.bench import unheard
from tests.bench.hearing import fit, tables
from tests.bench.hearing.gather import CORPUS, Clip, Gathered, clips, gathered, phrases, sessions
from voice.meaning.thresholds import IN_TALK, PUSH_TO_TALK, WITH_LEAD_WORD
from voice.phrases.phrases import Phrases


def main() -> None:
    """Gathers, and prints everything."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=Path("/tmp/tamponade-bench"))
    parser.add_argument("--every", type=int, default=1, help="take every n-th clip")
    parser.add_argument("--fit", action="store_true", help="fit the weights of the witnesses")
    parser.add_argument("--voices", type=Path, help="the folder with Kokoro's archives")
    options = parser.parse_args()
    if not CORPUS.is_dir():
        print(f"skipped: the speech bench corpus is not at {CORPUS}")
        return
    said, heard, chosen = phrases(), gathered(options.out, options.every), clips()[:: options.every]
    if options.fit:
        _fit(said, chosen, heard, options.out, unheard.gathered(options.out, options.voices))
        return
    entries = [clip for clip in chosen if clip["task"] == "command"]
    numbers = [clip for clip in chosen if clip["task"] == "number"]
    ways = tables.ways(said, PUSH_TO_TALK)
    for name, way in ways.items():
        print(tables.by_noise(f"entries, {name}", entries, heard.open, way))
        print(tables.by_noise(f"human number readings, {name}", numbers, heard.open, way))
    print(tables.sound_alikes(entries, heard.open, ways["all together"]))
    _false_entries(said, chosen, heard)
    others = [clip for clip in chosen if clip["task"] == "noncommand"]
    print(tables.trade_off(said, entries, others, heard.open, PUSH_TO_TALK))
    waits = np.array([h.seconds for found in heard.open.values() for h in found])
    sound = sum(h.evidence.segment.seconds for found in heard.open.values() for h in found)
    print(f"from the end of a segment to its evidence: p50 {1000 * np.median(waits):.0f} ms, ", end="")
    print(f"p95 {1000 * np.percentile(waits, 95):.0f} ms; {waits.sum() / sound:.3f} of the sound's length")


def _false_entries(said: Phrases, chosen: list[Clip], heard: Gathered) -> None:
    others = [clip for clip in chosen if clip["task"] == "noncommand"]
    led, open_, key = (tables.ways(said, t)["all together"] for t in (WITH_LEAD_WORD, IN_TALK, PUSH_TO_TALK))
    print("| speech that is no entry | logged | asked |\n|---|---|---|")
    for name, found, way in (
        ("with the lead word", heard.with_lead_word, led),
        ("open", heard.open, open_),
        ("push to talk", heard.open, key),
    ):
        logged, asked, hours = tables.false_entries(others, found, way)
        print(f"| {name}, {60 * hours:.1f} min | {tables.rate(logged, hours)} | {tables.rate(asked, hours)} |")
    for session in sessions():
        for name, found, way in (("with the lead word", heard.with_lead_word, led), ("open", heard.open, open_)):
            got = [item for h in found[session["file"]] for item in tables.items(way(h)[0])]
            wanted = [tables.SCORE.norm(e, False) for entry in session["entries"] for e in entry["events"]]
            stands = [item for item, pending in got if not pending]
            known = sum(any(tables.SCORE.same(w, g, False) for w in wanted) for g in stands)
            line = f"{len(wanted)} entries, logged {len(stands)} of which {known} right, asked {len(got) - len(stands)}"
            print(f"session {session['file']} ({session['snr']} dB), {name}: {line}")
    print()


def _fit(said: Phrases, chosen: list[Clip], heard: Gathered, out: Path, others: unheard.Groups) -> None:
    spoken = [one for by_noise in others.values() for found in by_noise.values() for one in found]
    rows, right, voices = fit.joined(
        fit.examples(said, ((str(clip["voice"]), fit.wanted(clip), heard.open[clip["file"]]) for clip in chosen)),
        fit.examples(said, ((who.who, who.wanted, segments) for who, segments in spoken)),
    )
    weights, constant, probabilities = fit.fitted(rows, right, voices)
    print(f"{len(right)} hearings, {100 * right.mean():.1f} % right")
    print("weights:", {name: round(value, 3) for name, value in weights.items()}, "constant:", round(constant, 3))
    force = fit.in_force(rows)
    old, new = fit.log_loss(force, right), fit.log_loss(probabilities, right)
    print(f"log loss: {old:.3f} by those in force, {new:.3f} by these")
    print(fit.reliability("In force", force, right, out / "reliability-in-force.svg"))
    print(fit.reliability("Other voices than those fitted to", probabilities, right, out / "reliability.svg"))
    for least in (0.5, 0.8, 0.9, 0.95, 0.97, 0.98, 0.99):
        above = probabilities >= least
        print(f"believed {least} and more: {int((above & right).sum())} right, {int((above & ~right).sum())} wrong")


if __name__ == "__main__":
    main()
