"""Spoken numbers: one closed table between values and the ways to say them, read by look-up.

Numbers are where a wrong word can kill, so nothing here guesses. A number said digit by digit ("one five") or in
the pair form ("fifteen, one five") cannot be taken for its sound-alike; any other number that has one can.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from voice.templates.expression import Node, Sequence, choice, optional, sequence, words

Number = int | float

UNITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
TEENS = ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
LARGEST = 999

NUMBER_WORDS = frozenset([*UNITS, *TEENS, *TENS, "oh", "hundred", "half", "point"])
"""Words that carry a number: never guessed, never replaced, never ignored."""

BEGIN_A_NUMBER = NUMBER_WORDS | {"a"}
"""Words that a number may begin with: "a hundred", "a half"."""

WITHIN_A_NUMBER = NUMBER_WORDS | {"a", "and"}
"""Words that a number may be made of: "a hundred and five and a half"."""

_TEEN_TO_TEN = {
    "thirteen": "thirty",
    "fourteen": "forty",
    "fifteen": "fifty",
    "sixteen": "sixty",
    "seventeen": "seventy",
    "eighteen": "eighty",
    "nineteen": "ninety",
}
SOUND_ALIKE = _TEEN_TO_TEN | {ten: teen for teen, ten in _TEEN_TO_TEN.items()}
"""Words that differ in stress and a final n only; both members of every pair are plausible in this procedure."""


class Style(StrEnum):
    """How a number was said."""

    NATURAL = "natural"
    DIGITS = "digit by digit"
    PAIR = "number and digits"


@dataclass(frozen=True, slots=True)
class Reading:
    """A number that was said."""

    value: Number
    style: Style


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A pair form whose halves differ ("fifteen, five zero"): both values, number first."""

    natural: Number
    digits: Number


def _below_hundred(value: int) -> str:
    if value < 10:
        return UNITS[value]
    if value < 20:
        return TEENS[value - 10]
    tens, units = divmod(value, 10)
    return f"{TENS[tens - 2]} {UNITS[units]}" if units else TENS[tens - 2]


def natural_forms(value: int) -> Iterator[str]:
    """Ways to say 0 to 999 as a number: with and without "and", and the short form "two fifty"."""
    hundreds, rest = divmod(value, 100)
    if hundreds == 0:
        yield _below_hundred(value)
        return
    for hundred in (f"{UNITS[hundreds]} hundred", *(("a hundred",) if hundreds == 1 else ())):
        if rest == 0:
            yield hundred
        else:
            yield f"{hundred} and {_below_hundred(rest)}"
            yield f"{hundred} {_below_hundred(rest)}"
    if rest >= 10:
        yield f"{UNITS[hundreds]} {_below_hundred(rest)}"


def digit_forms(value: int) -> Iterator[str]:
    """Ways to say 10 to 999 digit by digit; each nought is "zero" or "oh"."""
    if value < 10:
        return
    spoken = [""]
    for digit in str(value):
        names = ("zero", "oh") if digit == "0" else (UNITS[int(digit)],)
        spoken = [f"{left} {name}".strip() for left in spoken for name in names]
    yield from spoken


def half_forms(whole: int) -> Iterator[str]:
    """Ways to say `whole` and a half."""
    if whole == 0:
        yield from ("half a", "half", "a half", "zero point five", "oh point five", "point five")
        return
    for number in natural_forms(whole):
        yield f"{number} and a half"
        yield f"{number} point five"


@cache
def table() -> dict[str, Reading]:
    """Every spoken form -> its one meaning. Raises AssertionError if two values share a form."""
    forms: dict[str, Reading] = {}
    for value in range(LARGEST + 1):
        found: list[tuple[str, Reading]] = []
        found += ((form, Reading(value, Style.NATURAL)) for form in natural_forms(value))
        found += ((form, Reading(value, Style.DIGITS)) for form in digit_forms(value))
        found += ((form, Reading(value + 0.5, Style.NATURAL)) for form in half_forms(value))
        for form, reading in found:
            assert forms.setdefault(form, reading) == reading, f"{form!r} means two numbers"
    return forms


def parse(spoken: tuple[str, ...]) -> Reading | Contradiction | None:
    """The number that these words mean, or None if they are none. The empty tuple is none."""
    plain = table().get(" ".join(spoken))
    if plain is not None:
        return plain
    contradiction: Contradiction | None = None
    for cut in range(1, len(spoken) - 1):
        number, digits = table().get(" ".join(spoken[:cut])), table().get(" ".join(spoken[cut:]))
        if number is None or digits is None or number.style is not Style.NATURAL or digits.style is not Style.DIGITS:
            continue
        if number.value == digits.value:
            return Reading(number.value, Style.PAIR)
        if len(str(number.value)) == len(str(digits.value)):
            contradiction = contradiction or Contradiction(number.value, digits.value)
    return contradiction


LONGEST = 10
"""No spoken number has more words than this: "a hundred and fifty five and a half", or a pair form."""


def sound_alikes(spoken: tuple[str, ...]) -> tuple[Number, ...]:
    """Other numbers these words could have been: every teen may be a ten and every ten a teen."""
    own = parse(spoken)
    if not isinstance(own, Reading) or own.style is not Style.NATURAL:
        return ()
    found: dict[Number, None] = {}
    for place, word in enumerate(spoken):
        if word in SOUND_ALIKE:
            other = parse((*spoken[:place], SOUND_ALIKE[word], *spoken[place + 1 :]))
            if isinstance(other, Reading) and other.value != own.value:
                found[other.value] = None
    return tuple(found)


def figures_in_words(text: str) -> str | None:
    """Figures as they are typed, in the words of a number that has no sound-alike: "50" -> "five zero", "1.50" ->
    "one point five". None for what is no number ("1.2.3").
    """
    whole, _, fraction = text.partition(".")
    if "." in fraction:
        return None
    spoken = " ".join(UNITS[int(digit)] for digit in whole or "0")
    fraction = fraction.rstrip("0")
    return f"{spoken} point " + " ".join(UNITS[int(digit)] for digit in fraction) if fraction else spoken


def in_figures(spoken: tuple[str, ...]) -> str:
    """The words with each number in figures, as people write: "gastric fifty five in" -> "gastric 55 in"."""
    written: list[str] = []
    at = 0
    while at < len(spoken):
        ends = range(min(at + LONGEST, len(spoken)), at, -1)
        found = next(((end, said) for end in ends if isinstance(said := parse(spoken[at:end]), Reading)), None)
        end, value = (found[0], f"{found[1].value:g}") if found is not None else (at + 1, spoken[at])
        written.append(value)
        at = end
    return " ".join(written)


def spell_digits(value: Number) -> str:
    """The digits one by one, as the screen shows them beside the number: 50 -> "five-zero", 1.5 -> "one-point-five"."""
    return "-".join("point" if sign == "." else UNITS[int(sign)] for sign in f"{value:g}")


@cache
def number_tree(low: int, high: int, halves: bool) -> Node:
    """Everything that can be said for `low` to `high`: natural, digit by digit, or one after the other.

    The digits of a pair form are not tied to the number here: an engine that is free to hear "fifteen, five zero"
    shows the contradiction, one that is not free would hide it.
    """
    natural, digits = _natural_tree(low, high), _digit_tree(low, high)
    pieces = [natural]
    if digits is not None:
        pieces += [digits, sequence(_natural_tree(max(low, 10), high), digits)]
    if halves:
        pieces += [words(form) for form in half_forms(0)] if low == 0 else []
        if high > max(low, 1):
            whole = _natural_tree(max(low, 1), high - 1)
            pieces.append(sequence(whole, choice(words("and a half"), words("point five"))))
    return choice(*pieces)


def _natural_tree(low: int, high: int) -> Node:
    """Natural forms of a range, factored so that whole hundreds and whole tens share their tails."""
    pieces: list[Node] = []
    if low < 100:
        pieces.append(_small_tree(low, min(high, 99)))
    whole = [h for h in range(1, 10) if low <= h * 100 and h * 100 + 99 <= high]
    pieces += [_hundreds_tree(tuple(whole), 0, 99)] if whole else []
    for hundred in range(1, 10):
        start, end = max(low, hundred * 100), min(high, hundred * 100 + 99)
        if hundred not in whole and start <= end:
            pieces.append(_hundreds_tree((hundred,), start % 100, end % 100))
    return choice(*pieces)


def _hundreds_tree(hundreds: tuple[int, ...], low: int, high: int) -> Node:
    digit = choice(*(words(UNITS[h]) for h in hundreds))
    article = choice(digit, words("a")) if 1 in hundreds else digit
    forms: list[Node] = []
    tail: Node | None = None
    if high >= 1:
        tail = sequence(optional(words("and")), _small_tree(max(low, 1), high))
    if tail is not None:
        forms.append(sequence(article, words("hundred"), optional(tail) if low == 0 else tail))
    else:
        forms.append(sequence(article, words("hundred")))
    if high >= 10:
        forms.append(sequence(digit, _small_tree(max(low, 10), high)))
    return choice(*forms)


def _small_tree(low: int, high: int) -> Node:
    plain = [words(_below_hundred(n)) for n in range(low, min(high, 19) + 1)]
    whole: list[Node] = []
    for tens in range(2, 10):
        start, end = max(low, tens * 10), min(high, tens * 10 + 9)
        if (start, end) == (tens * 10, tens * 10 + 9):
            whole.append(words(TENS[tens - 2]))
        else:
            plain += [words(_below_hundred(n)) for n in range(start, end + 1)]
    if whole:
        plain.append(sequence(choice(*whole), optional(choice(*(words(u) for u in UNITS[1:])))))
    return choice(*plain)


def _digit_tree(low: int, high: int) -> Node | None:
    """Digit by digit, as a tree shared by prefix; None if the range has no number of two digits."""

    def tail(prefix: str, length: int) -> Node | None:
        smallest, largest = int(prefix.ljust(length, "0")), int(prefix.ljust(length, "9"))
        if largest < low or smallest > high:
            return None
        if len(prefix) == length:
            return Sequence(())
        branches: dict[Node, list[Node]] = {}
        for digit in "0123456789":
            rest = tail(prefix + digit, length)
            if rest is not None and (prefix or digit != "0"):
                names = words("zero"), words("oh")
                branches.setdefault(rest, []).extend(names if digit == "0" else (words(UNITS[int(digit)]),))
        return choice(*(sequence(choice(*names), rest) for rest, names in branches.items())) if branches else None

    found = [tree for length in (2, 3) if (tree := tail("", length)) is not None]
    return choice(*found) if found else None
