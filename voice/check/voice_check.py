"""A minute of reading before the shift: which words and numbers are not heard in this voice and this room, and what to
say instead. Pure: prompts out, hearings in, a report out; nothing of it reaches a case.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Literal

from rapidfuzz.distance import Levenshtein

from log.basics.entry import Entry, Meaning, NotUnderstood, Question
from voice.check.alternatives import Words, means, phrasings
from voice.english.numbers import NUMBER_WORDS, SOUND_ALIKE, TEENS, Style, table
from voice.phrases.phrases import Phrases
from voice.phrases.sample import Sample, sample
from voice.templates.expression import strings

Outcome = Literal["right", "asked", "wrong", "not heard"]
OUTCOMES: tuple[Outcome, ...] = ("right", "asked", "wrong", "not heard")

HOW_MANY = 18
"""Prompts: with a breath between them they take 60 to 90 seconds."""

DRAWN = 1_500
"""Phrases drawn to choose from."""

LONGEST = 7
"""Words: more are not read in one breath."""

LARGEST = 300
"""Nothing that is put into a balloon at a time is more; what is not said at a bedside need not be read."""

MOST_OF_A_KIND = 3

TWICE = 2
"""From so many failures on it is the word and not the breath."""

SHARES: tuple[tuple[str, float], ...] = (("teen", 0.25), ("ten", 0.25), ("digits", 0.2), ("own", 0.2), ("urgent", 0.05))
"""Of the prompts: numbers that sound alike, from both sides; digits; the definition's own words; calls of an emergency.
The rest is whatever can be said."""

NEVER = frozenset({"note"})
"""Kinds that are not read: what follows a spoken note is no entry."""

ALONE = 0.45
"""Likeness below which what was heard belongs to no prompt, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """A phrase to be read."""

    words: Words
    """Without the lead word."""
    entry: Entry
    """Their meaning."""
    lead: Words = ()
    """The lead word, if one is wanted."""

    @property
    def read(self) -> Words:
        """The text to read."""
        return (*self.lead, *self.words)

    @property
    def text(self) -> str:
        """The same in one line."""
        return " ".join(self.read)


@dataclass(frozen=True, slots=True)
class Tried:
    """One prompt and what became of it."""

    prompt: Prompt
    outcome: Outcome
    heard: str = ""
    """The engine's words; "" if nothing was heard."""
    missed: Words = ()
    """Words of the prompt that are not among them, in order."""


@dataclass(frozen=True, slots=True)
class OfAKind:
    """Results of a kind of number."""

    said: int = 0
    right: int = 0
    asked: int = 0
    as_the_other: int = 0
    """Heard as the number that sounds like it."""


@dataclass(frozen=True, slots=True)
class Report:
    """The result for a voice and a room."""

    tried: tuple[Tried, ...]
    failing: tuple[tuple[str, int, int], ...]
    """Words that failed more than once: the word, how often it failed, how often it was read."""
    teens: OfAKind
    tens: OfAKind
    digits: OfAKind
    advice: tuple[str, ...]
    """Other wordings to use."""

    def count(self, outcome: Outcome) -> int:
        """The number of prompts that came to this."""
        return sum(one.outcome == outcome for one in self.tried)


# ---- what is read -------------------------------------------------------------------------------------------------


def prompts(phrases: Phrases, seed: int, lead_word: str | None, how_many: int = HOW_MANY) -> tuple[Prompt, ...]:
    """The prompts in reading order; the same for the same seed and definition."""
    rng = random.Random(seed)
    own = frozenset(phrases.procedure.pronunciations)
    groups: dict[str, list[Sample]] = {name: [] for name in (*(name for name, _ in SHARES), "any")}
    templates = [t for t in phrases.entries if t.kind.role == "entry" and t.kind.id not in NEVER]
    for _ in range(DRAWN):
        drawn = sample(phrases, rng.choice(templates), rng)
        if _is_read(phrases, drawn):
            groups[_group(phrases, drawn, own)].append(drawn)
    chosen: list[Sample] = []
    for name, share in (*SHARES, ("any", 1.0)):
        wanted = min(max(1, round(share * how_many)), how_many - len(chosen))
        sure = (one for one in groups[name] if means(phrases, one.words, one.entry))
        chosen += islice(_various(sure, chosen), wanted)
    rng.shuffle(chosen)
    return tuple(_prompt(phrases, one, lead_word) for one in chosen)


def _is_read(phrases: Phrases, drawn: Sample) -> bool:
    """Whether anybody would say it: not too long, and no value that has to be a slip."""
    slot, number = phrases.procedure.number_slot(drawn.entry.kind), drawn.entry.number
    if len(drawn.words) > LONGEST or drawn.entry.second is not None:
        return False
    if number is None:
        return True
    low, high = slot.plausible if slot is not None and slot.plausible is not None else (0, LARGEST)
    return low <= number <= min(high, LARGEST)


def _group(phrases: Phrases, drawn: Sample, own: frozenset[str]) -> str:
    alike = [word for word in drawn.words if word in SOUND_ALIKE]
    if any(template.kind.id == drawn.entry.kind for template in phrases.urgent):
        return "urgent" if _is_urgent(phrases, drawn.words) else "any"
    if alike and not _digit_by_digit(drawn.words):
        return "teen" if alike[0] in TEENS else "ten"
    if _digit_by_digit(drawn.words):
        return "digits"
    return "own" if own.intersection(drawn.words) else "any"


def _digit_by_digit(words: Words) -> bool:
    number = " ".join(word for word in words if word in NUMBER_WORDS)
    return number in table() and table()[number].style == Style.DIGITS and " " in number


def _various(groups: Iterable[Sample], already: Sequence[Sample]) -> Iterator[Sample]:
    """No phrase twice, no number twice and no kind of entry often."""
    kinds = Counter(one.entry.kind for one in already)
    values = {one.entry.value for one in already if one.entry.number is not None}
    for one in groups:
        if kinds[one.entry.kind] < MOST_OF_A_KIND and one.entry.value not in values:
            kinds[one.entry.kind] += 1
            values |= {one.entry.value} if one.entry.number is not None else set()
            yield one


def _prompt(phrases: Phrases, drawn: Sample, lead_word: str | None) -> Prompt:
    lead = () if lead_word is None or _is_urgent(phrases, drawn.words) else (lead_word,)
    return Prompt(drawn.words, drawn.entry, lead)


def _is_urgent(phrases: Phrases, words: Words) -> bool:
    return any(words in strings(template.node) for template in phrases.urgent)


# ---- what was heard -----------------------------------------------------------------------------------------------


def tried(prompt: Prompt, heard: str, meaning: Meaning) -> Tried:
    """The outcome of a prompt that was read."""
    return Tried(prompt, _outcome(prompt.entry, meaning), heard, _missed(prompt.read, tuple(heard.split())))


def silent(prompt: Prompt) -> Tried:
    """A prompt after which nothing was heard."""
    return Tried(prompt, "not heard")


def _outcome(entry: Entry, meaning: Meaning) -> Outcome:
    if isinstance(meaning, NotUnderstood) or not meaning.items:
        return "not heard"
    if len(meaning.items) > 1:
        return "wrong"
    item = meaning.items[0]
    if isinstance(item, Question):
        return "asked" if entry in item.candidates else "wrong"
    return "right" if item == entry else "wrong"


def _missed(said: Words, heard: Words) -> Words:
    """Words that were heard as something else, or not at all; utterances not heard at all are left out."""
    if not heard:
        return ()
    changed = {edit.src_pos for edit in Levenshtein.editops(said, heard) if edit.tag != "insert"}
    return tuple(word for place, word in enumerate(said) if place in changed)


def in_order(asked: Sequence[Prompt], heard: Sequence[str]) -> tuple[int | None, ...]:
    """The utterance of a recording that belongs to each prompt, None to one that was not read or not heard.

    Both are in order. An utterance that sounds like no prompt is left over, as a cough is.
    """
    rows, columns = len(asked), len(heard)
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    alike = [[Levenshtein.normalized_similarity(one.text, text) - ALONE for text in heard] for one in asked]
    for row in range(rows - 1, -1, -1):
        for column in range(columns - 1, -1, -1):
            both = best[row + 1][column + 1] + alike[row][column]
            best[row][column] = max(both, best[row + 1][column], best[row][column + 1])
    found: list[int | None] = []
    column = 0
    for row in range(rows):
        while column < columns and best[row][column] == best[row][column + 1] > best[row + 1][column + 1]:
            column += 1
        taken = column < columns and best[row][column] == best[row + 1][column + 1] + alike[row][column]
        if taken and best[row][column] > best[row + 1][column]:
            found.append(column)
            column += 1
        else:
            found.append(None)
    return tuple(found)


# ---- what it comes to -----------------------------------------------------------------------------------------------


def report(phrases: Phrases, all_tried: Iterable[Tried]) -> Report:
    """Words and numbers that fail, and what to say instead."""
    every = tuple(all_tried)
    said = Counter(word for one in every for word in set(one.prompt.read))
    failed = Counter(word for one in every if one.outcome != "right" for word in set(one.missed))
    failing = tuple((word, times, said[word]) for word, times in failed.most_common() if times >= TWICE)
    teens, tens = (_of(every, TEENS), _of(every, tuple(word for word in SOUND_ALIKE if word not in TEENS)))
    digits = _counted(one for one in every if _digit_by_digit(one.prompt.words))
    advice = tuple(dict.fromkeys((*_of_numbers(teens, tens, digits), *_instead(phrases, every))))
    return Report(every, failing, teens, tens, digits, advice)


def _of(every: Iterable[Tried], words: Sequence[str]) -> OfAKind:
    alike = set(words).intersection(SOUND_ALIKE)
    return _counted(
        one for one in every if alike.intersection(one.prompt.words) and not _digit_by_digit(one.prompt.words)
    )


def _counted(these: Iterable[Tried]) -> OfAKind:
    every = tuple(these)
    as_the_other = sum(any(SOUND_ALIKE.get(word) in one.heard.split() for word in one.missed) for one in every)
    right, asked = (sum(one.outcome == outcome for one in every) for outcome in ("right", "asked"))
    return OfAKind(len(every), right, asked, as_the_other)


def _of_numbers(teens: OfAKind, tens: OfAKind, digits: OfAKind) -> Iterator[str]:
    said, right = teens.said + tens.said, teens.right + tens.right
    if said > right and digits.right * said > right * digits.said:
        yield (
            f'say numbers digit by digit ("one five"): {digits.right} of {digits.said} were heard so at once, '
            f"of teens and tens {right} of {said}"
        )


def _instead(phrases: Phrases, every: Sequence[Tried]) -> Iterator[str]:
    """For each phrase that failed another one of the same entry: best of words that were heard wherever they stood."""
    heard = {word for one in every if one.heard for word in one.prompt.words}
    well = heard - {word for one in every for word in one.missed}
    for one in every:
        words, bad = one.prompt.words, set(one.missed) - NUMBER_WORDS
        if one.outcome not in ("wrong", "not heard") or not bad:
            continue
        others = [other for other in phrasings(phrases, words, one.prompt.entry) if not bad.intersection(other)]
        others.sort(
            key=lambda other: (not set(other) - NUMBER_WORDS <= well, Levenshtein.distance(other, words), other)
        )
        if others:
            known = set(others[0]) - NUMBER_WORDS <= well
            sure = "its words were heard" if known else "not tried in this check"
            yield f'say "{" ".join(others[0])}" rather than "{" ".join(words)}": {sure}'
