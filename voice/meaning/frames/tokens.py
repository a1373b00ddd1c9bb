"""An utterance as the ideas that its words may stand for, numbers with their units, and where it pauses."""

from __future__ import annotations

from dataclasses import dataclass, replace

from voice.english import talk
from voice.english.amounts import longest_number
from voice.english.numbers import NUMBER_WORDS, Contradiction, Number, Style
from voice.meaning.frames.lexicon import ANY_NUMBER, GUARD_BIT, HARMLESS, Lexicon

PAUSE = ","


@dataclass(frozen=True, slots=True)
class Amount:
    """A number as it was said."""

    value: Number
    unit: str | None = None
    """UCUM code of the unit that was said with it; the value is already in it."""
    others: tuple[Number, ...] = ()
    """What it could have been by its sound, in the same unit."""
    digits: bool = False
    """Said digit by digit."""
    contradicted: bool = False
    """Its digits were another number than itself; `others` holds that."""
    implied: bool = False
    """No number was said: "a litre", "unit of plasma"."""


@dataclass(frozen=True, slots=True)
class Token:
    """One idea, number or pause."""

    text: str
    meaning: int = 0
    """Bits of what it may stand for; 0 is a word that nobody explains."""
    amount: Amount | None = None

    @property
    def is_pause(self) -> bool:
        """Whether somebody drew breath here."""
        return self.text == PAUSE


def tokens(lexicon: Lexicon, words: tuple[str, ...], apart: bool = False) -> tuple[Token, ...]:
    """The words of one utterance, taken together as far as they belong together.

    `apart`: phrases whose words all mean something alone are taken word by word, for "back on" may be a return and the
    beginning of "on the lavage".
    """
    found = _pauses_joined(_ideas(lexicon, talk.spelled_out(words), apart))
    found = _with_units(lexicon, found)
    found = _pairs(found)
    found = _repaired(found)
    found = _moved(found)
    return _first_words(_where(lexicon, _phrases_with_numbers(lexicon, found)))


WHERE = frozenset({"in", "on", "at", "from", "over", "into", "through", "inside", "onto", "off of", "out of", "above", "below", "under"})


def _where(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Token, ...]:
    """A word of place before a thing may be nothing but that: "in the stomach", "on the gauge"."""
    out = list(found)
    for place, token in enumerate(found[:-1]):
        if token.text in WHERE and found[place + 1].meaning & lexicon.things:
            out[place] = replace(token, meaning=token.meaning | HARMLESS)
    return tuple(out)


def _ideas(lexicon: Lexicon, words: tuple[str, ...], apart: bool) -> list[Token]:
    found: list[Token] = []
    place = 0
    while place < len(words):
        word = words[place]
        if word == PAUSE:
            found.append(Token(PAUSE, HARMLESS))
            place += 1
            continue
        phrase_end, meaning = _longest_phrase(lexicon, words, place, apart)
        number = longest_number(words, place)
        if number is not None and number[0] >= phrase_end and not (word == "a" and number[0] == place + 1):
            end, said, others = number
            if isinstance(said, Contradiction):
                amount = Amount(said.digits, None, (said.natural,), True, True)
            else:
                amount = Amount(said.value, None, others, said.style is not Style.NATURAL)
            found.append(Token(ANY_NUMBER, 0, amount))
            place = end
        elif phrase_end > place:
            found.append(Token(" ".join(words[place:phrase_end]), meaning))
            place = phrase_end
        else:
            found.append(Token(word, HARMLESS if word.endswith("ly") else 0))
            place += 1
    return found


def _longest_phrase(lexicon: Lexicon, words: tuple[str, ...], place: int, apart: bool) -> tuple[int, int]:
    """Where the longest known phrase ends and what it may mean; `place` itself if there is none. A unit is known."""
    for length in range(min(lexicon.longest.get(words[place], 0), len(words) - place), 0, -1):
        text = " ".join(words[place : place + length])
        if apart and length > 1 and text in lexicon.loose:
            continue
        if words[place + length - 1] == "one" and words[place + length : place + length + 1] and words[place + length] in NUMBER_WORDS:
            continue  # "gastric one fifty" is a hundred and fifty
        if text in lexicon.meanings:
            return place + length, lexicon.meanings[text]
        if text in lexicon.units:
            return place + length, 0
    return place, 0


def _pauses_joined(found: list[Token]) -> list[Token]:
    return [token for place, token in enumerate(found) if not (token.is_pause and place and found[place - 1].is_pause)]


def _with_units(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """Every number with the unit behind it; a unit alone is one of it ("a litre of saline")."""
    out: list[Token] = []
    for token in found:
        unit = lexicon.units.get(token.text)
        last = out[-1] if out else None
        if unit is not None and last is not None and last.amount is not None and last.amount.unit is None:
            out[-1] = replace(last, amount=_in_unit(last.amount, unit))
        elif unit is not None and len(out) > 1 and out[-1].text in _MORE and (far := out[-2].amount) is not None and far.unit is None:
            out[-2] = replace(out[-2], amount=_in_unit(far, unit))
        elif unit is not None and last is not None and last.text in ("half a", "the half", "half"):
            out[-1] = Token(ANY_NUMBER, 0, _in_unit(Amount(0.5), unit))
        elif unit is not None and (unit[0] in ("kg", "g", "mg", "{unit}") or unit == ("mL", 1000)):
            one = replace(_in_unit(Amount(1), unit), implied=last is None or last.text not in _ONE)
            out.append(replace(token, amount=one) if token.meaning else Token(ANY_NUMBER, 0, one))
        elif (
            token.amount is not None
            and token.amount.value == 0.5
            and token.amount.unit is None
            and len(out) > 1
            and out[-1].text == "and"
            and (whole := out[-2].amount) is not None
            and whole.unit is not None
        ):
            out.pop()
            step = 0.5 * (1000 if whole.unit == "mL" and whole.value >= 1000 else 1)
            out[-1] = replace(out[-1], amount=replace(whole, value=whole.value + step))
        else:
            out.append(token)
    return out


_ONE = frozenset({"a", "an", "one", "full", "another", "whole", "half a"})
_MORE = frozenset({"more", "extra", "further", "additional"})


def _in_unit(amount: Amount, unit: tuple[str, float]) -> Amount:
    code, factor = unit
    return replace(
        amount, value=_plain(amount.value * factor), unit=code, others=tuple(_plain(o * factor) for o in amount.others)
    )


def _plain(value: float) -> Number:
    rounded = round(value, 6)
    return int(rounded) if rounded == int(rounded) else rounded


def _pairs(found: list[Token]) -> list[Token]:
    """ "thirty, three zero" is one number that is sure, "fifty ml, four zero" one that is not; said twice is once."""
    out: list[Token] = []
    for token in found:
        before = next((at for at in range(len(out) - 1, -1, -1) if not out[at].is_pause), None)
        if token.amount is None or before is None or out[before].amount is None:
            out.append(token)
            continue
        last, now = out[before].amount, token.amount
        assert last is not None
        unit = last.unit or now.unit
        scale = 1000 if last.unit == "mL" and now.unit is None and last.value >= 1000 else 1
        if (now.value == last.value and last.unit in (None, now.unit)) or (now.value == last.value and now.unit is None):
            sure = last.digits or now.digits
            out[before:] = [replace(out[before], amount=replace(last, unit=unit, others=() if sure else last.others, digits=sure))]
        elif now.digits and now.value >= 10 and not last.digits and len(f"{now.value:g}") == len(f"{last.value / scale:g}"):
            out[before:] = [replace(out[before], amount=replace(now, unit=unit, others=(last.value,), contradicted=True))]
        else:
            out.append(token)
    return out


_REPAIRS = frozenset(talk.REPAIRS)


def _repaired(found: list[Token]) -> list[Token]:
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
            value = replace(value, unit=last.unit, value=_plain(value.value * scale))
        kept = out[before + 1 : before + 1 + taken_back]
        out[before:] = [*kept, replace(token, amount=value)]
    return out


def _taken_back(between: list[str]) -> int | None:
    """How many of the words between two numbers stay, if the rest of them takes the first number back."""
    said = [(place, text) for place, text in enumerate(between) if text != PAUSE]
    for length in (3, 2, 1):
        if len(said) >= length and " ".join(text for _, text in said[-length:]) in _REPAIRS:
            place = said[-length][0]
            if place == 0 or between[place - 1] == PAUSE or length > 1:
                return place
    for length in (2, 1):  # "ninety nine, no, probe was off, ninety three"
        if between[:1] == [PAUSE] and len(said) > length and " ".join(text for _, text in said[:length]) in _REPAIRS:
            return 0 if len(said) < 8 and between[-1] == PAUSE else None
    return None


_FELL = frozenset(["settled", "dropped", "fallen", "risen", "came", "come", "down", "up", "now", "back"])


def _moved(found: list[Token]) -> list[Token]:
    """ "from forty to thirty" is thirty; "was seventy when coughing, settled to thirty six" is thirty six."""
    numbers = [place for place, token in enumerate(found) if token.amount is not None]
    if len(numbers) != 2:
        return found
    first, last = numbers
    between = [token.text for token in found[first + 1 : last] if not token.is_pause]
    ahead = [token.text for token in found[:first] if not token.is_pause][-2:]
    was, now = found[first].amount, found[last].amount
    assert was is not None and now is not None
    if "from" in ahead and between == ["to"]:
        return [t for place, t in enumerate(found) if place not in (first, first - 1)]
    if ahead[-1:] in (["was"], ["been"]) and between[-1:] in (["to"], ["at"], ["now"]) and _FELL & set(" ".join(between).split()):
        return found[:first] + found[last:]
    if ahead[-1:] in (["was"], ["been"]) and any(word.split()[0] in ("settled", "now") for word in between if word):
        return found[:first] + found[last:]
    return found


def _phrases_with_numbers(lexicon: Lexicon, found: list[Token]) -> tuple[Token, ...]:
    """Ideas and comments that hold a number: "in # goes", "on # litres", "# percent albumin"."""
    texts = tuple(_spelled(token) for token in found)
    exact = tuple(
        f"{token.amount.value:g}" if token.amount is not None and token.amount.unit is None else token.text for token in found
    )
    out: list[Token] = []
    place = 0
    while place < len(found):
        end = place + 1
        for length in range(min(5, len(found) - place), 1, -1):
            if any(token.amount is not None for token in found[place : place + length]):
                meaning = lexicon.meanings.get(" ".join(texts[place : place + length]))
                if meaning is None:
                    meaning = lexicon.meanings.get(" ".join(exact[place : place + length]))
                if meaning is not None:
                    out.append(Token(" ".join(texts[place : place + length]), meaning))
                    end = place + length
                    break
        else:
            out.append(found[place])
        place = end
    return tuple(out)


_UNIT_WORD = {"%": "percent", "mL": "mils", "min": "minutes", "h": "hours", "{unit}": "units", "deg": "degrees", "s": "seconds"}


def _spelled(token: Token) -> str:
    if token.amount is None:
        return token.text
    unit = token.amount.unit
    if unit is None:
        return ANY_NUMBER
    if unit == "mL" and token.amount.value >= 1000:
        return f"{ANY_NUMBER} litres"
    return f"{ANY_NUMBER} {_UNIT_WORD.get(unit, unit)}"


def _first_words(found: tuple[Token, ...]) -> tuple[Token, ...]:
    """Marks what makes a question or an order by coming first."""
    first = next((place for place, token in enumerate(found) if token.text not in talk.VOCATIVES), None)
    if first is None:
        return found
    text = found[first].text
    then = found[first + 1] if first + 1 < len(found) else None
    if then is None or then.is_pause:
        return found
    follows = then.text.split()[0]
    guard = 0
    if text in talk.FIRST_QUESTION and follows != "not":
        subject = follows in talk.SUBJECTS or _names_a_thing(then)
        guard = GUARD_BIT["question"] if subject or text not in _MAY_DROP_ITS_SUBJECT else 0
    elif text in talk.FIRST_NOUN_OR_ORDER:
        guard = GUARD_BIT["order"] if follows in talk.SUBJECTS or _names_a_thing(then) else 0
    elif text in talk.FIRST_ORDER:
        acted = follows in talk.ACTED_ON or then.amount is not None or _names_a_thing(then)
        guard = GUARD_BIT["order"] if acted and not _is_done(found) else 0
    if not guard:
        return found
    return (*found[:first], replace(found[first], meaning=guard), *found[first + 1 :])


_MAY_DROP_ITS_SUBJECT = frozenset({"is", "has", "had", "have", "was"})
""" "is bleeding again" is said of somebody, "is he bleeding" asks."""

_THINGS = frozenset(["gastric", "oesophageal", "balloon", "both", "tube", "companion", "traction", "bleeding", "airway", "saturation", "consent", "removal", "lavage"])


def _names_a_thing(token: Token) -> bool:
    return bool(_THINGS & set(token.text.split()))


def _is_done(found: tuple[Token, ...]) -> bool:
    return any(token.text in ("done", "already done", "just done") for token in found[-2:])
