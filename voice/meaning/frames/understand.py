"""From a sentence to its meaning by frames: entries, questions, or nothing with the reason why."""

from __future__ import annotations

from itertools import pairwise

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood
from voice.english import talk
from voice.english.amounts import longest_number
from voice.english.numbers import NUMBER_WORDS, UNITS
from voice.meaning.frames.laying import UNEXPLAINED, Laid
from voice.meaning.frames.lexicon import GUARD_BIT, Lexicon, lexicon
from voice.meaning.frames.no_number import misspelt_number, side_by_side
from voice.meaning.frames.numbered import Doubt
from voice.meaning.frames.reading import Reading, read
from voice.meaning.frames.token import Token
from voice.meaning.frames.tokens import tokens
from voice.phrases.phrases import Phrases

MOST_UNEXPLAINED = 3
"""More words than this that nobody explains, and it was talk."""
ONE_MORE_FROM = 3
"""Ideas of a frame that were said; from so many on it may leave two words more."""


def by_frames(phrases: Phrases, words: tuple[str, ...]) -> Meaning:
    """What these words mean, pauses among them as ",". `NotUnderstood.why` says what stood in the way."""
    table = lexicon(phrases)
    words = _in_its_spelling(phrases, words)
    if words[:4] in (("yeah", ",", "no", ","), ("yes", ",", "no", ",")) or words[:2] == ("yeah", "no"):
        words = words[4:] if words[1] == "," else words[2:]
    heard = " ".join(word for word in words if word != ",")
    if "#" in heard:
        return NotUnderstood(heard=heard, why="a sign that is no word")
    if "?" in words:
        return NotUnderstood(heard=heard, why="question")
    if _asked_midway(words):
        return NotUnderstood(heard=heard, why="question")
    nearly = misspelt_number(table, words)
    if nearly:
        return NotUnderstood(heard=heard, why=f'"{nearly}" is nearly a number')
    article = _after_the_article(table, words)
    if article in UNITS:
        return NotUnderstood(heard=heard, why="the before a digit")
    noted = _note(table, words)
    if noted is not None:
        return Understood(items=(noted,))
    command = _command_after_a_no(phrases, words)
    if command is not None:
        return command
    found = tokens(table, words)
    if side_by_side(found):
        return NotUnderstood(heard=heard, why="two numbers side by side")
    reading = read(table, found)
    left = frozenset(reading.unexplained) & table.loose if reading is not None else frozenset()
    for phrases_apart in (left, table.loose):
        if phrases_apart and (reading is None or reading.cost >= UNEXPLAINED):
            apart = tokens(table, words, phrases_apart)
            other = read(table, apart)
            if other is not None and (reading is None or other.cost < reading.cost - 0.5):
                found, reading = apart, other
    if reading is None:
        return NotUnderstood(heard=heard, why="nothing known")
    if any(token.text in reading.unexplained and token.meaning & table.names for token in found):
        return NotUnderstood(heard=heard, why="another drug was named")
    why = _in_the_way(reading, words)
    if why:
        return NotUnderstood(heard=heard, why=why)
    doubt = _doubt(reading, found)
    if doubt is None and article:
        doubt = Doubt("unsure", f'"the {article}" is nearly "three {article}"')
    if doubt is not None and not _one_number_for_one(reading, found):
        return NotUnderstood(heard=heard, why=doubt.text)
    items = _merged(tuple(_item(each, doubt) for each in reading.laid))
    return Understood(items=items)


_BEFORE_A_COMMAND = frozenset(
    ["no", "nope", "nah", "naw", "och", "ach", "ah", "oh", "wait", "sorry", "ope", "oops", ","]
)


def _command_after_a_no(phrases: Phrases, words: tuple[str, ...]) -> Meaning | None:
    """What is asked of the log after a "no" that only says that something was wrong: "och no, scrub that"."""
    start = next((place for place, word in enumerate(words) if word not in _BEFORE_A_COMMAND), len(words))
    if not 0 < start < len(words) or not {"no", "nope", "nah", "naw"} & set(words[:start]):
        return None
    meaning = by_frames(phrases, words[start:])
    if isinstance(meaning, Understood) and all(_first(item).kind in COMMANDS for item in meaning.items):
        return meaning
    return None


def _asked_midway(words: tuple[str, ...]) -> bool:
    """Whether a report turns into a question: "fifty in is the airway secured"."""
    begins = [
        place for place, word in enumerate(words) if (place == 0 or words[place - 1] == ",") and word in ASKS_FIRST
    ]
    if any(words[place + 1 : place + 2] == ("the",) for place in begins):
        return True
    return any(
        verb in ("is", "are", "has") and then == "the" and (_ends_a_report(one) or _states(words, place + 3))
        for place, (one, verb, then) in enumerate(zip(words, words[1:], words[2:], strict=False))
        if one not in NO_REPORT_BEFORE and "how" not in words[:place]
    )


ASKS_FIRST = frozenset(["is", "are", "was", "were", "has", "does", "did", "can", "could", "should", "will"])
NO_REPORT_BEFORE = frozenset([",", "that", "this", "it", "here", "there", "which", "what", "long", "much", "many"])


def _ends_a_report(word: str) -> bool:
    return word in ENDS_A_REPORT or (word.endswith("ed") and len(word) > 4)


def _states(words: tuple[str, ...], start: int) -> bool:
    """Whether a clause ends with a state: "... is the airway secured"."""
    end = words.index(",", start) if "," in words[start:] else len(words)
    return end - start > 1 and _ends_a_report(words[end - 1])


ENDS_A_REPORT = frozenset(["in", "out", "on", "off", "up", "down", "clear", "done", "gone", "given", "shut", "open"])


def _after_the_article(table: Lexicon, words: tuple[str, ...]) -> str:
    """The number word after a "the" that is nearly "three", for no unit follows; empty where there is none."""
    for place, word in enumerate(words[:-1]):
        if word != "the" or words[place + 1] not in NUMBER_WORDS:
            continue
        number = longest_number(words, place + 1)
        end = number[0] if number is not None else len(words)
        then, more = (*words[end : end + 2], "", "")[:2]
        counts = then.endswith("s") and len(then) > 3 and then in table.known
        of_a_unit = then in table.units or f"{then} {more}" in table.units
        if not (counts or of_a_unit) and f"{words[place + 1]} {then}" not in table.meanings:
            return words[place + 1]
    return ""


def _in_its_spelling(phrases: Phrases, words: tuple[str, ...]) -> tuple[str, ...]:
    speech = phrases.procedure.speech
    spellings = speech.spellings if speech is not None else {}
    out = []
    for word in words:
        stem, mark, tail = word.partition("'")
        out.append(f"{spellings[stem]}{mark}{tail}" if stem in spellings else word)
    return tuple(out)


def _doubt(reading: Reading, found: tuple[Token, ...]) -> Doubt | None:
    """What makes everything that was said in this breath a question."""
    if reading.unexplained:
        return Doubt("not explained", f"not explained: {', '.join(reading.unexplained)}")
    if any(token.meaning & GUARD_BIT["unsure"] for token in found):
        return Doubt("unsure", "it was said to be unsure")
    if any(each[0].lay.frame.kind == "vital" for each in reading.laid) and _was(found):
        return Doubt("unsure", "it may be past")
    return None


def _was(found: tuple[Token, ...]) -> bool:
    return any(token.text in ("was", "were") for token in found)


Items = tuple[Entry | Question, ...]


def _first(item: Entry | Question) -> Entry:
    return item.candidates[0] if isinstance(item, Question) else item


def _merged(items: Items) -> Items:
    """What was said twice in a breath is said once; a number that was said twice, differently, is asked."""
    out: list[Entry | Question] = []
    for item in items:
        same = next((place for place, one in enumerate(out) if _same(_first(one), _first(item))), None)
        other = next((place for place, one in enumerate(out) if _contradicts(_first(one), _first(item))), None)
        if same is not None:
            fuller = max((out[same], item), key=lambda one: len(_first(one).model_dump(exclude_none=True)))
            out[same] = fuller
        elif other is not None:
            both = (_first(out[other]), _first(item))
            out[other] = Question(candidates=both, why="several numbers", text="two of it were said")
        else:
            out.append(item)
    numbered = {_first(one).kind for one in out if _first(one).number is not None}
    out = [one for one in out if _first(one).value != ON or _first(one).kind not in numbered]
    if any(_first(one).kind == "emergency" and _first(one).value == "over" for one in out):
        out = [one for one in out if _first(one).kind not in ("emergency", "airway") or _first(one).value == "over"]
    looks = [one for one in out if _first(one).kind == "appearance"]
    if len({_first(one).site for one in looks}) == 1 < len(looks):
        changed = Question(candidates=tuple(map(_first, reversed(looks))), why="several numbers", text="it changed")
        out = [*(one for one in out if one not in looks), changed]
    if any(_first(one).kind == "correct" for one in out):
        out = [one for one in out if _first(one).kind != "undo"]
    if any(_first(one).kind != "confirm" for one in out):
        out = [one for one in out if _first(one).kind != "confirm"]
    return tuple(out)


def _same(one: Entry, other: Entry) -> bool:
    """One says nothing that the other does not say."""
    mine, others = one.model_dump(exclude_none=True), other.model_dump(exclude_none=True)
    return mine.items() <= others.items() or others.items() <= mine.items()


ON = "on"
"""Implied by the number of the same thing: "weight is on, one kilo"."""

READ_OFF = frozenset({"pressure", "depth", "volume_total", "vital", "manometry"})
"""Kinds of which a moment has one number."""


STATES = frozenset({"bleeding", "leak_test", "clamp", "balloon", "resistance", "skin"})
"""Kinds of which a moment has one state."""

OPPOSED = (frozenset({"in", "out"}), frozenset({"on", "off"}), frozenset({"confirmed", "not_confirmed"}))
"""Values that one thing cannot have at once."""


def _contradicts(one: Entry, other: Entry) -> bool:
    if one.kind == other.kind == "depth" and one.site != other.site:
        return one.value != other.value or None not in (one.site, other.site)
    alike = (one.kind, one.site, one.detail, one.second) == (other.kind, other.site, other.detail, other.second)
    opposed = one.kind in STATES or frozenset((one.value, other.value)) in OPPOSED
    states = opposed and (one.kind, one.site) == (other.kind, other.site)
    return (states or (one.kind in READ_OFF and alike)) and one.value != other.value


def _one_number_for_one(reading: Reading, found: tuple[Token, ...]) -> bool:
    """Whether what is read again in a moment may be asked: it is all that was said, with one number, and no guess."""
    read_again = [each[0] for each in reading.laid if not each[0].lay.frame.several and each[0].lay.slots]
    if not read_again:
        return True
    amounts = sum(1 for token in found if token.amount is not None)
    guessed = any(token.meaning & GUARD_BIT["unsure"] for token in found)
    return len(reading.laid) == 1 and amounts == 1 and len(read_again[0].lay.slots) == 1 and not guessed


def _in_the_way(reading: Reading, words: tuple[str, ...]) -> str:
    if reading.guard is not None and reading.guard != "unsure":
        return reading.guard
    numbers = reading.unexplained.count("#")
    if numbers > 1:
        return "numbers without a place"
    if any(each[0].lay.frame.kind in COMMANDS for each in reading.laid) and _of_something_else(reading, words):
        return f"not explained: {', '.join(reading.unexplained)}"
    strong = all(each[0].ideas >= ONE_MORE_FROM for each in reading.laid)
    if len(reading.unexplained) + numbers > MOST_UNEXPLAINED + 2 * strong:
        return f"not explained: {', '.join(reading.unexplained)}"
    asking = [each[0] for each in reading.laid if each[0].lay.frame.asks]
    if len(reading.unexplained) > (1 if all(laid.ideas > 1 for laid in asking) else 0) and asking:
        return f"not explained: {', '.join(reading.unexplained)}"
    return ""


COMMANDS = frozenset(["correct", "undo", "restore", "confirm", "repeat", "status", "how_long", "next", "mark", "timer"])
"""What is asked of the log itself."""

_OWNED = frozenset(["the", "my", "your", "his", "her", "our", "their", "that", "those", "these", "for", "a", "of"])


def _of_something_else(reading: Reading, words: tuple[str, ...]) -> bool:
    """Whether a command has an object that is not the log's: "cancel the taxi"."""
    left = reading.unexplained
    undoes = any(each[0].lay.frame.kind in ("undo", "confirm", "correct") for each in reading.laid)
    return len(left) > 1 or (undoes and any(word in left and before in _OWNED for before, word in pairwise(words)))


def _item(each: tuple[Laid, ...], said: Doubt | None) -> Entry | Question:
    first = each[0]
    candidates = tuple(dict.fromkeys(one for laid in each for one in laid.candidates))
    doubts = [*first.doubts]
    if len(each) > 1:
        doubts.append(Doubt("two readings", "these words can be read in more than one way"))
    if said is not None:
        doubts.append(said)
    if not doubts and first.comment:
        doubts.append(Doubt("unsure", "said in passing"))
    if not doubts and first.alike:
        doubts.append(Doubt("sound alike", f"{_numbers(candidates)} sound alike"))
    if not doubts:
        return candidates[0]
    return Question(candidates=candidates, why=doubts[0].why, text="; ".join(doubt.text for doubt in doubts))


def _numbers(candidates: tuple[Entry, ...]) -> str:
    values = {one.number for one in candidates}
    return " and ".join(f"{one.number if len(values) > 1 else one.second:g}" for one in candidates)


def _note(table: Lexicon, words: tuple[str, ...]) -> Entry | None:
    """Everything after "note that" is the note."""
    start = 0
    while start < len(words) and words[start] in (",", "please", "just", "okay", "right", "and"):
        start += 1
    bit, mark = table.ideas.get("note", 0), table.ideas.get("mark_time", 0)
    for length in range(5, 0, -1):
        stop = start + length
        meaning = table.meanings.get(" ".join(talk.spelled_out(words[start:stop])), 0)
        if meaning & mark:
            return None
        text = " ".join(word for word in words[stop:] if word != ",")
        if meaning & bit and text:
            return Entry(kind="note", detail=text)
    return None
