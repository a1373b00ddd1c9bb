"""What no list of sentences can show: an unknown word never logs, a word is never read as its opposite, every frame
can be reached.
"""

from __future__ import annotations

import json
import random
import re
from functools import cache
from pathlib import Path

import pytest

from tests.cases import phrases
from tests.voice.meaning.frames.said import items, logged
from voice.english.comments import COMMENTS
from voice.english.guards import GUARD_WORDS
from voice.english.harmless import HARMLESS
from voice.english.numbers import NUMBER_WORDS
from voice.meaning.frames.lexicon import ANY_GUARD, lexicon
from voice.meaning.frames.lexicon import HARMLESS as HARMLESS_BIT
from voice.meaning.frames.reading import read
from voice.meaning.frames.token import Amount, Token

SETS = Path(__file__).parents[3] / "bench" / "natural"
PER_PAIR = 12
UNKNOWN = ("flurbing", "quib", "zanzibar")


@cache
def said() -> tuple[str, ...]:
    """Every sentence of our own sets, shuffled once."""
    lines = (line for path in sorted(SETS.glob("*.jsonl")) for line in path.read_text(encoding="utf-8").splitlines())
    texts = [json.loads(line)["text"] for line in lines]
    random.Random(19).shuffle(texts)
    return tuple(texts)


def pairs() -> list[tuple[str, str]]:
    speech = phrases().procedure.speech
    assert speech is not None
    return [
        (one.strip(), other.strip())
        for group in speech.opposites
        for one in group.split("|")
        for other in group.split("|")
        if one != other
    ]


@pytest.mark.slow
@pytest.mark.parametrize(("one", "other"), pairs(), ids=lambda word: word)
def test_a_word_is_never_read_as_its_opposite_or_look_alike(one: str, other: str) -> None:
    word = re.compile(rf"(?<!\S){re.escape(one)}(?!\S)")
    tried = 0
    for text in said():
        if tried == PER_PAIR or not word.search(text) or (" " not in one and f"not {one}" in text):
            continue
        if f"clamped {one}" in text or one.rstrip("s") in word.sub("", text).split():
            continue  # "clamped off" is as shut as "clamped on"; and the word may be said twice, "lips" and "lower lip"
        entries = logged(text)
        if not any(_tells(entry, one) for entry in entries) or set(entries) <= set(logged(word.sub("", text))):
            continue  # nothing changes without the word: another one says it
        tried += 1
        turned = set(logged(word.sub(other, text)))
        itself = any(_tells(entry, other) for entry in turned.difference(entries))
        assert itself or not set(entries) <= turned, f"{text} / {other}"


def _tells(entry: tuple[object, ...], word: str) -> bool:
    """Whether the entry says this very word."""
    parts = [part for part in entry if isinstance(part, str)]
    return word in parts or (len(word) > 3 and any(word in part.split() for part in parts))


@pytest.mark.slow
def test_an_unknown_word_never_logs() -> None:
    texts = [text for text in said() if logged(text)][:150]
    assert len(texts) == 150
    for number, text in enumerate(texts):
        words = text.split()
        words.insert((number * 7) % (len(words) + 1), UNKNOWN[number % len(UNKNOWN)])
        kinds = {entry[0] for entry in logged(" ".join(words))}
        assert kinds <= {"note"}, " ".join(words)


def test_every_frame_can_be_reached() -> None:
    """Each frame, given a token for each of its needs and its numbers, is laid by itself."""
    table = lexicon(phrases())
    for lay in table.lays:
        tokens = tuple(Token("idea", need & -need) for need in lay.needs)
        numbers = tuple(Token("#", 0, Amount(slot.said[0] + 1, slot.unit)) for slot in lay.slots)
        reading = read(table, tokens + numbers)
        one_word = lay.frame.asks and lay.frame.alone and not lay.slots
        if lay.frame.after or one_word:
            continue  # one word alone is asked where nothing else was said: test_understood has them
        assert reading is not None, lay.frame.id
        assert reading.laid[0][0].lay.frame.kind == lay.frame.kind, lay.frame.id


@pytest.mark.parametrize("guard", sorted(set(GUARD_WORDS) - {"unsure"}))
def test_every_guard_keeps_a_clear_sentence_from_being_logged(guard: str) -> None:
    for word in sorted(GUARD_WORDS[guard]):  # type: ignore[index]
        entries = logged(f"{word} two hundred mils into the gastric")
        assert word in JOIN_CLAUSES or {entry[0] for entry in entries} <= {"note"}, word


JOIN_CLAUSES = ("where", "which")
"""Ask only before an auxiliary or a thing: "which leaves two hundred in the gastric"."""


def test_what_is_harmless_is_no_number_and_no_direction() -> None:
    assert {"oh"} >= NUMBER_WORDS & HARMLESS, "a number never begins with it"
    assert {"in", "out", "up", "down", "off", "on", "not", "no"} & HARMLESS == set()


def test_every_harmless_word_and_phrase_can_match() -> None:
    assert [word for word in (*HARMLESS, *COMMENTS) if "-" in word] == []


def test_no_word_of_the_table_is_harmless_and_guards_at_once() -> None:
    table = lexicon(phrases())
    both = [way for way, bits in table.meanings.items() if bits & HARMLESS_BIT and bits & ANY_GUARD]
    assert both == []


def test_two_readings_are_asked_with_both() -> None:
    found = items("gastric has taken fifty mils")
    assert len(found) == 1
