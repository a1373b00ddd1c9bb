"""Who does what and when, as far as the place of a word tells it: orders, questions, what is said aside."""

from __future__ import annotations

from dataclasses import replace

from voice.english import guards, talk
from voice.meaning.frames.after_is import IS, after_is, is_participle
from voice.meaning.frames.beside import clauses, with_clauses_beside
from voice.meaning.frames.levels import TO
from voice.meaning.frames.lexicon import FIRST_IDEA, GUARD_BIT, HARMLESS, Lexicon
from voice.meaning.frames.token import Token

ORDER, QUESTION, UNSURE = GUARD_BIT["order"], GUARD_BIT["question"], GUARD_BIT["unsure"]
CONDITION = GUARD_BIT["condition"]
NO_VERB = GUARD_BIT["not"] | GUARD_BIT["question"]
""" "Not" is no verb, though "noted" is what was done."""


def with_stance(lexicon: Lexicon, found: tuple[Token, ...]) -> tuple[Token, ...]:
    """The tokens with what makes an order or a question of them by its place."""
    out = list(found)
    for start, end in clauses(found):
        first = next((place for place in range(start, end) if not _vocative(found[place])), None)
        if first is not None and found[first].text in guards.POLITE and _polite_report(found[first + 1 :]):
            out[first] = replace(found[first], meaning=HARMLESS)
            first = first + 1 if first + 1 < end else None
        if first is None:
            continue
        out[first] = _first(lexicon, found, first, end)
        for place in range(first + 1, end):
            out[place] = _within(lexicon, found, place, start)
    return tuple(with_clauses_beside(lexicon, out))


def _vocative(token: Token) -> bool:
    return token.text in guards.VOCATIVES or (token.meaning == HARMLESS and token.text.endswith("ly"))


def _first(lexicon: Lexicon, found: tuple[Token, ...], first: int, end: int) -> Token:
    """The first word of a clause: an auxiliary asks, a verb orders, if what it asks or orders of follows."""
    token, then = found[first], found[first + 1] if first + 1 < end else None
    text, _, own = token.text.partition(" ")
    if token.text in _YOU and then is not None and not then.meaning & (lexicon.queries | QUESTION):
        return replace(token, meaning=UNSURE)
    if token.text == "any" and then is not None and end - first < 5:
        return replace(token, meaning=QUESTION)
    if text == "what" and token.meaning & QUESTION and _is_told(found[first + 1 : end], bool(own)):
        return replace(token, meaning=UNSURE)
    if own and (token.meaning & lexicon.queries or text in guards.ASKING):
        return token
    if text in guards.FETCHING and then is not None:
        return replace(token, meaning=ORDER)
    if text in guards.ASKING:
        return _first_asking(lexicon, token, then)
    follows = own.split()[0] if own else then.text.split()[0] if then is not None else ""
    thing = then is not None and not own and bool(then.meaning & lexicon.things)
    if text == "did" and _did_it(found[first:end]):
        return replace(token, meaning=HARMLESS)
    if token.text in _ASK_FOR_A_VERB and then is not None and then.amount is not None:
        return replace(token, meaning=QUESTION)
    if text in guards.FIRST_QUESTION and follows != "not":
        asks = (
            (follows in guards.SUBJECTS and not (follows == "a" and text in _HAVE))
            or follows in _THINGS
            or (thing and text not in _MAY_DROP_ITS_SUBJECT)
        )
        asks = asks or (text in _MAY_DROP_ITS_SUBJECT and _names_it_last(lexicon, found[first + 1 : end]))
        had = text in _HAVE - {"had"} and thing and then is not None and not then.meaning & lexicon.seen
        makes = QUESTION if asks or had else after_is(lexicon, found[first + 1 : end]) if text in IS else 0
        return replace(token, meaning=makes) if makes else token
    if then is not None and own and text in guards.FIRST_ORDER and _acted_on(lexicon, then) and not _is_done(found):
        return replace(token, meaning=ORDER) if text in _SAME_WHEN_DONE and own.split()[0] != "been" else token
    if then is None or own:
        return token
    thing = thing or _names_a_thing(then)
    if text in guards.NOUN_OR_VERB and then.amount is not None and first + 2 < end:
        return replace(token, meaning=ORDER) if found[first + 2].text.split()[0] in guards.ACTED_FROM else token
    ordered = False
    if text in guards.FIRST_NOUN_OR_ORDER:
        thing = thing and follows not in _PARTS_OF_NAMES
        ordered = (follows in guards.SUBJECTS or thing) and not _reports(found[first + 1 : end])
    elif text in guards.SAME_WHEN_DONE and then.amount is not None and not _is_done(found):
        if any(one.meaning & lexicon.ideas.get("timer", 0) for one in found[first:end]):
            return token  # "put five minutes on the timer" is asked of the log
        return replace(token, meaning=token.meaning & ~ORDER | UNSURE)
    elif text in guards.SAME_WHEN_DONE and thing and _tells_what_came(found[end:]):
        return replace(token, meaning=token.meaning & ~ORDER | UNSURE)
    elif text in guards.FIRST_ORDER:
        ordered = (follows in guards.ACTED_ON or then.amount is not None or thing) and not _is_done(found)
    else:
        ordered = bool(token.meaning & ORDER) and follows not in _SAYS_OF
        ordered = ordered and not _asks_the_log(lexicon, found[first:end])
        acted_on = follows in guards.ACTED_ON or then.amount is not None or thing
        ordered = ordered or (acted_on and _base_of_a_verb(lexicon, token) and not _is_done(found))
    return replace(token, meaning=ORDER) if ordered else token


def _tells_what_came(rest: tuple[Token, ...]) -> bool:
    """Whether what follows is the result: "put the detector on the port, it never changed colour"."""
    words = [word for token in rest for word in token.text.split()]
    return not any(token.meaning & (ORDER | CONDITION) for token in rest) and any(
        word in talk.REPORTED or (word.endswith("ed") and len(word) > 4) for word in words
    )


def _is_told(rest: tuple[Token, ...], has_verb: bool) -> bool:
    """Whether a clause that begins with "what" tells what it is: "what comes off the port is coffee grounds"."""
    verbs = [place for place, token in enumerate(rest[:-1]) if token.text in ("is", "'s", "was") and place > 1]
    begins = rest[:1] and (has_verb or rest[0].text.split()[0] not in _AUXILIARIES | guards.FIRST_QUESTION)
    return bool(verbs) and bool(begins)


def _asks_the_log(lexicon: Lexicon, clause: tuple[Token, ...]) -> bool:
    """Whether a clause that begins with a verb has all that a command of the log needs: "pull that entry"."""
    ideas = 0
    for token in clause:
        ideas |= token.meaning
    return any(
        lay.needs[0] & clause[0].meaning and all(need & ideas for need in lay.needs)
        for lay in lexicon.lays
        if lay.frame.alone
    )


_SAYS_OF = frozenset(["is", "'s", "was", "of", "at", "with"])
"""Behind a word that may be a verb, these make a thing of it: "pull is five hundred grams"."""


def _did_it(clause: tuple[Token, ...]) -> bool:
    """Whether somebody says who did it, and asks nothing: "did it myself"."""
    words = [word for token in clause for word in token.text.split()]
    return words[1:2] in (["it"], ["that"]) and set(words[2:]) <= _BY_WHOM


_BY_WHOM = frozenset(["myself", "meself", "himself", "herself", "ourselves", "themselves", "just", "now", "already"])


def _names_it_last(lexicon: Lexicon, rest: tuple[Token, ...]) -> bool:
    """Whether the subject comes behind what has been done: "is already marked the companion"."""
    said = [token for token in rest if token.meaning != HARMLESS]
    return len(said) > 1 and bool(said[-1].meaning & lexicon.things) and is_participle(said[-2])


def _base_of_a_verb(lexicon: Lexicon, token: Token) -> bool:
    """Whether a word is how a verb is ordered, for the table knows it as done: "shove", "lob", "squirt"."""
    word = token.text
    if token.meaning & (lexicon.things | lexicon.queries | HARMLESS | NO_VERB) or word in _NAMES_TOO or len(word) < 3:
        return False
    return not {f"{word}ed", f"{word}d", f"{word}{word[-1]}ed"}.isdisjoint(lexicon.known)


_YOU = frozenset(["you", "yous", "youse", "y'all", "yall", "yiz"])
""" "You clamped the gastric" is as often asked as told."""
_NAMES_TOO = frozenset(
    [
        "bolus",
        "dose",
        "load",
        "film",
        "scope",
        "bleed",
        "need",
        "measure",
        "top",
        "seal",
        "light",
        "lactate",
        "total",
        "sum",
        "map",
        "count",
        "tally",
        "mean",
        "volume",
        "gauge",
        "pressure",
        "bottom",
        "lower",
    ]
)
_SAME_WHEN_DONE = frozenset(["let", "set", "take", "give", "get", "bring", "go", "begin", "start"])


def _acted_on(lexicon: Lexicon, token: Token) -> bool:
    return token.amount is not None or bool(token.meaning & lexicon.things)


def _first_asking(lexicon: Lexicon, token: Token, then: Token | None) -> Token:
    """ "When is", "who gave" ask; "when checked" says when."""
    if (
        token.text == "which"
        and then is not None
        and not then.meaning & lexicon.things
        and then.text not in _AUXILIARIES
    ):
        return replace(token, meaning=HARMLESS)
    if token.text in ("when", "where"):
        joins = then is None or then.text.split()[0] not in _AUXILIARIES
        done = then is not None and (then.text.split()[0].endswith("ed") or then.text.split()[0] in talk.REPORTED)
        if joins and token.text == "when":
            return replace(token, meaning=HARMLESS if done else CONDITION)
        return replace(token, meaning=HARMLESS if joins and then is not None else QUESTION)
    return replace(token, meaning=QUESTION)


def _is_to_be_done(lexicon: Lexicon, found: tuple[Token, ...], place: int, start: int) -> bool:
    """Whether something is still to be done with a thing: "oesophageal to come down at six"."""
    then = found[place + 1].text.split()[0] if place + 1 < len(found) else ""
    named = place > start and bool(found[place - 1].meaning & (lexicon.nouns | lexicon.sites))
    named = named and not _reports(found[start : place - 1])
    return named and (then in talk.PAST_OF or then in ("come", "go", "stay", "remain", "have", "get"))


def _within(lexicon: Lexicon, found: tuple[Token, ...], place: int, start: int) -> Token:
    token = found[place]
    if found[place - 1].text == "as" and is_participle(token) and token.meaning < FIRST_IDEA:
        return replace(token, meaning=HARMLESS)  # "as scheduled"
    if token.text == TO and _is_to_be_done(lexicon, found, place, start):
        return replace(token, meaning=GUARD_BIT["plan"])
    if token.text == "no" and place + 1 < len(found) and is_participle(found[place + 1]):
        return replace(token, meaning=GUARD_BIT["not"])
    if token.text in guards.ASKING and token.meaning & QUESTION:
        return replace(token, meaning=UNSURE if token.text == "when" else token.meaning & ~QUESTION | HARMLESS)
    if token.meaning & ORDER and " " not in token.text and token.text not in guards.ALWAYS_ORDER:
        before = next((at for at in range(place - 1, start - 1, -1) if not found[at].text.endswith("ly")), start)
        if found[before].text.split()[-1] not in guards.BEFORE_AN_ORDER:
            return replace(token, meaning=token.meaning & ~ORDER)
    return token


_AUXILIARIES = frozenset(
    ["is", "are", "was", "were", "do", "does", "did", "can", "could", "should", "will", "'s", "'d", "to", "has", "have"]
)

_ASK_FOR_A_VERB = frozenset(["do", "does", "did", "can", "could", "should", "will", "would"])
""" "Does one hear air", "did fifty go in"."""
_HAVE = frozenset(["has", "have", "had"])
_MAY_DROP_ITS_SUBJECT = frozenset({"is", "has", "had", "have", "was"})
""" "is bleeding again" is said of somebody, "is he bleeding" asks."""

_THINGS = frozenset(
    [
        "gastric",
        "oesophageal",
        "balloon",
        "both",
        "tube",
        "companion",
        "traction",
        "airway",
        "saturation",
        "consent",
        "removal",
        "lavage",
        "air",
        "time",
    ]
)


def _names_a_thing(token: Token) -> bool:
    return bool(_THINGS & set(token.text.split()))


_PARTS_OF_NAMES = frozenset(["effluent", "return", "returns", "fluid", "output", "aspirate", "port", "tube"])
""" "Lavage effluent" is a thing."""


def _reports(rest: tuple[Token, ...]) -> bool:
    """Whether a clause says what has become of its first word: "balloon tube inserted"."""
    words = [word for token in rest for word in token.text.split()]
    return any(word in _STATES or word.endswith("ed") or word in talk.REPORTED for word in words)


def _polite_report(rest: tuple[Token, ...]) -> bool:
    """Whether what is said politely is a report and asks for nothing to be done."""
    said = [token for token in rest if not _vocative(token) and not token.is_pause]
    if (
        not said
        or said[0].meaning & (ORDER | CONDITION)
        or said[0].text in guards.FIRST_ORDER | guards.FIRST_NOUN_OR_ORDER
    ):
        return False
    return _reports(tuple(said)) and said[0].text.split()[0] not in talk.PAST_OF


_STATES = frozenset(
    ["is", "are", "was", "were", "has", "have", "'s", "been", "done", "good", "okay", "on", "off", "in", "up", "down"]
)


def _is_done(found: tuple[Token, ...]) -> bool:
    return any(token.text in ("done", "already done", "just done") for token in found[-2:])
