"""Whoever asks whether something is so has not said that it is."""

from __future__ import annotations

import random

import pytest

from log.basics.entry import Entry, NotUnderstood, Understood
from tests.cases import phrases
from voice.meaning.frames.understand import COMMANDS
from voice.meaning.matcher import understand
from voice.phrases.sample import sample

STATES_AND_DEEDS = frozenset(["still", "no", "drew", "took", "let", "withdrew", "put"])
"""First words of phrases that "is" makes a report of, whoever it is about, beside all that end in -ed or -ing."""


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen"])
def test_no_phrase_behind_is_is_logged_but_a_state_or_a_deed(name: str) -> None:
    words, rng, asked = phrases(name), random.Random(4), 0
    for entry in words.entries:
        said = sample(words, entry, rng).words
        meaning = understand(words, " ".join((rng.choice(("is", "are", "was", "were")), *said)))
        report = said[0] in STATES_AND_DEEDS or said[0].endswith(("ed", "ing"))
        if report or isinstance(meaning, NotUnderstood):
            continue
        logged = [item for item in meaning.items if isinstance(item, Entry) and item.kind not in COMMANDS]
        assert not logged, said
        asked += 1
    assert asked


@pytest.mark.parametrize(
    "said",
    [
        "is x-ray confirmed",
        "is air heard over the stomach",
        "is time out done",
        "is gentle traction on",
        "was ketamine given",
        "is bleeding stopped",
        "is emergency over",
    ],
)
def test_a_question_whether_it_is_so_is_not_logged(said: str) -> None:
    meaning = understand(phrases(), said)
    assert not isinstance(meaning, Understood) or not any(isinstance(item, Entry) for item in meaning.items)


@pytest.mark.parametrize(
    ("said", "kind", "value"), [("is bleeding again", "bleeding", "restarted"), ("is marked at fifty two", "depth", 52)]
)
def test_a_report_may_leave_out_whom_it_is_about(said: str, kind: str, value: object) -> None:
    meaning = understand(phrases(), said)
    assert isinstance(meaning, Understood)
    assert [(item.kind, item.value) for item in meaning.items if isinstance(item, Entry)] == [(kind, value)]
