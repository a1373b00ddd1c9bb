"""How well entries are heard, on the speech bench's clips: every ear alone and all together, one run.

    python -m tests.bench.hearing [--out FOLDER] [--every 1] [--splits dev unseen] [--fit]

Tables go to the screen, plots into the folder. Unseen is steered by, dev only watched: it shares voices with the nets'
training. The corpus lies beside the repository (../shared/corpus) and is not part of it; without it this says so and
ends. `--fit` fits the weights of the witnesses (extra `training`) to the unseen clips and to a set of natural wording
that the ear's language was not learnt from, spoken at 25 and 10 dB (tests.bench.spoken), holds them against those in
force and prints them as `voice/meaning/belief.toml` has them.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np

from tests.bench import spoken
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
    parser.add_argument("--natural", default="own-u", help="with --fit: a set of natural wording, spoken")
    parser.add_argument("--voices", type=Path, help="the folder with Kokoro's archives (tests.bench.spoken)")
    parser.add_argument("--splits", nargs="+", choices=("dev", "unseen"), default=("dev", "unseen"))
    options = parser.parse_args()
    if not CORPUS.is_dir():
        print(f"skipped: the speech bench corpus is not at {CORPUS}")
        return
    if options.fit:
        said = [*_clips(options), *(spoken.for_fit(options.out, options.natural, options.voices, options.every))]
        _fit(phrases(), said, options.out)
        return
    heard = {split: gathered(options.out, options.every, split) for split in options.splits}
    for split, found in heard.items():
        _split(split, clips(split)[:: options.every], found)


def _split(split: str, chosen: list[Clip], heard: Gathered) -> None:
    said = phrases()
    entries = [clip for clip in chosen if clip["task"] == "command"]
    numbers = [clip for clip in chosen if clip["task"] == "number"]
    ways = tables.ways(said, PUSH_TO_TALK)
    for name, way in ways.items():
        print(tables.by_noise(f"{split}: entries, {name}", entries, heard.open, way))
        print(tables.by_noise(f"{split}: human number readings, {name}", numbers, heard.open, way))
    together = ways["all together"]
    for what in ("phrase_split", "voice"):
        print(tables.by_key(f"{split}: entries", what, entries, heard.open, together))
    print(tables.sound_alikes(entries + numbers, heard.open, together))
    _false_entries(split, chosen, heard)
    others = [clip for clip in chosen if clip["task"] == "noncommand"]
    print(tables.trade_off(said, entries, others, heard.open, PUSH_TO_TALK))
    waits = np.array([h.seconds for found in heard.open.values() for h in found])
    sound = sum(h.evidence.segment.seconds for found in heard.open.values() for h in found)
    print(f"from the end of a segment to its evidence: p50 {1000 * np.median(waits):.0f} ms, ", end="")
    print(f"p95 {1000 * np.percentile(waits, 95):.0f} ms; {waits.sum() / sound:.3f} of the sound's length")


def _false_entries(split: str, chosen: list[Clip], heard: Gathered) -> None:
    others = [clip for clip in chosen if clip["task"] == "noncommand"]
    led, open_, key = (tables.ways(phrases(), t)["all together"] for t in (WITH_LEAD_WORD, IN_TALK, PUSH_TO_TALK))
    print("| speech that is no entry | logged | asked |\n|---|---|---|")
    for name, found, way in (
        ("with the lead word", heard.with_lead_word, led),
        ("open", heard.open, open_),
        ("push to talk", heard.open, key),
    ):
        logged, asked, hours = tables.false_entries(others, found, way)
        print(f"| {name}, {60 * hours:.1f} min | {tables.rate(logged, hours)} | {tables.rate(asked, hours)} |")
    for session in sessions(split):
        for name, found, way in (("with the lead word", heard.with_lead_word, led), ("open", heard.open, open_)):
            got = [item for h in found[session["file"]] for item in tables.items(way(h)[0])]
            wanted = [tables.SCORE.norm(e, False) for entry in session["entries"] for e in entry["events"]]
            stands = [item for item, pending in got if not pending]
            known = sum(any(tables.SCORE.same(w, g, False) for w in wanted) for g in stands)
            line = f"{len(wanted)} entries, logged {len(stands)} of which {known} right, asked {len(got) - len(stands)}"
            print(f"session {session['file']} ({session['snr']} dB), {name}: {line}")
    print()


def _clips(options: argparse.Namespace) -> Iterator[fit.Spoken]:
    """What was heard of the unseen clips."""
    heard = gathered(options.out, options.every, "unseen")
    for clip in clips("unseen")[:: options.every]:
        yield fit.who(clip), partial(fit.is_all_of, fit.wanted(clip)), heard.open[clip["file"]]


def _fit(words: Phrases, said: list[fit.Spoken], out: Path) -> None:
    table = {}
    for ears in fit.SETS:
        of = fit.examples(words, said, ears)
        table[ears], probabilities = fit.fitted(of)
        old, new = fit.log_loss(fit.in_force(of, ears), of.right), fit.log_loss(probabilities, of.right)
        print(f"{ears}: {len(of.right)} readings; log loss {old:.3f} by those in force, {new:.3f} by these on others")
        print(fit.reliability(f"{ears}, other voices", probabilities, of.right, out / f"reliability-{ears}.svg"))
    print(fit.as_toml(table))


if __name__ == "__main__":
    main()
