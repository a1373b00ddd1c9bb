"""Numbers in accents, for the training: without one they are what espeak-ng says; with one its sounds alone differ."""

from __future__ import annotations

import re
import shutil

import pytest

from models.training import accents, kokoro
from models.training.lexicon import T_FOR_TH


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng, which is the outside reference here")
@pytest.mark.parametrize("word", accents.NUMBERS)
def test_with_the_usual_vowels_a_number_is_what_espeak_says_for_the_word(word: str) -> None:
    def sounds(text: str) -> str:
        return re.sub("[ˈˌ]", "", kokoro.phonemes(text, "en-gb"))  # teens are stressed on either part

    usual = f"[[{accents.NUMBERS[word].format_map(accents.USUAL)}]]"
    assert sounds(usual) == sounds(word)


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng")
@pytest.mark.parametrize("accent", [accent for kind in accents.EVERY for accent in kind])
def test_an_accent_changes_every_number_that_has_one_of_its_sounds_and_no_other(accent: dict[str, str]) -> None:
    assert accent.keys() <= accents.USUAL.keys()
    for word, sounds in accents.NUMBERS.items():
        spelt = accents.spelt(word, accent)
        assert (spelt is not None) == any(f"{{{sound}}}" in sounds for sound in accent)
        if spelt is not None:
            assert kokoro.phonemes(spelt, "en-gb") != kokoro.phonemes(
                f"[[{sounds.format_map(accents.USUAL)}]]", "en-gb"
            )


def test_three_and_sixty_of_the_south_of_the_world() -> None:
    assert accents.spelt("three", {"fleece": "EI"}) == "[[Tr'EI]]"
    assert accents.spelt("sixty", {"fleece": "EI", "happy": "Ii:"}) == "[[s'IkstIi:]]"
    assert accents.spelt("two", {"fleece": "EI"}) is None
    assert T_FOR_TH.keys() <= accents.NUMBERS.keys()
