"""The weights of the witnesses for every set of ears, by logistic regression on what was heard, and whether the figure
that comes out is a probability: cross-validated, with voices never on both sides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from log.basics.entry import Meaning, NotUnderstood
from tests.bench.hearing.gather import Clip, Heard
from tests.bench.hearing.tables import SCORE, Item, items
from voice.meaning.evidence import SENTENCE, Evidence, probability, readings, weights, witnesses
from voice.meaning.matcher import Listening, settled, understand
from voice.phrases.phrases import Phrases

FOLDS = 8
SETS = ("people-net", "people", "net", SENTENCE)
"""Sets of ears, each of which has its weights, and what is heard as a sentence."""

Figures = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Examples:
    """Every reading that any ear proposed."""

    names: tuple[str, ...]
    rows: Figures
    """(n, names) its witnesses."""
    right: NDArray[np.bool_]
    """(n) whether it is what was said."""
    voices: list[str]
    """(n) who said it."""


def wanted(clip: Clip) -> list[Item]:
    """What should be logged of a clip; nothing of speech that is no entry."""
    return [SCORE.norm(event, False) for event in clip["expected"] or ()]


def who(clip: Clip) -> str:
    """Whose voice it is."""
    return str(clip.get("voice") or clip.get("speaker") or clip["file"])


def with_ears(evidence: Evidence, ears: str) -> Evidence:
    """The evidence of a set of ears alone."""
    heard = evidence.heard
    if ears == SENTENCE:
        return evidence
    return Evidence(evidence.segment, **{name: heard[name] for name in ears.split("-") if name in heard})


Right = Callable[[Meaning], bool]
Spoken = tuple[str, Right, tuple[Heard, ...]]
"""A voice, what is right of what it is heard to say, and what was heard."""


def examples(phrases: Phrases, said: Iterable[Spoken], ears: str) -> Examples:
    """Of everything that was understood as a phrase, or where that is asked for as a sentence."""
    found: list[tuple[dict[str, float], bool, str]] = []
    for voice, right, heard in said:
        for segment in heard:
            listening, evidence = segment.listening, with_ears(segment.evidence, ears)

            def read(words: tuple[str, ...], listening: Listening = listening) -> Meaning:
                return understand(phrases, words, listening) if words else NotUnderstood(heard="")

            for meaning, first in readings(evidence, read):
                if evidence.is_sentence(first.texts) is not (ears == SENTENCE):
                    continue
                row = witnesses(evidence, meaning, first.texts, read, listening.number_due)
                found.append((row, len(heard) == 1 and right(meaning), voice))
    names = tuple(found[0][0])
    rows = np.array([[row[name] for name in names] for row, _, _ in found], float)
    return Examples(names, rows, np.array([right for _, right, _ in found], bool), [voice for _, _, voice in found])


def is_all_of(should: list[Item], meaning: Meaning) -> bool:
    """Whether it is what should be logged of a clip, where anything should."""
    got = [item for item, _ in items(settled(meaning))]
    return 0 < len(got) == len(should) and all(SCORE.same(w, g, False) for w, g in zip(should, got, strict=True))


def fitted(of: Examples) -> tuple[dict[str, float], Figures]:
    """Weights by name, the constant among them, and (n) cross-validated probabilities: no voice on both sides."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.model_selection import GroupKFold, cross_val_predict
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    model = make_pipeline(StandardScaler(), LogisticRegression(C=1.0, max_iter=10_000))
    split = GroupKFold(min(FOLDS, len(set(of.voices))))
    probabilities = cross_val_predict(model, of.rows, of.right, groups=of.voices, cv=split, method="predict_proba")
    model.fit(of.rows, of.right)
    scaler, regression = (step for _, step in model.steps)
    slopes = regression.coef_[0] / scaler.scale_
    against = (slopes < 0) & np.array([name.endswith(("_lead", "_number")) or name == "agree" for name in of.names])
    if against.any():  # what leads cannot speak against a reading: such a witness says nothing
        return fitted(replace(of, rows=np.where(against, 0.0, of.rows)))
    constant = float(regression.intercept_[0] - slopes @ scaler.mean_)
    return {"constant": constant} | dict(zip(of.names, map(float, slopes), strict=True)), probabilities[:, 1]


def in_force(of: Examples, ears: str) -> Figures:
    """(n) probabilities by the weights that the log uses."""
    return np.array([probability(dict(zip(of.names, row, strict=True)), weights()[ears]) for row in of.rows])


def as_toml(table: Mapping[str, Mapping[str, float]]) -> str:
    """Weights as `voice/meaning/belief.toml` has them."""
    return "\n".join(
        f"[{ears}]\n" + "".join(f"{name} = {value:.4g}\n" for name, value in of.items()) for ears, of in table.items()
    )


def log_loss(probabilities: Figures, right: NDArray[np.bool_]) -> float:
    """Natural log, a hearing; less is better."""
    return float(-np.log(np.where(right, probabilities, 1 - probabilities).clip(1e-9)).mean())


def reliability(title: str, probabilities: Figures, right: NDArray[np.bool_], file: Path) -> str:
    """How often what is believed with some probability is right; a table, and the plot."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    edges = np.array([0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0])
    rows, points = ["| believed | n | right |", "|---|---|---|"], []
    for low, high in pairwise(edges):
        inside = (probabilities >= low) & ((probabilities < high) | (high == 1.0))
        if inside.any():
            share = float(right[inside].mean())
            points.append((float(probabilities[inside].mean()), share))
            rows.append(f"| {low:g} to {high:g} | {int(inside.sum())} | {100 * share:.1f} % |")
    figure, axes = pyplot.subplots(figsize=(4.5, 4.5))
    axes.plot([0, 1], [0, 1], color="0.7")
    axes.plot(*zip(*points, strict=True), marker="o", color="black")
    axes.set(xlabel="believed", ylabel="right", title=title)
    figure.savefig(file, bbox_inches="tight")
    pyplot.close(figure)
    return "\n".join(rows) + "\n"
