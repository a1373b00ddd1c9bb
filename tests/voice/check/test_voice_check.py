"""The voice check: what is read, what became of it, and what is said instead."""

from __future__ import annotations

from itertools import pairwise

import pytest

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from log.definition.load import shipped
from tests import cases
from voice.check.alternatives import phrasings
from voice.check.voice_check import HOW_MANY, Prompt, Tried, in_order, prompts, report, silent, tried
from voice.english.numbers import SOUND_ALIKE
from voice.meaning.matcher import Listening, settled, understand
from voice.phrases.phrases import Phrases

IN_50 = Entry(kind="volume_in", site="gastric", value=50, unit="mL")


def prompt(text: str, phrases: Phrases) -> Prompt:
    """A prompt of these words, read with the lead word."""
    meaning = settled(understand(phrases, text))
    assert isinstance(meaning, Understood)
    (entry,) = meaning.items
    assert isinstance(entry, Entry)
    return Prompt(tuple(text.split()), entry, ("log",))


def heard(text: str, as_words: str, phrases: Phrases) -> Tried:
    """A prompt, and what the engine heard."""
    return tried(prompt(text, phrases), as_words, understand(phrases, as_words, Listening(lead_word="log")))


# ---- what is read ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", shipped())
@pytest.mark.parametrize("lead_word", ["log", None])
def test_every_prompt_is_the_entry_that_it_says(name: str, lead_word: str | None) -> None:
    phrases = cases.phrases(name)
    for seed in range(2):
        drawn = prompts(phrases, seed, lead_word)
        assert len(drawn) == HOW_MANY
        assert len({one.text for one in drawn}) == HOW_MANY
        for one in drawn:
            meaning = settled(understand(phrases, one.read, Listening(lead_word=lead_word)))
            assert meaning == Understood(items=(one.entry,)), one.text


def test_numbers_that_sound_alike_digits_own_words_and_an_emergency_are_among_them(phrases: Phrases) -> None:
    for seed in range(3):
        drawn = prompts(phrases, seed, "log")
        alike = [one for one in drawn if set(one.words) & set(SOUND_ALIKE)]
        teens = [one for one in alike if any(word.endswith("teen") for word in one.words)]
        assert len(teens) >= 3 and len(alike) - len(teens) >= 3
        assert any(one.entry.kind == "emergency" and not one.lead for one in drawn), "it needs no lead word"
        assert any(set(one.words) & set(phrases.procedure.pronunciations) for one in drawn)
        assert max(sum(one.entry.kind == kind for one in drawn) for kind in {one.entry.kind for one in drawn}) <= 3


def test_the_same_seed_gives_the_same(phrases: Phrases) -> None:
    assert prompts(phrases, 7, "log") == prompts(phrases, 7, "log")
    assert len({prompts(phrases, seed, "log") for seed in range(4)}) == 4


# ---- what became of it ----------------------------------------------------------------------------------------------


def test_right_asked_wrong_and_not_heard(phrases: Phrases) -> None:
    said = Prompt(("gastric", "in", "five", "zero"), IN_50, ("log",))
    fifteen = IN_50.model_copy(update={"value": 15})
    either = Question(candidates=(fifteen, IN_50), why="sound alike", text="50 and 15 sound alike")
    cases: list[tuple[Meaning, str]] = [
        (Understood(items=(IN_50,)), "right"),
        (Understood(items=(either,)), "asked"),
        (Understood(items=(fifteen,)), "wrong"),
        (Understood(items=(Question(candidates=(fifteen,), why="indistinct", text="unclear"),)), "wrong"),
        (Understood(items=(IN_50, IN_50)), "wrong"),
        (NotUnderstood(heard="gas trick"), "not heard"),
    ]
    for meaning, outcome in cases:
        assert tried(said, "log gastric in five zero", meaning).outcome == outcome
    assert silent(said).outcome == "not heard"


def test_the_words_that_were_missed(phrases: Phrases) -> None:
    one = heard("gastric in five zero", "log gastric out five nine", phrases)
    assert (one.outcome, one.missed) == ("wrong", ("in", "zero"))
    assert heard("gastric in five zero", "", phrases).missed == (), "a silence says nothing of a word"


def test_each_utterance_of_a_recording_finds_its_prompt(phrases: Phrases) -> None:
    texts = ("tube at five five", "gastric in five zero", "x-ray confirms position", "traction one kilo weight on")
    asked = [prompt(text, phrases) for text in texts]
    said = [one.text for one in asked]
    assert in_order(asked, said) == (0, 1, 2, 3)
    assert in_order(asked, [said[0], said[2], said[3]]) == (0, None, 1, 2)
    assert in_order(asked, ["", said[0], "mind the step", said[1], said[2]]) == (1, 3, 4, None)
    assert in_order(asked, []) == (None,) * 4
    places = [
        place for place in in_order(asked, ["log tube at five nine", "log x-ray confirms", "hm"]) if place is not None
    ]
    assert places == [0, 1] and all(a < b for a, b in pairwise(places))


# ---- what it comes to -----------------------------------------------------------------------------------------------


def test_teens_against_tens_and_words_that_fail_twice(phrases: Phrases) -> None:
    found = report(
        phrases,
        [
            heard("gastric in fifteen", "log gastric in fifty", phrases),
            heard("gastric in sixty", "log gastric in sixty", phrases),
            heard("gastric in four zero", "log gastric in four zero", phrases),
            heard("oesophageal pressure three five", "log pressure three five", phrases),
            heard("oesophageal in thirty two", "log gastric in thirty two", phrases),
        ],
    )
    assert (found.teens.said, found.teens.right, found.teens.as_the_other) == (1, 0, 1)
    assert (found.tens.said, found.tens.asked) == (2, 1), "sixty has a sound-alike and is asked"
    assert (found.digits.said, found.digits.right) == (2, 1)
    assert found.failing == (("oesophageal", 2, 2),)
    assert found.count("right") == 1
    assert any(line.startswith('say numbers digit by digit ("one five"): 1 of 2') for line in found.advice)


def test_another_phrase_is_offered_whose_words_were_heard(phrases: Phrases) -> None:
    found = report(
        phrases,
        [
            heard("gastric in five zero mils", "log gastric in five zero mils", phrases),
            heard("gastric in four zero millilitres", "log gastric in in", phrases),
            heard("gastric balloon deflated", "log gastric balloon", phrases),
        ],
    )
    assert [one.outcome for one in found.tried] == ["right", "not heard", "not heard"]
    mils = [line for line in found.advice if "millilitres" in line]
    assert len(mils) == 1 and mils[0].startswith('say "') and "millilitres" not in mils[0].split(" rather than ")[0]
    other = [line for line in found.advice if '"gastric balloon deflated"' in line]
    assert len(other) == 1 and other[0].endswith("not tried in this check")


@pytest.mark.parametrize(
    "text",
    ["gastric in five zero millilitres", "gastric balloon deflated", "x-ray confirms position", "tube at five five"],
)
def test_other_phrasings_are_the_same_entry(text: str, phrases: Phrases) -> None:
    one = prompt(text, phrases)
    others = list(phrasings(phrases, one.words, one.entry))
    assert len(others) > 1 and one.words not in others
    for other in others:
        assert settled(understand(phrases, other)) == Understood(items=(one.entry,)), other
