"""Completion of typed phrases: it goes on from what is typed, and never past a number."""

from __future__ import annotations

import random

import pytest

from log.basics.errors import InputError
from voice.meaning.matcher import one_entry
from voice.phrases.complete import completion
from voice.phrases.phrases import Phrases
from voice.phrases.sample import sample


@pytest.mark.parametrize(
    ("typed", "completed"),
    [
        ("oes", "oesophageal "),
        ("oesophageal pr", "oesophageal pressure "),
        ("clamp on the g", "clamp on the gastric"),
        ("gastric in 50", None),
        ("gastric in fifty m", None),
        ("scratch t", None),
        ("zzz", None),
        ("", None),
    ],
)
def test_a_phrase_goes_on_as_far_as_its_next_number(phrases: Phrases, typed: str, completed: str | None) -> None:
    assert completion(phrases, typed) == completed


def test_every_phrase_is_reached_letter_by_letter(phrases: Phrases) -> None:
    """Wherever one stops in a phrase, what comes is that beginning and more; without a number it ends in an entry."""
    rng = random.Random(22)
    for template in rng.sample(phrases.entries, 40):
        text = " ".join(sample(phrases, template, rng).words)
        typed = text[: rng.randrange(1, len(text))]
        whole = completion(phrases, typed)
        assert whole is None or (whole.startswith(typed) and len(whole) > len(typed))


def test_what_is_completed_to_its_end_can_be_logged(phrases: Phrases) -> None:
    for typed in ("tube i", "x-ray confirms g", "scissors on", "clamp off the o"):
        text = completion(phrases, typed)
        assert text is not None
        try:
            assert one_entry(phrases, text)
        except InputError:
            pytest.fail(f"{typed!r} leads to {text!r}, which is no entry")
