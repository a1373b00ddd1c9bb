"""Typed entries with a sign between two numbers: nothing is logged across it."""

from __future__ import annotations

import random
import sys
import unicodedata
from functools import cache
from pathlib import Path

from log.basics.entry import Entry, Question, Understood
from tests import cases
from tests.bench.fuzzing.mutation import Given, Target
from voice.meaning.matcher import Listening, understand

SAY = (
    "gastric in {}",
    "gastric balloon now holds {} mils",
    "oesophageal pressure {}",
    "terlipressin {} milligrams given",
    "tube at {} at the lips",
    "bp {}",
)


@cache
def signs() -> tuple[str, ...]:
    """Every character that is a sign or a mark, and some of them together."""
    kinds = {"Sm", "Sc", "Sk", "So", "Pd", "Po", "Ps", "Pe", "Pi", "Pf", "Pc"}
    found = [chr(code) for code in range(sys.maxunicode) if unicodedata.category(chr(code)) in kinds]
    common = [*"-+*/<>=~^|&%@_,;:.!?", "--", "->", "<=", "+/-", "...", "\N{MINUS SIGN}", "\N{MULTIPLICATION SIGN}"]
    return (*common * 40, *found)


def typed(rng: random.Random) -> Given:
    """One utterance."""
    one, two = rng.randint(10, 99), rng.randint(1, 99)
    return Given("x.txt", rng.choice(SAY).format(f"{one} {rng.choice(signs())} {two}").encode())


def use_typed(path: Path, _folder: Path) -> None:
    """What is understood of it may be asked; what is logged is one of the two numbers or neither, as they stand."""
    text = path.read_text(encoding="utf-8")
    meaning = understand(cases.phrases(), text, Listening())
    logged = (
        [item for item in meaning.items if not isinstance(item, Question)] if isinstance(meaning, Understood) else []
    )
    figures = {float(word) for word in text.split() if word.isdecimal()}
    for entry in logged:
        assert isinstance(entry, Entry)
        assert entry.value in figures or entry.value is None, f"{entry.value} is logged"


TARGETS = (Target("typed sign", 6, typed, use_typed),)
