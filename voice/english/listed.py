"""Lists of words as they are written in this package."""

from __future__ import annotations


def words_of(text: str) -> frozenset[str]:
    """Words between blanks."""
    return frozenset(text.split())


def phrases_of(text: str) -> tuple[str, ...]:
    """Phrases between bars or lines."""
    return tuple(phrase.strip() for phrase in text.replace("\n", "|").split("|") if phrase.strip())


def pairs_of(text: str) -> dict[str, str]:
    """Pairs of words between bars or lines: the first -> the second."""
    return dict(phrase.split() for phrase in " ".join(text.split()).split(" | "))
