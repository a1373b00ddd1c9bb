"""How entries can be said, as it is looked up."""

from __future__ import annotations

import pytest

from voice.meaning.how_said import HowSaid, how_said, search
from voice.phrases.phrases import Phrases


@pytest.fixture
def known(phrases: Phrases) -> tuple[HowSaid, ...]:
    return how_said(phrases)


def test_every_kind_that_can_be_said_at_any_time_has_ways(known: tuple[HowSaid, ...], phrases: Phrases) -> None:
    assert [one.title for one in known] == [kind.title for kind in phrases.procedure.kind if kind.when == "always"]
    assert all(one.examples for one in known)
    assert [found.title for found in search(known, " ", 3)] == [one.title for one in known]


@pytest.mark.parametrize(
    ("typed", "title", "way"),
    [
        ("terli", "Drug", "N terlipressin"),
        ("gastric in 50", "Volume in", "gastric in N"),
        ("oesoph pres", "Pressure", "gastric balloon pressure N"),
        ("scissors", "Scissors", "scissors at the head of the bed"),
        ("heart rate one one eight", "Vital sign", "heart rate N"),
        ("rebleeding", "Bleeding", "rebleeding"),
    ],
)
def test_what_is_typed_finds_its_kind_first(known: tuple[HowSaid, ...], typed: str, title: str, way: str) -> None:
    first = search(known, typed, 8)[0]
    assert first.title == title
    assert way in first.ways


def test_words_of_no_entry_find_nothing(known: tuple[HowSaid, ...]) -> None:
    assert search(known, "bicycle", 8) == ()
