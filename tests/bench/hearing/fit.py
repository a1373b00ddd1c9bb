"""The weights of the witnesses, by logistic regression on what was heard, and whether the figure that comes out
is a probability: cross-validated, with voices never on both sides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from log.basics.entry import Meaning, NotUnderstood
from tests.bench.hearing.gather import Clip, Heard
from tests.bench.hearing.tables import SCORE, Item, items
from voice.meaning.evidence import Witnesses, figures, probability, witnesses
from voice.meaning.matcher import Listening, settled, understand
from voice.phrases.phrases import Phrases

FOLDS = 8
Figures = NDArray[np.float64]


Examples = tuple[Figures, NDArray[np.bool_], list[str]]
"""(n, 6) witnesses of everything that was heard as entries, (n) whether rightly, and whose voice it was."""


def wanted(clip: Clip) -> list[Item]:
    """What should be logged of a clip."""
    return [SCORE.norm(event, False) for event in clip["expected"]]


def examples(phrases: Phrases, said: Iterable[tuple[str, list[Item], tuple[Heard, ...]]]) -> Examples:
    """Of voices, what they should be heard to say, and what was heard."""
    rows, right, voices = [], [], []
    for voice, should, heard in said:
        for segment in heard:
            listening = segment.listening

            def read(words: tuple[str, ...], listening: Listening = listening) -> Meaning:
                return understand(phrases, words, listening) if words else NotUnderstood(heard="")

            meaning = read(segment.evidence.words)
            if isinstance(meaning, NotUnderstood):
                continue
            rows.append(figures(witnesses(segment.evidence, meaning, read)))
            got = [item for item, _ in items(settled(meaning))]
            same = len(got) == len(should) and all(SCORE.same(w, g, False) for w, g in zip(should, got, strict=True))
            right.append(same and len(heard) == 1)
            voices.append(voice)
    return np.array(rows, float).reshape(-1, len(fields(Witnesses))), np.array(right, bool), voices


def joined(*parts: Examples) -> Examples:
    """All of them."""
    rows, right, voices = zip(*parts, strict=True)
    return np.concatenate(rows), np.concatenate(right), [voice for part in voices for voice in part]


def fitted(rows: Figures, right: NDArray[np.bool_], voices: list[str]) -> tuple[dict[str, float], float, Figures]:
    """Weights by name, the constant, and (n) cross-validated probabilities."""
    from sklearn.linear_model import LogisticRegression
    from sklearn.model_selection import GroupKFold, cross_val_predict
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    model = make_pipeline(StandardScaler(), LogisticRegression(C=1.0, max_iter=10_000))
    probabilities = cross_val_predict(model, rows, right, groups=voices, cv=GroupKFold(FOLDS), method="predict_proba")
    model.fit(rows, right)
    scaler, regression = (step for _, step in model.steps)
    slopes = regression.coef_[0] / scaler.scale_
    constant = float(regression.intercept_[0] - slopes @ scaler.mean_)
    names = [field.name for field in fields(Witnesses)]
    weights = dict(zip(names, map(float, slopes), strict=True))
    weights["differs"] = min(weights["differs"], 0.0)  # that another engine hears something else speaks for nothing
    return weights, constant, probabilities[:, 1]


def in_force(rows: Figures) -> Figures:
    """(n) probabilities by the weights that the log uses."""
    return np.array([probability(row) for row in rows])


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
