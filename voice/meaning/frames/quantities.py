"""Numbers with their units, and numbers that were said twice."""

from __future__ import annotations

from dataclasses import replace

from voice.english.asides import YES
from voice.english.listed import words_of
from voice.meaning.frames.lexicon import ANY_NUMBER, GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.token import Amount, Token, plain

UNSURE = GUARD_BIT["unsure"]


def with_units(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """Every number with the unit behind it; a unit alone is one of it ("a litre of saline")."""
    out: list[Token] = []
    for token in found:
        unit = lexicon.units.get("hour" if token.text == "an hour" and _ends_with_half(out) else token.text)
        if unit is not None and (_joined(out, unit) or _both(out, unit)):
            continue
        if unit is not None and (unit[0] in ("kg", "g", "mg", "{unit}") or unit == ("mL", 1000)):
            one = replace(_in_unit(Amount(1), unit), implied=not out or out[-1].text not in _ONE)
            out.append(replace(token, amount=one) if token.meaning else Token(ANY_NUMBER, 0, one))
        elif unit is not None or not _and_half(out, token):
            out.append(token)
    return _summed(out)


def _joined(out: list[Token], unit: tuple[str, float]) -> bool:
    """Whether the unit belongs to the number just before, which has it then."""
    last = out[-1] if out else None
    if last is None:
        return False
    if last.amount is not None and last.amount.unit is None:
        out[-1] = replace(last, amount=_in_unit(last.amount, unit))
        return True
    far = out[-2].amount if len(out) > 1 and last.text in _MORE else None
    if far is not None and far.unit is None:
        out[-2] = replace(out[-2], amount=_in_unit(far, unit))
        return True
    part, length = _part(out)
    if part:
        out[-length:] = [Token(ANY_NUMBER, 0, _in_unit(Amount(part), unit))]
    return bool(part)


def _ends_with_half(out: list[Token]) -> bool:
    """ "Half an hour", but not "fifty an hour"."""
    last = out[-1].amount if out else None
    return last is not None and last.value == 0.5 and last.unit is None


def _both(out: list[Token], unit: tuple[str, float]) -> bool:
    """ "Both units" are two of them."""
    if unit[0] != "{unit}" or not out or out[-1].text != "both":
        return False
    out[-1] = Token(ANY_NUMBER, 0, Amount(2, unit[0]))
    return True


def _part(out: list[Token]) -> tuple[float, int]:
    """Half, a quarter, three quarters at the end of what was said: how much it is, and how many tokens say it."""
    words = [token.text for token in out[-4:]]
    for tail in (["of", "a"], ["of"], ["a"], []):
        said = words[: len(words) - len(tail)]
        if words[len(said) :] != tail or not said:
            continue
        if said[-1] in _PARTS:
            place = len(out) - len(tail) - 2
            several = out[place].amount if place >= 0 else None
            if said[-1] == "quarters" and several is not None and several.value in (1, 2, 3):
                return float(several.value) * 0.25, len(tail) + 2
            return _PARTS[said[-1]], len(tail) + 1 + (said[-2:-1] == ["a"])
    return 0.0, 0


_PARTS = {"half": 0.5, "half a": 0.5, "quarter": 0.25, "quarters": 0.25}


def _and_half(out: list[Token], token: Token) -> bool:
    """ "A litre and a half": whether the half or quarter is added to the whole just before."""
    half = token.amount is not None and token.amount.value == 0.5 and token.amount.unit is None
    part = 0.5 if half else 0.25 if token.text in ("quarter", "a quarter") else 0
    joins = 2 if len(out) > 2 and [one.text for one in out[-2:]] == ["and", "a"] else 1
    if not (part and len(out) > joins and out[-joins].text == "and" and (whole := out[-joins - 1].amount) is not None):
        return False
    if whole.unit is None:
        return False
    del out[-joins:]
    step = part * (1000 if whole.unit == "mL" and whole.value >= 1000 else 1)
    out[-1] = replace(out[-1], amount=replace(whole, value=whole.value + step))
    return True


def _summed(found: list[Token]) -> list[Token]:
    """ "One kilo and two hundred grams" is one amount."""
    out: list[Token] = []
    for token in found:
        behind = 2 if out and out[-1].text == "and" else 1
        whole = out[-behind].amount if len(out) >= behind else None
        part = token.amount
        if (
            whole is not None
            and part is not None
            and not part.implied
            and (whole.unit, part.unit) == ("kg", "g")
            and part.value < 1000
        ):
            out[-behind:] = [replace(out[-behind], amount=replace(whole, value=plain(whole.value + part.value / 1000)))]
        else:
            out.append(token)
    return out


_ONE = frozenset({"a", "an", "one", "full", "another", "whole", "half a"})
_MORE = frozenset({"more", "extra", "further", "additional"})


def _in_unit(amount: Amount, unit: tuple[str, float]) -> Amount:
    code, factor = unit
    return replace(
        amount, value=plain(amount.value * factor), unit=code, others=tuple(plain(o * factor) for o in amount.others)
    )


_LABELLED = words_of("attempt try pass dose bag syringe round cycle step")


def numbered_names(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Token, ...]:
    """A number that says which one it is, "balloon number one", as a word that nobody explains."""
    out: list[Token] = []
    for token in found:
        bare = token.amount is not None and token.amount.unit is None and not token.amount.implied
        label = out[-1].text if out else ""
        named = label == "number" and len(out) > 1 and bool(out[-2].meaning & lexicon.nouns)
        if bare and (named or label in _LABELLED):
            out[-1] = Token(f"{label} {token.text}")
        else:
            out.append(token)
    return tuple(out)


def with_strengths(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """Without the strength that stands beside a fluid or a drug: "saline 0.9 percent", "twenty percent albumin"."""
    named = [bool(token.meaning & lexicon.given) and token.amount is None for token in found]
    return [
        token
        for token, before, then in zip(found, (False, *named), (*named[1:], False), strict=False)
        if not ((before or then) and token.amount is not None and token.amount.unit == "%")
    ]


_PORTIONS = words_of("portions lots goes aliquots shots pushes syringes syringefuls steps increments parts halves")


def without_portions(found: list[Token]) -> list[Token]:
    """Without the portions of an amount that was said, "two hundred, in four portions of fifty"; if they are not that
    amount, all of it is unsure."""
    for place, token in enumerate(found[:-2]):
        each = next((at for at in (place + 2, place + 3) if at < len(found) and found[at].amount is not None), None)
        between = " ".join(one.text for one in found[place + 1 : each]).split() if each is not None else []
        if token.amount is None or each is None or between[1:] != ["of"] or between[0] not in _PORTIONS:
            continue
        one = found[each].amount
        others = [other.amount.value for other in found[:place] + found[each + 1 :] if other.amount is not None]
        if one is None or not others:
            return found
        begin = place - 1 if place and found[place - 1].text == "in" else place
        rest = [*found[:begin], *found[each + 1 :]]
        return rest if token.amount.value * one.value in others else [*rest, Token("portions", UNSURE)]
    return found


_MAY_BE = words_of("or maybe perhaps possibly might could")
_MAY_STAND_BETWEEN = _MAY_BE | words_of("it be is was have been 've even rather either that a full no not sure , 's")


def alternatives(found: list[Token]) -> list[Token]:
    """ "Thirty or thirteen", "one kilo, could be one and a half": two readings of one number."""
    out: list[Token] = []
    for token in found:
        before = next((at for at in range(len(out) - 1, -1, -1) if out[at].amount is not None), None)
        first = out[before].amount if before is not None else None
        between = " ".join(one.text for one in out[before + 1 :]).split() if before is not None else []
        either = not _MAY_BE.isdisjoint(between) and _MAY_STAND_BETWEEN.issuperset(between)
        if before is None or first is None or token.amount is None or not either or not _alike(first, token.amount):
            out.append(token)
            continue
        unit = first.unit or token.amount.unit
        read = replace(first, unit=unit, others=(token.amount.value,), either=True)
        out[before:] = [replace(out[before], amount=read)]
        if before and out[before - 1].text in ("either", "maybe", "perhaps", "possibly"):
            del out[before - 1]
    return out


def _alike(one: Amount, other: Amount) -> bool:
    """Whether they may be readings of one amount: units that do not differ."""
    return None in (one.unit, other.unit) or one.unit == other.unit


def pairs(found: list[Token]) -> list[Token]:
    """ "thirty, three zero" is one number that is sure, "fifty ml, four zero" one that is not; said twice is once."""
    out: list[Token] = []
    for place, token in enumerate(found):
        before = next((at for at in range(len(out) - 1, -1, -1) if not _only_affirms(out[at])), None)
        last_of_all = all(one.meaning & HARMLESS for one in found[place + 1 :])
        if token.amount is not None and _said_again(out, token.amount, last_of_all):
            continue
        if token.amount is None or before is None or out[before].amount is None:
            out.append(token)
            continue
        last, now = out[before].amount, token.amount
        assert last is not None
        unit = last.unit or now.unit
        scale = 1000 if last.unit == "mL" and now.unit is None and last.value >= 1000 else 1
        if (now.value == last.value and last.unit in (None, now.unit)) or (
            now.value == last.value and now.unit is None
        ):
            sure = last.digits or now.digits
            out[before:] = [
                replace(out[before], amount=replace(last, unit=unit, others=() if sure else last.others, digits=sure))
            ]
        elif (
            now.digits
            and now.value >= 10
            and not last.digits
            and len(f"{now.value:g}") == len(f"{last.value / scale:g}")
        ):
            out[before:] = [
                replace(out[before], amount=replace(now, unit=unit, others=(last.value,), contradicted=True))
            ]
        else:
            out.append(token)
    return out


def _only_affirms(token: Token) -> bool:
    return token.is_pause or token.text in YES


def _said_again(out: list[Token], now: Amount, last_of_all: bool) -> bool:
    """Whether the number before was this one: "fifty into the gastric, five zero". It is sure then, where its digits
    were said; said again as it was, it is the same only where nothing follows."""
    place = next((at for at in range(len(out) - 1, -1, -1) if out[at].amount is not None), None)
    pause = next((one.is_pause for one in reversed(out) if one.text not in YES), False)
    last = out[place].amount if place is not None else None
    if place is None or last is None or not pause or last.value != now.value:
        return False
    again = now.digits and now.unit is None
    if not again and not (last_of_all and (last.unit or now.unit) == (now.unit or last.unit)):
        return False
    sure = {"digits": True, "others": ()} if again else {"unit": last.unit or now.unit}
    out[place] = replace(out[place], amount=replace(last, **sure))
    return True
