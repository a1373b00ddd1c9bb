"""The texts of the training voices: the definitions' phrases with all their numbers, numbers alone and in strings (the
sound-alikes above all), and talk that is no entry.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from models.training.lexicon import Lexicon
from voice.english.numbers import SOUND_ALIKE, TEENS, TENS, UNITS, digit_forms, half_forms, natural_forms
from voice.phrases.phrases import Phrases
from voice.phrases.sample import sample

TALK = """
can somebody get another unit of blood
what is the pressure doing now
i think we should wait for the x-ray
pass me the syringe please
who has the scissors
is the airway secure
suction is on the wall behind you
we need two more pairs of hands in here
let me know when the blood bank calls back
hold the tube there and do not let go
i will check the notes for the last dose
has anybody called the family
turn the monitor round so that i can see it
his blood pressure is still falling
the saturation is coming up nicely
give it one more minute and look again
that balloon was tested before we started
we are going to need the theatre team
how much have we given so far
stop talking for a moment please
the ambulance took about twenty minutes
he had his first bleed in nineteen ninety four
she is sixty five years old and lives alone
it must be after three in the morning
i have done about ten of these in my life
bed fifteen needs a porter
call extension four five zero two
is that the gastric port or the oesophageal port
do not inflate the oesophageal balloon yet
if it keeps bleeding we go to fifty
should we put in another fifty
let us say two hundred and fifty if the x-ray is good
i would not go above forty five
remember the limit on that balloon
did you say thirty or thirteen
"""
"""Invented sentences of the room: none of them is an entry, some have an entry's words."""

ANY_NUMBER, COMMENT = "#", ";;"
"""In the file of sentences."""

MOST_LIKELY_NUMBERS = (*range(5, 65, 5), *range(50, 501, 50), *range(10, 20), *range(20, 100, 10), 275, 225, 125)


class Texts:
    """Draws texts; the same seed gives the same texts."""

    def __init__(
        self,
        procedures: Sequence[Phrases],
        lexicon: Lexicon,
        shares: dict[str, float],
        rng: random.Random,
        sentences: Sequence[str] = (),
    ) -> None:
        """`sentences`: what people say beside the phrases, drawn by the share of that name."""
        self._procedures, self._lexicon, self._rng = procedures, lexicon, rng
        self._lead = shares["with_lead_word"]
        self._makers = {
            "phrases": self._phrase,
            "numbers": lambda: number(rng),
            "number_strings": self._string,
            "vocabulary": self._vocabulary,
            "talk": self._talk,
        }
        if sentences:
            self._makers["sentences"] = lambda: with_numbers(rng.choice(sentences), rng)
        self._weights = [shares[name] for name in self._makers]
        self._known = sorted({word for phrases in procedures for word in phrases.vocabulary} & set(lexicon.words))
        self._ordinary = sorted(word for word in lexicon.words if word.isalpha() and 2 < len(word) < 10)
        self._sentences = [line for line in TALK.splitlines() if line]

    def draw(self) -> str:
        """A text whose every word has sounds."""
        while True:
            (maker,) = self._rng.choices(list(self._makers.values()), self._weights)
            text = maker()
            if self._lexicon.sounds(text) is not None:
                return text

    def _phrase(self) -> str:
        phrases = self._rng.choice(self._procedures)
        words = " ".join(sample(phrases, self._rng.choice(phrases.entries), self._rng).words)
        lead = phrases.procedure.lead_word
        return f"{lead} {words}" if self._rng.random() < self._lead else words

    def _string(self) -> str:
        pairs = list(SOUND_ALIKE.items())
        many = self._rng.randint(2, 4)
        if self._rng.random() < 0.6:
            return " ".join(self._rng.choice(self._rng.choice(pairs)) for _ in range(many))
        return " ".join(self._rng.choice([*UNITS, *TEENS, *TENS, "oh", "hundred", "half"]) for _ in range(many))

    def _vocabulary(self) -> str:
        return " ".join(self._rng.choice(self._known) for _ in range(self._rng.randint(2, 5)))

    def _talk(self) -> str:
        if self._rng.random() < 0.25:
            return self._rng.choice(self._sentences)
        return " ".join(self._rng.choice(self._ordinary) for _ in range(self._rng.randint(2, 5)))


def number(rng: random.Random) -> str:
    """A number in one of the ways it is said: teens and tens and the procedure's round figures more often."""
    value = rng.choice(
        (
            rng.choice(MOST_LIKELY_NUMBERS),
            rng.randint(10, 19),
            10 * rng.randint(2, 9),
            rng.randint(0, 99),
            rng.randint(100, 999),
            5 * rng.randint(2, 100),
        )
    )
    return rng.choice(list(_ways(value)))


def _ways(value: int) -> Iterator[str]:
    natural, digits = list(natural_forms(value)), list(digit_forms(value))
    yield from natural
    yield from natural
    yield from digits
    if digits:
        yield f"{natural[0]} {digits[0]}"
    if value < 10:
        yield from half_forms(value)


def with_numbers(sentence: str, rng: random.Random) -> str:
    """The sentence with a number for each ANY_NUMBER."""
    return " ".join(number(rng) if word == ANY_NUMBER else word for word in sentence.split())


def spoken_sentences(file: Path) -> list[str]:
    """The sentences that the ear's language is learnt from, of several words each. Nothing where there is no file."""
    if not file.is_file():
        return []
    lines = [line for line in file.read_text(encoding="utf-8").splitlines() if not line.startswith(COMMENT)]
    words = (" ".join(re.findall(r"[a-z][a-z'-]*|#", line)) for line in lines)
    return [line for line in words if " " in line]
