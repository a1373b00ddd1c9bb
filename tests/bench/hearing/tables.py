"""The tables: what became of every clip, by noise, for each engine alone and for all together."""

from __future__ import annotations

import importlib.util
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import ModuleType
from typing import Any

from log.basics.entry import Meaning, NotUnderstood, Question, Understood
from tests.bench.hearing.gather import CORPUS, Clip, Heard
from voice.english.numbers import SOUND_ALIKE
from voice.meaning.matcher import settled, understand
from voice.meaning.thresholds import IN_TALK, Thresholds
from voice.meaning.verdict import Hearing, judged
from voice.phrases.phrases import Phrases

NOISE = ("clean", 20, 10, 5, 0)
OUTCOMES = ("logged right", "asked, first guess right", "asked, first guess wrong", "logged wrong", "missed")
Item = tuple[str, str | None, Any, str | None]
Way = Callable[[Heard], tuple[Meaning, float]]
"""How a segment is read, and how sure that is."""


def scorer() -> ModuleType:
    """The corpus's own scorer: its rules of what is equal, and its intervals."""
    spec = importlib.util.spec_from_file_location("score", CORPUS / "score.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


SCORE = scorer() if CORPUS.is_dir() else ModuleType("score")


def ways(phrases: Phrases, open_: Thresholds) -> dict[str, Way]:
    """Each engine alone without any doubt, and all together as the log uses them."""

    def plain(words: Callable[[Heard], tuple[str, ...]]) -> Way:
        def read(heard: Heard) -> tuple[Meaning, float]:
            said = words(heard)
            meaning = understand(phrases, said, heard.listening) if said else NotUnderstood(heard="")
            return settled(meaning), 1.0

        return read

    def together(heard: Heard) -> tuple[Meaning, float]:
        hearing = judge(phrases, heard, open_)
        return hearing.meaning, hearing.confidence

    return {
        "people's ear alone": plain(lambda heard: heard.evidence.people.texts if heard.evidence.people else ()),
        "net alone": plain(lambda heard: heard.evidence.net.texts if heard.evidence.net else ()),
        "all together": together,
    }


def judge(phrases: Phrases, heard: Heard, thresholds: Thresholds) -> Hearing:
    """As the log does it."""
    listening = replace(heard.listening, in_talk=thresholds is IN_TALK)
    return judged(phrases, heard.evidence, listening, thresholds, "")


def items(meaning: Meaning) -> list[tuple[Item, bool]]:
    """Entries in the corpus's terms, and whether they are only asked."""
    if not isinstance(meaning, Understood):
        return []
    likeliest = [(i.candidates[0], True) if isinstance(i, Question) else (i, False) for i in meaning.items]
    fields = [({"kind": e.kind, "site": e.site, "value": e.value, "unit": e.unit}, asked) for e, asked in likeliest]
    return [(SCORE.norm(event, False), asked) for event, asked in fields]


def outcome(clip: Clip, segments: Iterable[Heard], way: Way) -> str:
    """What became of one clip."""
    found = [item for heard in segments for item in items(way(heard)[0])]
    wanted = [SCORE.norm(event, False) for event in clip["expected"]]
    got = [item for item, _ in found]
    right = len(got) == len(wanted) and all(SCORE.same(w, g, False) for w, g in zip(wanted, got, strict=True))
    if not found:
        return "missed"
    if any(asked for _, asked in found):
        return "asked, first guess right" if right else "asked, first guess wrong"
    return "logged right" if right else "logged wrong"


def by_noise(title: str, chosen: list[Clip], heard: Mapping[str, tuple[Heard, ...]], way: Way) -> str:
    """Shares by noise with 95 % Wilson intervals."""
    rows = [f"| {title} | n | " + " | ".join(OUTCOMES) + " |", "|---|---|" + "---|" * len(OUTCOMES)]
    for noise in (*NOISE, "all"):
        some = [clip for clip in chosen if noise in ("all", clip["snr"])]
        counts = Counter(outcome(clip, heard[clip["file"]], way) for clip in some)
        cells = [share(counts[kind], len(some)) for kind in OUTCOMES]
        rows.append(f"| {f'{noise} dB' if isinstance(noise, int) else noise} | {len(some)} | {' | '.join(cells)} |")
    return "\n".join(rows) + "\n"


def by_key(title: str, key: str, chosen: list[Clip], heard: Mapping[str, tuple[Heard, ...]], way: Way) -> str:
    """Logged right and logged wrong of n by noise, a line for every value of this field of a clip."""
    rows = [f"| {title}, {key} | " + " | ".join(map(str, NOISE)) + " |", "|---|" + "---|" * len(NOISE)]
    for value in sorted({str(clip.get(key)) for clip in chosen}):
        cells = []
        for noise in NOISE:
            some = [clip for clip in chosen if str(clip.get(key)) == value and clip["snr"] == noise]
            counts = Counter(outcome(clip, heard[clip["file"]], way) for clip in some)
            cells.append(f"{counts['logged right']}, {counts['logged wrong']} wrong of {len(some)}")
        rows.append(f"| {value} | {' | '.join(cells)} |")
    return "\n".join(rows) + "\n"


def share(count: int, of: int) -> str:
    """A share in per cent with its interval."""
    if not of:
        return "-"
    low, high = SCORE.wilson(count, of)
    return f"{100 * count / of:.1f} ({100 * low:.0f}-{100 * high:.0f})"


def sound_alikes(chosen: list[Clip], heard: Mapping[str, tuple[Heard, ...]], way: Way) -> str:
    """Teens against tens, said as numbers: what became of them, by the pair."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for clip in chosen:
        said = [word for word in (clip["transcript"] or "").split() if word in SOUND_ALIKE]
        if len(said) == 1:
            pair = " / ".join(sorted((said[0], SOUND_ALIKE[said[0]]), key=lambda word: word.endswith("ty")))
            counts[pair][outcome(clip, heard[clip["file"]], way)] += 1
    rows = ["| pair | n | " + " | ".join(OUTCOMES) + " |", "|---|---|" + "---|" * len(OUTCOMES)]
    total: Counter[str] = Counter()
    for pair in sorted(counts):
        total += counts[pair]
        rows.append(f"| {pair} | {counts[pair].total()} | " + " | ".join(str(counts[pair][o]) for o in OUTCOMES) + " |")
    rows.append(f"| all | {total.total()} | " + " | ".join(share(total[o], total.total()) for o in OUTCOMES) + " |")
    return "\n".join(rows) + "\n"


def false_entries(chosen: list[Clip], heard: Mapping[str, tuple[Heard, ...]], way: Way) -> tuple[int, int, float]:
    """Logged, asked, and hours, of speech that holds no entry."""
    found = [asked for clip in chosen for h in heard[clip["file"]] for _, asked in items(way(h)[0])]
    hours = sum(clip["duration"] for clip in chosen) / 3600
    return found.count(False), found.count(True), hours


def rate(count: int, hours: float) -> str:
    """Per hour, with a 95 % Poisson interval."""
    low, high = SCORE.pois(count, hours)
    return f"{count} = {count / hours:.1f}/h ({low:.1f}-{high:.1f})"


def trade_off(
    phrases: Phrases, chosen: list[Clip], others: list[Clip], heard: Mapping[str, tuple[Heard, ...]], base: Thresholds
) -> str:
    """What a threshold costs in questions and what it spares in wrong entries."""
    rows = ["| logged from | logged right | asked | logged wrong | false entries |", "|---|---|---|---|---|"]
    for least in (0.5, 0.7, 0.8, 0.85, 0.9, 0.95, 0.97, 0.98, 0.99):
        thresholds = replace(base, log_from=least, alike_from=max(least, base.alike_from))

        def way(h: Heard, thresholds: Thresholds = thresholds) -> tuple[Meaning, float]:
            return judge(phrases, h, thresholds).meaning, 1.0

        counts = Counter(outcome(clip, heard[clip["file"]], way) for clip in chosen)
        asked = counts["asked, first guess right"] + counts["asked, first guess wrong"]
        logged, _, _ = false_entries(others, heard, way)
        n = len(chosen)
        wrong = counts["logged wrong"]
        rows.append(f"| {least} | {share(counts['logged right'], n)} | {share(asked, n)} | {wrong} | {logged} |")
    return "\n".join(rows) + "\n"
