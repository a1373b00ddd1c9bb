"""Repairs: something is said twice because the first was a slip, or because it has changed since."""

from __future__ import annotations

from dataclasses import replace

from voice.english import talk
from voice.english.amounts import longest_number
from voice.english.numbers import Number, Reading
from voice.meaning.frames.token import PAUSE, Token, plain


def repaired(found: list[Token]) -> list[Token]:
    """ "fifty, no, sixty" is sixty; "three hundred not two hundred" is three hundred."""
    out: list[Token] = []
    for token in found:
        before = next((at for at in range(len(out) - 1, -1, -1) if out[at].amount is not None), None)
        if token.amount is None or before is None:
            out.append(token)
            continue
        between = [one.text for one in out[before + 1 :]]
        if [text for text in between if text != PAUSE] == ["not"]:
            del out[before + 1 :]
            continue
        taken_back = _taken_back(between)
        last = out[before].amount
        assert last is not None
        if taken_back is None or (last.unit is not None and token.amount.unit not in (None, last.unit)):
            out.append(token)
            continue
        value = token.amount
        if last.unit is not None and value.unit is None:
            scale = 1000 if last.unit == "mL" and last.value >= 1000 and value.value < 10 else 1
            value = replace(value, unit=last.unit, value=plain(value.value * scale))
        kept = out[before + 1 : before + 1 + taken_back]
        out[before:] = [*kept, replace(token, amount=value)]
    return out


def _taken_back(between: list[str]) -> int | None:
    """How many of the words between two numbers stay, if the rest of them takes the first number back."""
    said = [(place, text) for place, text in enumerate(between) if text != PAUSE and text not in talk.HESITATIONS]
    for first, (place, _) in enumerate(said):
        if _repairs([text for _, text in said[first:]]):
            begins = place == 0 or between[place - 1] in (PAUSE, *talk.HESITATIONS)
            if begins or len(said) - first > 1:
                return place
    for length in (3, 2, 1):  # "ninety nine, no, probe was off, ninety three"
        if (
            between[:1] == [PAUSE]
            and len(said) > length
            and " ".join(text for _, text in said[:length]) in talk.REPAIRS
        ):
            return 0 if len(said) < 8 and between[-1] == PAUSE else None
    return None


def _repairs(said: list[str]) -> bool:
    """Whether words are nothing but repairs, the last perhaps with how the right number is begun: "sorry, it was"."""
    if " ".join(said) in talk.REPAIRS:
        return True
    return any(
        " ".join(said[:cut]) in talk.REPAIRS
        and (_repairs(said[cut:]) or " ".join(said[cut:]) in talk.BEFORE_THE_RIGHT_ONE)
        for cut in range(1, len(said))
    )


def put_right(words: tuple[str, ...]) -> Number | None:
    """The number of "no, sorry, ninety two", with nothing else said; None where it is something else."""
    said = talk.spelled_out(tuple(word for word in words if word != PAUSE))
    for cut in range(len(said) - 1, 0, -1):
        number = longest_number(said, cut)
        if number is None or number[0] != len(said) or not isinstance(number[1], Reading):
            continue
        before = list(said[:cut])
        if _repairs(before) or _repairs_and_begins(before):
            return number[1].value
    return None


def _repairs_and_begins(said: list[str]) -> bool:
    return any(
        _repairs(said[:cut]) and " ".join(said[cut:]) in talk.BEFORE_THE_RIGHT_ONE for cut in range(1, len(said))
    )


_FELL = frozenset(["settled", "dropped", "fallen", "risen", "came", "come", "down", "up", "now", "back"])


_IS_NOW = frozenset(["settled", "now"])
_WAS = frozenset(["was", "been", "peaked", "spiked", "touched", "hit"])
"""Before a number that has passed: "peaked at fifty five, now resting at thirty two"."""


_WAY = frozenset(["up", "down"])


def _compared(found: list[Token]) -> list[Token]:
    """ "ninety over sixty, up from seventy over forty" is ninety over sixty: what is behind "from" was before."""
    for place, token in enumerate(found):
        words = token.text.split()
        if words[-1] != "from" or not found[:place] or not _WAY & {*words[:-1], *found[place - 1].text.split()}:
            continue
        start = place if _WAY & {*words[:-1]} else place - 1
        end = next((at for at in range(place + 1, len(found)) if found[at].amount is None), len(found))
        if end + 1 < len(found) and found[end].text == "over" and found[end + 1].amount is not None:
            end += 2
        behind = found[end].text if end < len(found) else ""
        if behind != "to" and end > place + 1 and any(one.amount is not None for one in found[:start]):
            return found[:start] + found[end:]
    return found


def moved(found: list[Token]) -> list[Token]:
    """ "from forty to thirty" is thirty; "was seventy when coughing, settled to thirty six" is thirty six."""
    found = _compared(found)
    numbers = [place for place, token in enumerate(found) if token.amount is not None]
    if len(numbers) != 2:
        return found
    first, last = numbers
    between = [token.text for token in found[first + 1 : last] if not token.is_pause]
    ahead = " ".join(token.text for token in found[:first] if not token.is_pause).split()[-2:]
    if ahead[-1:] in (["at"], ["on"], ["to"]) and ahead[0] in _WAS:
        ahead = ahead[:1]
    was, now = found[first].amount, found[last].amount
    assert was is not None and now is not None
    if "from" in ahead and between == ["to"]:
        return [t for place, t in enumerate(found) if place not in (first, first - 1)]
    words = " ".join(between).split()
    fell = words[-1:] in (["to"], ["at"], ["now"]) and not _FELL.isdisjoint(words)
    if ahead[-1:] and ahead[-1] in _WAS and (fell or not _IS_NOW.isdisjoint(words)):
        begins = next((place + 1 for place in range(last - 1, first, -1) if found[place].is_pause), last)
        return found[:first] + found[begins:]
    return found
