"""The colours of the room: contrast by WCAG 2.2, and whether people who see fewer colours can tell priorities apart.

What protans, deutans and tritans see is simulated with the matrices of Machado, Oliveira and Fernandes (IEEE Trans Vis
Comput Graph 2009;15:1291-8) at full severity; distances are CIE 1976 colour differences.
"""

from __future__ import annotations

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest

from log.basics.patterns import LEVELS
from tui.room.theme import DARK, LIGHT, PLAIN, Look, look_of

LEAST_TEXT = 4.5
"""WCAG 2.2, 1.4.3, level AA."""
LEAST_APART = 20.0
"""CIE 1976 units; 2.3 is just noticeable side by side, here it has to be seen across a room."""

SEEN_BY = {
    "all colours": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
WHITE = TO_XYZ @ np.ones(3)


def linear(colour: str) -> np.ndarray:
    """Red, green and blue light, each from 0 to 1."""
    shares = np.array([int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)])
    return np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """The ratio of WCAG."""
    dark, light = sorted(float(TO_XYZ[1] @ linear(colour)) for colour in (one, other))
    return (light + 0.05) / (dark + 0.05)


def lab(light: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b*."""
    share = (TO_XYZ @ np.clip(light, 0, 1)) / WHITE
    x, y, z = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def pair(style: str) -> tuple[str, str]:
    """Ink and paper of a bar."""
    ink, paper = re.findall(r"#[0-9a-f]{6}", style)
    return ink, paper


def colours(look: Look) -> dict[str, tuple[str, str]]:
    """Everything that is read: what it is -> ink and paper."""
    bars = {f"bar {level}": pair(look.bar[level]) for level in LEVELS}
    texts = {f"text {level}": (look.text[level].removeprefix("bold "), look.paper) for level in LEVELS}
    return bars | texts | {"ink": (look.ink, look.paper), "soft": (look.soft, look.paper)}


@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_whatever_is_read_has_the_contrast_that_text_needs(look: Look) -> None:
    ratios = {what: round(contrast(*both), 1) for what, both in colours(look).items()}
    print("\n".join(f"{look.name} {what:<18}{ratio:5.1f}" for what, ratio in ratios.items()))
    assert min(ratios.values()) >= LEAST_TEXT, ratios
    assert contrast(pair(look.bar["high"])[1], look.paper) >= 3, "1.4.11: the bar itself is seen"


@pytest.mark.parametrize("eyes", SEEN_BY)
@pytest.mark.parametrize("look", [DARK, LIGHT], ids=lambda look: look.name)
def test_priorities_are_told_apart_by_all_eyes(look: Look, eyes: str) -> None:
    bars = [pair(look.bar[level])[1] for level in ("high", "medium", "low")]
    texts = [look.text[level].removeprefix("bold ") for level in ("high", "medium", "low")] if look is DARK else []
    for group in ([*bars, look.paper], texts):
        for one, other in combinations(group, 2):
            apart = np.linalg.norm(lab(SEEN_BY[eyes] @ linear(one)) - lab(SEEN_BY[eyes] @ linear(other)))
            assert apart >= LEAST_APART, (one, other, apart)


def test_without_colour_no_style_names_one() -> None:
    assert look_of("room-light", no_colour=True) is PLAIN
    assert not re.search("#|on ", " ".join((*PLAIN.bar.values(), *PLAIN.text.values(), PLAIN.soft)))


def test_the_page_has_the_contrast_that_text_needs_dark_and_light() -> None:
    style = files("tui.serve").joinpath("bedside.css").read_text(encoding="utf-8")
    dark, light = (dict(re.findall(r"--([a-z-]+):(#[0-9a-f]{6})\b", part)) for part in _schemes(style))
    for scheme in (dark, dark | light):
        for ink in ("ink", "soft", "bad", "warn", "note", "limit", "first", "second", "third"):
            for paper in ("paper", "card"):
                assert contrast(scheme[ink], scheme[paper]) >= LEAST_TEXT, (ink, scheme[ink], scheme[paper])
        assert contrast("#ffffff", scheme["high"]) >= LEAST_TEXT


def _schemes(style: str) -> tuple[str, str]:
    """The two blocks of variables, colours of three digits written out."""
    written = re.sub(r"#([0-9a-f])([0-9a-f])([0-9a-f])\b", r"#\1\1\2\2\3\3", style)
    dark, _, rest = written.partition("@media (prefers-color-scheme:light)")
    return dark, rest.partition("}}")[0]
