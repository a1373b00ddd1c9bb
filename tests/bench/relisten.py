"""The second hearing: how many of the live pass's errors it finds, what it raises falsely, how good its drafts are.

    python -m tests.bench.relisten [--split unseen] [--most 300] [--out FOLDER] [--fit]   # clips, one by one
    python -m tests.bench.relisten --sessions [--split unseen]                           # whole cases, with context
    python -m tests.bench.relisten --drafts                                              # sentences by people

Every clip is heard by the live ears first, then by those of `tamponade relisten`; TAMPONADE_WORDS names the general
recogniser. Clips come in an order that is random but always the same, lines that were logged or asked wrongly first, so
that a run that is cut short is a sample. What was heard is kept in FOLDER and not heard again.
"""

from __future__ import annotations

import argparse
import json
import pickle
import random
import re
import resource
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from log.basics.entry import Meaning
from log.facts.second_hearing import waiting
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from tests.bench.hearing.gather import CORPUS, Clip, clips, phrases, sessions
from tests.bench.hearing.tables import SCORE, items
from tui.commands.options import ears as live_ears
from tui.live.relisten import relisten, seconds_of, written
from tui.live.replay import replay
from tui.live.second_ears import second_ears
from voice.english.numbers import natural_forms
from voice.meaning.again import Again, SecondEars
from voice.meaning.differences import (
    DOUBTED_BELOW,
    SAID_FROM,
    WEIGHTS,
    Weights,
    entries_of,
    shares,
)
from voice.meaning.ears import Ears
from voice.meaning.matcher import Listening, settled
from voice.sound.audio import AudioFile
from voice.sound.endpoint import segments
from voice.sound.segment import BYTES_PER_SAMPLE, Segment

ORDER = 7
"""Seed of the order of the clips."""

PEOPLE = ("human_read", "human_meeting", "human_overlap", "human_other_commands")
"""Categories of clips with sentences by people."""


NEIGHBOURS = CORPUS.parent / "speech-train"
FEWEST_WORDS = 3
"""Words of a sentence."""


@dataclass(frozen=True, slots=True)
class Twice:
    """One utterance, heard live and again."""

    clip: Clip
    live: Meaning
    again: Again


def gathered(split: str, most: int, out: Path) -> list[Twice]:
    """Clips with one utterance, as many as are wanted, from an earlier run where there was one."""
    kept = out / f"twice-{split}.pickle"
    found: dict[str, Twice] = pickle.loads(kept.read_bytes()) if kept.exists() else {}
    chosen = clips(split)
    random.Random(ORDER).shuffle(chosen)
    out.mkdir(parents=True, exist_ok=True)
    left = [clip for clip in chosen[:most] if clip["file"] not in found]
    if left:
        with live_ears(phrases(), None, "auto") as live, second_ears(phrases()) as second:
            for clip in left:
                path = CORPUS / split / clip["file"]
                found.update((clip["file"], one) for one in _twice(clip, path, live, second))
                kept.write_bytes(pickle.dumps(found))
    return [found[clip["file"]] for clip in chosen[:most] if clip["file"] in found]


def _twice(clip: Clip, path: Path, live: Ears, second: SecondEars) -> Iterator[Twice]:
    listening = Listening(number_due=clip["task"] == "number")
    heard = list(segments(AudioFile(path).frames()))
    for segment in heard if len(heard) == 1 else ():
        first = live.hear(segment, listening)
        also = (tuple(first.text.split()),) if first.text else ()
        yield Twice(clip, first.meaning, second.hear(segment, listening, also))


# ---- what was found --------------------------------------------------------------------------------------------------


def outcome(one: Twice) -> str:
    """What became of it live: right, wrong, asked right, asked wrong or missed; none for what is no entry."""
    if one.clip["task"] == "noncommand":
        return "none"
    got = items(one.live)
    if not got:
        return "missed"
    right = _is(one, [item for item, _ in got])
    return f"asked {'right' if right else 'wrong'}" if any(asked for _, asked in got) else "right" if right else "wrong"


def _is(one: Twice, got: Sequence[object]) -> bool:
    wanted = [SCORE.norm(event, False) for event in one.clip["expected"] or ()]
    pairs = zip(wanted, got, strict=True) if len(got) == len(wanted) else ()
    return bool(wanted) and len(got) == len(wanted) and all(SCORE.same(w, g, False) for w, g in pairs)


def verdict(one: Twice, weights: Weights = WEIGHTS) -> str:
    """What the second hearing lays beside it: nothing, or something that is right or wrong."""
    readings = [each for each in one.again.readings if entries_of(each.meaning)]
    found = shares(readings, one.again.drafted, lambda _: 0, weights)
    ranked = sorted(zip(found, readings, strict=True), key=lambda pair: -pair[0])
    logged = entries_of(one.live)
    own = sum(share for share, each in ranked if entries_of(each.meaning) == logged)
    others = [pair for pair in ranked if entries_of(pair[1].meaning) != logged]
    if not logged:
        laid = ranked[:1] if ranked and ranked[0][0] >= SAID_FROM else []
    elif own >= DOUBTED_BELOW:
        laid = []
    else:
        laid = others[:1]
        if not laid:
            return "nothing said"
    if not laid:
        return "-"
    return "right" if _is(one, [item for item, _ in items(settled(laid[0][1].meaning))]) else "other"


def table(found: Sequence[Twice]) -> str:
    """What the second hearing lays beside each kind of outcome, with Wilson intervals."""
    counts = Counter((outcome(one), verdict(one)) for one in found)
    rows = ["| live | n | something laid beside it | of it right |", "|---|---|---|---|"]
    for live in ("right", "wrong", "asked right", "asked wrong", "missed", "none"):
        of = sum(number for (kind, _), number in counts.items() if kind == live)
        laid = of - counts[live, "-"]
        low, high = SCORE.wilson(laid, of)
        rows.append(f"| {live} | {of} | {laid} ({100 * low:.0f}-{100 * high:.0f} %) | {counts[live, 'right']} |")
    return "\n".join(rows)


# ---- fitting ---------------------------------------------------------------------------------------------------------


def fitted(found: Sequence[Twice]) -> Weights:
    """The weights that make the shares likeliest."""
    from scipy.optimize import minimize

    def loss(of: Sequence[float]) -> float:
        weights = _weights(of)
        return sum(_surprise(one, weights) for one in found) / len(found) + 1e-3 * sum(x * x for x in of)

    start = (WEIGHTS.ears, WEIGHTS.other, WEIGHTS.agrees, WEIGHTS.nothing)
    return _weights(minimize(loss, start, method="Nelder-Mead").x)


def _weights(of: Sequence[float]) -> Weights:
    ears, other, agrees, nothing = (round(float(x), 2) for x in of)
    return Weights(ears=ears, other=other, agrees=agrees, nothing=nothing)


def _surprise(one: Twice, weights: Weights) -> float:
    import math

    readings = [each for each in one.again.readings if entries_of(each.meaning)]
    found = shares(readings, one.again.drafted, lambda _: 0, weights)
    right = [_is(one, [item for item, _ in items(settled(each.meaning))]) for each in readings]
    share = sum(part for part, is_it in zip(found, right, strict=True) if is_it) if any(right) else 1 - sum(found)
    return -math.log(max(share, 1e-6))


def crossed(found: Sequence[Twice]) -> str:
    """The table with weights fitted to other voices."""
    voices = sorted({_voice(one) for one in found})
    half = {voice: number % 2 for number, voice in enumerate(voices)}
    parts = [[one for one in found if half[_voice(one)] == side] for side in (0, 1)]
    fits = [fitted(part) for part in parts]
    told = "\n".join(f"half {side}: {fit}" for side, fit in enumerate(fits))
    counts: Counter[tuple[str, str]] = Counter()
    for side, part in enumerate(parts):
        counts.update((outcome(one), verdict(one, fits[1 - side])) for one in part)
    return f"{told}\nall: {fitted(found)}\n{sorted(counts.items())}"


def _voice(one: Twice) -> str:
    return str(one.clip.get("voice") or one.clip.get("speaker") or one.clip["file"])


# ---- whole cases -----------------------------------------------------------------------------------------------------


def whole_cases(split: str, out: Path) -> Iterator[str]:
    """Each session heard into a case that keeps all sound, and heard again: what is right of what differs."""
    folder = CORPUS / "sessions" if split == "dev" else CORPUS / split / "sessions"
    for truth in sessions(split):
        session = open_case(out, Path(truth["file"]).stem, load("three-lumen"), truth["file"], Keeping(sound="all"))
        with live_ears(phrases(), None, "auto") as ears:
            replay(AudioFile(folder / truth["file"]), session, ears, None)
        spent = _children()
        again = _again(out, session.case.path.stem)
        yield from _judged(truth, again, _children() - spent)


def _again(out: Path, name: str) -> Session:
    session = open_case(out, name, load("three-lumen"), "typed", Keeping())
    with second_ears(phrases()) as ears:
        relisten(
            session,
            ears,
            lambda batch: written(session, batch, ears.names, session.began),
            lambda _heard, _of: True,
        )
    session.case.close()
    return session


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _judged(truth: Clip, session: Session, spent: float) -> Iterator[str]:
    from log.facts.second_hearing import kept_sounds

    kept = kept_sounds(session.record)
    seconds = seconds_of(kept)
    yield f"{truth['file']}: {len(kept)} sounds, {seconds:.0f} s of speech, {spent:.0f} s of processor, "
    wanted = [(entry["start"], SCORE.norm(event, False)) for entry in truth["entries"] for event in entry["events"]]
    assert session.record.opened is not None
    for one in waiting(session.record):
        at = (one.said_at - session.record.opened.logged_at).total_seconds()
        near = [event for start, event in wanted if abs(start - at) < 6]
        said = SCORE.norm(one.entry.model_dump(), False) if one.entry is not None else None
        right = any(SCORE.same(event, said, False) for event in near) if said is not None else not near
        yield f"  {at:6.1f} s  {one.differs}: {said} {'right' if right else 'false'} (truth: {near})"


# ---- drafts ----------------------------------------------------------------------------------------------------------


def word_errors(said: str, drafted: str) -> tuple[int, int]:
    """Words inserted, left out or changed, and the words that were said; case, signs and figures do not count."""
    wanted, got = _plain(said), _plain(drafted)
    row = list(range(len(got) + 1))
    for place, word in enumerate(wanted, start=1):
        before, row[0] = row[0], place
        for at, other in enumerate(got, start=1):
            before, row[at] = row[at], min(row[at] + 1, row[at - 1] + 1, before + (word != other))
    return row[-1], len(wanted)


def _plain(text: str) -> list[str]:
    """In small letters, without signs, numbers in words."""
    words = re.sub(r"[^a-z0-9' ]", " ", text.lower().replace("-", " ")).split()
    said = (next(natural_forms(int(word))) if word.isdigit() and len(word) < 4 else word for word in words)
    return " ".join(said).split()


def drafts(every: int = 8) -> Iterator[str]:
    """Word error of the drafts on sentences by people: those of the corpus, and of its neighbours every so many, from
    which the general recogniser has learnt nothing that we know of."""
    errors, words, many = Counter[str](), Counter[str](), Counter[str]()
    with second_ears(phrases()) as ears:
        for title, path, said in (*_of_the_corpus(), *_of_its_neighbours(every)):
            pcm = AudioFile(path).pcm()
            wrong, of = word_errors(said, ears.draft(Segment(pcm, 0, len(pcm) // BYTES_PER_SAMPLE)).text)
            errors[title] += wrong
            words[title] += of
            many[title] += 1
    for title, of in words.items():
        low, high = SCORE.wilson(min(errors[title], of), of)
        share = f"{100 * errors[title] / of:.0f} % ({100 * low:.0f}-{100 * high:.0f})"
        yield f"| {title} | {many[title]} | {of} | {share} |"


def _of_the_corpus() -> Iterator[tuple[str, Path, str]]:
    """What is read, and the sentences that the other sets call people's; title, sound and words of each."""
    for split in ("dev", "unseen"):
        for clip in clips(split):
            if clip.get("category") in PEOPLE and len((clip["transcript"] or "").split()) >= FEWEST_WORDS:
                yield f"corpus, {clip['snr']}", CORPUS / split / clip["file"], clip["transcript"]


def _of_its_neighbours(every: int) -> Iterator[tuple[str, Path, str]]:
    for folder in (NEIGHBOURS, NEIGHBOURS / "people2"):
        lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines() if folder.is_dir() else ()
        said = [clip for clip in map(json.loads, lines) if len(clip["transcript"].split()) >= FEWEST_WORDS]
        for clip in said[::every]:
            yield clip["source"].split("/")[0], folder / clip["file"], clip["transcript"]


def main(arguments: Iterable[str] | None = None) -> None:
    """Prints what is asked for."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    options.add_argument("--split", default="unseen")
    options.add_argument("--most", type=int, default=300)
    options.add_argument("--out", type=Path, default=Path("/tmp/relisten"))
    options.add_argument("--fit", action="store_true")
    options.add_argument("--sessions", action="store_true")
    options.add_argument("--drafts", action="store_true")
    chosen = options.parse_args(None if arguments is None else list(arguments))
    if not CORPUS.is_dir():
        print(f"there is no corpus in {CORPUS}")
    elif chosen.drafts:
        print("\n".join(drafts()))
    elif chosen.sessions:
        for line in whole_cases(chosen.split, chosen.out):
            print(line, flush=True)
    else:
        found = gathered(chosen.split, chosen.most, chosen.out)
        print(crossed(found) if chosen.fit else table(found))


if __name__ == "__main__":
    main()
