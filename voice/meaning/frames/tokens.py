"""An utterance as the ideas that its words may stand for, numbers with their units, and where it pauses."""

from __future__ import annotations

from dataclasses import replace

from voice.english import talk
from voice.english.amounts import in_tenths, longest_number
from voice.english.asides import denied_once
from voice.english.harmless import PARTICLES
from voice.english.listed import words_of
from voice.english.numbers import NUMBER_WORDS, Contradiction, Style
from voice.meaning.frames.levels import with_levels
from voice.meaning.frames.lexicon import ANY_GUARD, ANY_NUMBER, FIRST_IDEA, GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.quantities import (
    alternatives,
    numbered_names,
    pairs,
    with_strengths,
    with_units,
    without_portions,
)
from voice.meaning.frames.repairs import moved, repaired
from voice.meaning.frames.stance import with_stance
from voice.meaning.frames.token import PAUSE, Amount, Token


def tokens(lexicon: Lexicon, words: tuple[str, ...], apart: frozenset[str] | None = frozenset()) -> tuple[Token, ...]:
    """The words of one utterance, taken together as far as they belong together.

    `apart`: phrases that are taken word by word (None: every one that can be), for "back on" may be a return and the
    beginning of "on the lavage".
    """
    told, now = talk.as_told(denied_once(talk.spelled_out(words)))
    found = _pauses_joined(_phrasal_verbs(lexicon, _ideas(lexicon, told, apart)))
    found = with_strengths(lexicon, with_units(lexicon, found))
    found = with_levels(lexicon, moved(alternatives(repaired(pairs(without_portions(found))))))
    asked = words[-2:-1] == (PAUSE,) and words[-1] in talk.TAGS
    if now or (asked and not any(token.meaning & lexicon.queries for token in found)):
        found.append(Token("now", GUARD_BIT["unsure"]))
    found = _taken_by(lexicon, _answering(found))
    return with_stance(lexicon, _where(lexicon, numbered_names(lexicon, _phrases_with_numbers(lexicon, found))))


def _answering(found: list[Token]) -> list[Token]:
    """A "no" with nothing behind it answers or takes back: "no, she is bleeding again" does not say that nothing
    bleeds. At the very end it may answer what came before: "bleeding, no" is asked."""
    out = [
        replace(token, meaning=GUARD_BIT["not"]) if token.text in _NO and then is not None and then.is_pause else token
        for token, then in zip(found, (*found[1:], None), strict=False)
    ]
    return [*out, Token("no", GUARD_BIT["unsure"])] if out and out[-1].text in _NO else out


_NO = frozenset(["no", "nah", "nope"])
_TAKE = frozenset(["took", "taken", "takes", "has taken", "have taken", "taking"])
_OUT_OF = frozenset(["out", "off", "from", "back"])


def _taken_by(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """ "The gastric has taken fifty" puts it in as well as takes it out: what takes is the balloon."""
    out = list(found)
    said = frozenset(" ".join(token.text for token in found).split())
    for place, token in enumerate(found):
        before = [one for one in found[:place] if one.text not in _HAVE and not one.meaning & HARMLESS]
        takes = token.text in _TAKE and bool(before) and bool(before[-1].meaning & lexicon.things)
        if takes and _OUT_OF.isdisjoint(said):
            out[place] = replace(token, meaning=token.meaning | lexicon.put | lexicon.took)
    return out


_HAVE = frozenset(["'s", "has", "have", "had"])

WHERE = frozenset(
    [
        "in",
        "on",
        "at",
        "from",
        "over",
        "into",
        "through",
        "inside",
        "onto",
        "off of",
        "out of",
        "above",
        "below",
        "under",
    ]
)
WAY_IN = frozenset(
    [
        "up",
        "down",
        "straight down",
        "straight up",
        "gone down",
        "gone up",
        "went down",
        "went up",
        "goes down",
        "goes up",
    ]
)
""" "Thirty up the oesophageal" goes in; "gastric up" does not."""


def _where(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Token, ...]:
    """A word of place before a thing may be nothing but that: "in the stomach", "on the gauge"."""
    out = list(found)
    amounts = any(token.amount is not None for token in found)
    clamp = any(token.meaning & lexicon.clamp for token in found)
    places = _in_each(lexicon, found)
    for place, token in enumerate(found[:-1]):
        if token.text == "on" and clamp:
            continue  # "the clamp on the gastric" may be on it
        then = 0 if found[place + 1].text.split()[0] in WHERE else found[place + 1].meaning
        if token.text == "to" and amounts and then & lexicon.sites and found[place + 1].amount is None:
            out[place] = replace(token, meaning=token.meaning & ~lexicon.level | lexicon.way_in | HARMLESS)
        elif place in places:
            out[place] = replace(token, meaning=HARMLESS)
        elif token.text in WHERE and then & lexicon.things:
            out[place] = replace(token, meaning=token.meaning | HARMLESS)
        elif token.text in WAY_IN and then & lexicon.sites and amounts:
            out[place] = replace(token, meaning=token.meaning | lexicon.way_in)
    return tuple(out)


def _in_each(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[int, ...]:
    """The places of "in" where it begins clause after clause: "in gastric eleven, in oesophageal twenty six" says
    nothing of air."""
    places = tuple(
        place
        for place, token in enumerate(found[:-1])
        if token.text == "in" and (place == 0 or found[place - 1].is_pause) and found[place + 1].meaning & lexicon.sites
    )
    return places if len(places) > 1 else ()


def _ideas(lexicon: Lexicon, words: tuple[str, ...], apart: frozenset[str] | None) -> list[Token]:
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
        if number is not None and number[0] >= phrase_end and not _is_no_number(words, place, number[0]):
            end, said, others = number
            if isinstance(said, Contradiction):
                tenths = in_tenths(words[place:end])
                amount = Amount(said.digits, None, (said.natural,), True, True, tenths=tenths)
            else:
                amount = Amount(said.value, None, others, said.style is not Style.NATURAL)
            found.append(Token(ANY_NUMBER, 0, amount))
            place = end
        elif phrase_end > place:
            noun = words[place:phrase_end] == ("one",) and place > 0 and words[place - 1] in _QUALITIES
            found.append(Token(" ".join(words[place:phrase_end]), meaning | HARMLESS if noun else meaning))
            place = phrase_end
        else:
            found.append(Token(word, HARMLESS if talk.is_adverb(word) else _several(lexicon, word)))
            place += 1
    return found


def _several(lexicon: Lexicon, word: str) -> int:
    """What an unknown word means as the plural of a thing: "tails"."""
    return (lexicon.means(word[:-1]) or 0) & lexicon.nouns if word.endswith("s") else 0


FARTHEST_PARTICLE = 4
"""Words between a verb and its particle: "shut the gastric line off", "eased eight mils out of it"."""


def _phrasal_verbs(lexicon: Lexicon, found: list[Token]) -> list[Token]:
    """A verb and its particle behind the object mean besides what only both mean together: "locked the gastric off"."""
    out = list(found)
    for place, verb in enumerate(found):
        if verb.is_pause or verb.amount is not None or verb.meaning & ANY_GUARD:
            continue
        for then in range(place + 1, min(place + 2 + FARTHEST_PARTICLE, len(found))):
            if found[then].is_pause:
                break
            numbered = any(token.amount is not None for token in found[place:then])
            particle = found[then].text.split()[0] if numbered else found[then].text
            together = lexicon.means(f"{verb.text.split()[-1]} {particle}") or 0
            meaning = together & ~(verb.meaning | found[then].meaning)
            if numbered:  # "eased eight mils out": an amount that was moved, and nothing else
                meaning &= lexicon.put | lexicon.took
            if then > place + 1 and particle in PARTICLES and meaning >= FIRST_IDEA:
                out[place] = replace(out[place], meaning=out[place].meaning | meaning)
                out[then] = replace(out[then], meaning=out[then].meaning | meaning)
                break
    return out


_QUALITIES = words_of(
    "portable mobile gastric oesophageal stomach gullet lower upper bottom top big small little old new second first"
)
""" "The stomach one" is the one of the stomach."""
_BEFORE_A_PRONOUN = _QUALITIES | words_of("that this last other wrong right same which each no every")


def _is_no_number(words: tuple[str, ...], place: int, end: int) -> bool:
    """ "a" alone is an article, and "that one" no number."""
    if end > place + 1:
        return False
    return words[place] == "a" or (words[place] == "one" and place > 0 and words[place - 1] in _BEFORE_A_PRONOUN)


def _longest_phrase(
    lexicon: Lexicon, words: tuple[str, ...], place: int, apart: frozenset[str] | None
) -> tuple[int, int]:
    """Where the longest known phrase ends and what it may mean; `place` itself if there is none. A unit is known."""
    for length in range(min(lexicon.longest.get(words[place], 0), len(words) - place), 0, -1):
        text = " ".join(words[place : place + length])
        if length > 1 and (lexicon.is_loose(text) if apart is None else text in apart):
            continue
        then = words[place + length] if place + length < len(words) else ""
        if words[place + length - 1] == "one" and (then in NUMBER_WORDS or then in lexicon.units):
            continue  # "gastric one fifty" is a hundred and fifty
        if (meaning := lexicon.means(text)) is not None:
            return place + length, meaning
        if text in lexicon.units:
            return place + length, 0
    return place, 0


def _pauses_joined(found: list[Token]) -> list[Token]:
    return [token for place, token in enumerate(found) if not (token.is_pause and place and found[place - 1].is_pause)]


def _phrases_with_numbers(lexicon: Lexicon, found: list[Token]) -> tuple[Token, ...]:
    """Ideas and comments that hold a number: "in # goes", "on # litres", "# percent albumin"."""
    if all(token.amount is None for token in found):
        return tuple(found)
    texts = tuple(_spelled(token) for token in found)
    exact = tuple(
        f"{token.amount.value:g}" if token.amount is not None and token.amount.unit is None else token.text
        for token in found
    )
    out: list[Token] = []
    place = 0
    while place < len(found):
        end = place + 1
        for length in range(min(5, len(found) - place), 1, -1):
            if any(token.amount is not None for token in found[place : place + length]):
                meaning = lexicon.means(" ".join(texts[place : place + length]))
                if meaning is None:
                    meaning = lexicon.means(" ".join(exact[place : place + length]))
                if meaning is not None:
                    out.append(Token(" ".join(texts[place : place + length]), meaning))
                    end = place + length
                    break
        else:
            out.append(found[place])
        place = end
    return tuple(out)


_UNIT_WORD = {
    "%": "percent",
    "mL": "mils",
    "min": "minutes",
    "h": "hours",
    "{unit}": "units",
    "deg": "degrees",
    "s": "seconds",
}


def _spelled(token: Token) -> str:
    if token.amount is None:
        return token.text
    unit = token.amount.unit
    if unit is None:
        return ANY_NUMBER
    if unit == "mL" and token.amount.value >= 1000:
        return f"{ANY_NUMBER} litres"
    return f"{ANY_NUMBER} {_UNIT_WORD.get(unit, unit)}"
