"""Numbers as people say them in a sentence: decimals, "a hundred and ninety", "one double oh", "fifteen hundred".

Built on the closed table of `numbers`: nothing is guessed, and what is not in it is no number.
"""

from __future__ import annotations

from voice.english.numbers import (
    NUMBER_WORDS,
    TEENS,
    TENS,
    UNITS,
    Contradiction,
    Number,
    Reading,
    Style,
    parse,
    sound_alikes,
)

PART_OF_A_NUMBER = NUMBER_WORDS | {"thousand", "double", "a", "and"}
"""Words that a number may be made of; "a" and "and" only within one."""

LONGEST = 12
"""Words; "one hundred and fifty five point five one five five" is no number of this room."""


_DIGITS = {name: str(digit) for digit, name in enumerate(UNITS)} | {"oh": "0"}


def longest_number(
    words: tuple[str, ...], start: int
) -> tuple[int, Reading | Contradiction, tuple[Number, ...]] | None:
    """The longest number that begins at `start`: where it ends, what it is, and the numbers that sound like it."""
    if words[start] not in PART_OF_A_NUMBER or words[start] == "and":
        return None
    end = start
    while end < len(words) and end - start < LONGEST and words[end] in PART_OF_A_NUMBER:
        end += 1
    for stop in range(end, start, -1):
        found = read_number(words[start:stop])
        if found is not None:
            return stop, found, _alikes(words[start:stop])
    return None


def read_number(spoken: tuple[str, ...]) -> Reading | Contradiction | None:
    """What these words mean as one number, all of them, or None."""
    plain = parse(_with_an_article(spoken))
    if plain is not None:
        return plain
    if len(spoken) == 4 and all(word in _DIGITS for word in spoken) and spoken[0] not in ("zero", "oh"):
        return Reading(int("".join(_DIGITS[word] for word in spoken)), Style.DIGITS)
    if "double" in spoken:
        return read_number(_doubled(spoken)) if spoken[-1] != "double" else None
    if spoken[0] == "hundred":
        return read_number(("one", *spoken))
    if "thousand" in spoken:
        return _thousands(spoken)
    if "point" in spoken:
        return _decimal(spoken)
    if len(spoken) >= 2 and spoken[1] == "hundred" and spoken[0] in TEENS:
        return _sum(TEENS.index(spoken[0]) * 100 + 1000, spoken[2:])
    return None


def _with_an_article(spoken: tuple[str, ...]) -> tuple[str, ...]:
    """ "Forty four and half" is "forty four and a half"."""
    return (*spoken[:-1], "a", "half") if len(spoken) > 2 and spoken[-2:] == ("and", "half") else spoken


def in_tenths(spoken: tuple[str, ...]) -> Number | None:
    """What these words mean of a temperature, where people leave out the point: "thirty five eight" is 35.8."""
    if len(spoken) != 3 or spoken[0] not in TENS or not {*spoken[1:]} <= {*UNITS[1:]}:
        return None
    return (20 + 10 * TENS.index(spoken[0])) + UNITS.index(spoken[1]) + UNITS.index(spoken[2]) / 10


def _doubled(spoken: tuple[str, ...]) -> tuple[str, ...]:
    out: list[str] = []
    for place, word in enumerate(spoken):
        if word != "double":
            out += [word] * (2 if place and spoken[place - 1] == "double" else 1)
    return tuple(out)


def _thousands(spoken: tuple[str, ...]) -> Reading | None:
    at = spoken.index("thousand")
    many = parse(spoken[:at]) if spoken[:at] not in ((), ("a",)) else Reading(1, Style.NATURAL)
    if not isinstance(many, Reading) or not isinstance(many.value, int) or not 0 < many.value < 10:
        return None
    return _sum(many.value * 1000, spoken[at + 1 :])


def _sum(whole: int, rest: tuple[str, ...]) -> Reading | None:
    rest = rest[1:] if rest[:1] == ("and",) else rest
    if not rest:
        return Reading(whole, Style.NATURAL)
    added = parse(rest)
    if (
        isinstance(added, Reading)
        and isinstance(added.value, int)
        and 0 < added.value < (1000 if whole % 1000 == 0 else 100)
    ):
        return Reading(whole + added.value, Style.NATURAL)
    return None


def _decimal(spoken: tuple[str, ...]) -> Reading | None:
    at = spoken.index("point")
    whole, digits = parse(spoken[:at]), spoken[at + 1 :]
    if not isinstance(whole, Reading) or not isinstance(whole.value, int) or not 1 <= len(digits) <= 2:
        return None
    if any(digit not in _DIGITS for digit in digits):
        return None
    value = float(f"{whole.value}.{''.join(_DIGITS[digit] for digit in digits)}")
    return Reading(int(value) if value == int(value) else value, whole.style)


def _alikes(spoken: tuple[str, ...]) -> tuple[Number, ...]:
    own = read_number(spoken)
    if not isinstance(own, Reading) or own.style is not Style.NATURAL:
        return ()
    if "point" not in spoken:
        return sound_alikes(("one", *spoken) if spoken[0] == "hundred" else spoken)
    at = spoken.index("point")
    fraction = float(own.value) - int(own.value)
    return tuple(round(other + fraction, 2) for other in sound_alikes(spoken[:at]))
