"""From a sentence to its meaning by frames: entries, questions, or nothing with the reason why."""

from __future__ import annotations

from itertools import pairwise

from log.basics.entry import Entry, Meaning, NotUnderstood, Question, Understood, likeliest
from voice.english import talk
from voice.english.asides import without_asides
from voice.english.harmless import NOTHING, PARTICLES
from voice.english.numbers import UNITS
from voice.english.other_units import OTHER_UNITS
from voice.meaning.doubt import Doubt
from voice.meaning.frames.breath import in_particular, merged, several, volumes_asked
from voice.meaning.frames.items import items
from voice.meaning.frames.laying import UNEXPLAINED
from voice.meaning.frames.lexicon import FIRST_IDEA, GUARD_BIT, HARMLESS, Lexicon, lexicon
from voice.meaning.frames.no_number import misspelt_number, side_by_side
from voice.meaning.frames.no_report import after_the_article, asked_midway
from voice.meaning.frames.reading import Reading, first_guard, read
from voice.meaning.frames.repairs import put_right
from voice.meaning.frames.token import PAUSE, Token
from voice.meaning.frames.tokens import tokens
from voice.phrases.phrases import Phrases

TWO_NUMBERS = "two numbers stand side by side"
MOST_UNEXPLAINED = 3
"""More words than this that nobody explains, and it was talk."""
CLEARLY = 0.5
"""By so much a reading with phrases taken apart has to be cheaper."""
UNREADABLE = "#"
"""The token for a sign that is no word."""
ONE_MORE_FROM = 3
"""Ideas of a frame that were said; from so many on it may leave two words more."""


def by_frames(phrases: Phrases, words: tuple[str, ...]) -> Meaning:
    """The meaning of these words, pauses among them as ",". `NotUnderstood.why` says what stood in the way."""
    table = lexicon(phrases)
    words = without_asides(_in_its_spelling(phrases, words))
    heard = " ".join(word for word in words if word != PAUSE)
    if why := _no_report(table, words):
        return NotUnderstood(heard=heard, why=why)
    if (noted := _note(table, words)) is not None:
        return Understood(items=(noted,))
    if (command := _command_after_a_no(phrases, words)) is not None:
        return command
    found, reading = _best(table, words)
    if reading is None and (number := put_right(words)) is not None:
        last = Entry(kind="correct", value=number)
        return Understood(items=(Question(candidates=(last,), why="unsure", text="the last number may be put right"),))
    if reading is None and (alone := _alone(table, found)) is not None:
        return Understood(items=(Question(candidates=(alone,), why="unsure", text="one word may mean something else"),))
    if reading is None and (ports := _ports(phrases, table, found)):
        return Understood(items=(Question(candidates=ports, why="two readings", text="which port was not said"),))
    if reading is None:
        return NotUnderstood(heard=heard, why=TWO_NUMBERS) if side_by_side(found) else NotUnderstood(heard=heard)
    why = _another_drug(table, reading, found) or _in_the_way(reading, words) or _everyday(reading, found)
    doubt = _doubt(reading, found) or _doubtful_article(table, words)
    if not why and doubt is not None and not _one_number_for_one(reading, found):
        why = doubt.text
    if why in BESIDE and (plain := _clean_clauses(table, words)) is not None:
        return plain
    if why:
        return NotUnderstood(heard=heard, why=why)
    said = in_particular(found, merged(tuple(items(reading, doubt)), several(found)))
    return Understood(items=volumes_asked(table, found, said))


def _alone(table: Lexicon, found: tuple[Token, ...]) -> Entry | None:
    """What one word that was all that was said may mean: "aspiration"."""
    told = [token for token in found if not token.meaning & HARMLESS]
    if len(told) != 1 or told[0].amount is not None:
        return None
    asking = (lay.frame for lay in table.lays if lay.frame.asks and lay.frame.alone and not lay.slots)
    one = next((frame for frame in asking if told[0].meaning & table.ideas.get(frame.needs[0], 0)), None)
    return Entry(kind=one.kind, value=one.value, detail=one.detail) if one is not None else None


def _ports(phrases: Phrases, table: Lexicon, found: tuple[Token, ...]) -> tuple[Entry, ...]:
    """The ports that "clamped" may mean where nothing else is said: any of them."""
    told = [token.meaning for token in found if not token.meaning & HARMLESS]
    for idea, value in (("clamped", "on"), ("unclamped", "off")):
        if len(told) == 1 and told[0] & table.ideas.get(idea, 0) and phrases.procedure.kind_named("clamp"):
            sites = (site for site in phrases.choices.get("site", {}) if site != "both")
            return tuple(Entry(kind="clamp", site=site, value=value) for site in sites)
    return ()


BESIDE = frozenset(["not", "past", "plan", "order"])
"""Things that a clause of its own may deny, remember, plan or order beside a report; the report is asked."""
PAUSE_OR = (PAUSE, "or")
"""Another reading follows; what is read again in a moment is not asked about."""
FIRST = frozenset(["past", "plan", "order"])
"""Of these what comes first speaks of all that follows."""


def _clean_clauses(table: Lexicon, words: tuple[str, ...]) -> Understood | None:
    """The clauses that are reports by themselves, asked, for something else was said beside them; None where there is
    none, or where what else was said may speak of them."""
    clauses = [_best(table, clause) for clause in _clauses(words) if clause]
    clean = [
        reading is not None and reading.cost < UNEXPLAINED and not _in_the_way(reading, words) for _, reading in clauses
    ]
    if not any(clean) or all(clean):
        return None
    for place, (found, reading) in enumerate(clauses):
        guard = first_guard(found) if reading is None or reading.guard is None else reading.guard
        if not clean[place] and guard is not None and (guard not in BESIDE or (guard in FIRST and place == 0)):
            return None
    doubt = Doubt("unsure", "something else was said with it")
    reports = [reading for (_, reading), good in zip(clauses, clean, strict=True) if good and reading is not None]
    if PAUSE_OR in pairwise(words) and not all(
        each[0].lay.frame.several for reading in reports for each in reading.laid
    ):
        return None
    return Understood(items=merged(tuple(item for reading in reports for item in items(reading, doubt))))


def _clauses(words: tuple[str, ...]) -> list[tuple[str, ...]]:
    cuts = [place for place, word in enumerate(words) if word == PAUSE]
    return [words[start:end] for start, end in zip([0, *(cut + 1 for cut in cuts)], [*cuts, len(words)], strict=True)]


def _no_report(table: Lexicon, words: tuple[str, ...]) -> str:
    """Why nothing of it can be logged, whatever the frames make of it; empty if nothing stands in the way."""
    if UNREADABLE in words:
        return "a sign in it is no word"
    if "?" in words or asked_midway(words):
        return "question"
    if nearly := misspelt_number(table, words):
        return f'"{nearly}" is nearly a number'
    return '"the" before a digit may be "three"' if after_the_article(table, words) in UNITS else ""


def _best(table: Lexicon, words: tuple[str, ...]) -> tuple[tuple[Token, ...], Reading | None]:
    """The cheapest reading: of the words as they belong together, or with phrases taken apart where that says more."""
    found = tokens(table, words)
    if side_by_side(found):
        return found, None
    reading = read(table, found)
    loose = frozenset(token.text for token in found if table.is_loose(token.text))
    left = loose.intersection(reading.unexplained) if reading is not None else frozenset()
    one_by_one = (frozenset([one]) for one in sorted(left if reading is not None else loose))
    for apart in dict.fromkeys((left, loose, *one_by_one)):
        if apart not in (left, loose) and (reading is None or reading.guard is not None):
            break  # it says nothing, or is no report: there is nothing to gain
        if apart and (reading is None or reading.cost >= UNEXPLAINED - CLEARLY * (apart <= left)):
            others = tokens(table, words, None if apart == loose else apart)
            other = read(table, others)
            if other is not None and (reading is None or other.cost < reading.cost - CLEARLY):
                found, reading = others, other
    return found, reading


def _another_drug(table: Lexicon, reading: Reading, found: tuple[Token, ...]) -> str:
    named = any(token.text in reading.unexplained and token.meaning & table.names for token in found)
    return "another drug was named" if named else ""


def _doubtful_article(table: Lexicon, words: tuple[str, ...]) -> Doubt | None:
    word = after_the_article(table, words)
    return Doubt("unsure", f'"the {word}" is nearly "three {word}"') if word else None


_BEFORE_A_COMMAND = frozenset(
    ["no", "nope", "nah", "naw", "och", "ach", "ah", "oh", "wait", "sorry", "ope", "oops", ","]
)


def _command_after_a_no(phrases: Phrases, words: tuple[str, ...]) -> Meaning | None:
    """A request to the log after a "no" that only says that something was wrong: "och no, scrub that"."""
    start = next((place for place, word in enumerate(words) if word not in _BEFORE_A_COMMAND), len(words))
    if not 0 < start < len(words) or not {"no", "nope", "nah", "naw"} & set(words[:start]):
        return None
    meaning = by_frames(phrases, words[start:])
    if isinstance(meaning, Understood) and all(likeliest(item).kind in COMMANDS for item in meaning.items):
        return meaning
    return None


def _in_its_spelling(phrases: Phrases, words: tuple[str, ...]) -> tuple[str, ...]:
    speech = phrases.procedure.speech
    spellings = speech.spellings if speech is not None else {}
    out = []
    for word in words:
        stem, mark, tail = word.partition("'")
        out.append(f"{spellings[stem]}{mark}{tail}" if stem in spellings else word)
    return tuple(out)


def _doubt(reading: Reading, found: tuple[Token, ...]) -> Doubt | None:
    """The reason why everything that was said in this breath is a question."""
    if reading.unexplained:
        return Doubt("not explained", _not_placed(reading))
    if any(token.meaning & GUARD_BIT["unsure"] for token in found):
        return Doubt("unsure", "it was said to be unsure")
    if any(each[0].lay.frame.kind == "vital" for each in reading.laid) and _was(found):
        return Doubt("unsure", "it may be past")
    return None


def _not_placed(reading: Reading) -> str:
    words = ("a number" if word == "#" else f'"{word}"' for word in dict.fromkeys(reading.unexplained))
    return f"no place for {', '.join(words)}"


def _was(found: tuple[Token, ...]) -> bool:
    return any(token.text in ("was", "were") for token in found)


def _one_number_for_one(reading: Reading, found: tuple[Token, ...]) -> bool:
    """Whether what is read again in a moment may be asked: it is all that was said, with one number, and no guess."""
    read_again = [each[0] for each in reading.laid if not each[0].lay.frame.several and each[0].lay.slots]
    if not read_again:
        return True
    amounts = [place for place, token in enumerate(found) if token.amount is not None]
    guessed = any(token.meaning & GUARD_BIT["unsure"] for token in found)
    together = not amounts or amounts[-1] - amounts[0] <= 2 * (len(amounts) - 1)
    as_many = len(amounts) == len(read_again[0].lay.slots)
    return len(reading.laid) == 1 and as_many and together and not guessed


def _in_the_way(reading: Reading, words: tuple[str, ...]) -> str:
    if reading.guard is not None and reading.guard != "unsure":
        return reading.guard
    if other := OTHER_UNITS.intersection(reading.unexplained):
        return f'"{min(other)}" is another unit, and nothing is converted: say it in the unit of the log'
    numbers = reading.unexplained.count("#")
    if numbers > 1:
        return "several numbers have no place"
    if any(each[0].lay.frame.kind in COMMANDS for each in reading.laid) and _of_something_else(reading, words):
        return _not_placed(reading)
    strong = all(each[0].ideas >= ONE_MORE_FROM for each in reading.laid)
    if len(reading.unexplained) + numbers > MOST_UNEXPLAINED + 2 * strong:
        return _not_placed(reading)
    asking = [each[0] for each in reading.laid if each[0].lay.frame.asks]
    if len(reading.unexplained) > (1 if all(laid.ideas > 1 for laid in asking) else 0) and asking:
        return _not_placed(reading)
    return ""


def _everyday(reading: Reading, found: tuple[Token, ...]) -> str:
    """What has no place where all that has one is everyday words and numbers: "me back's gone, forty years of this"."""
    placed = (token for token in found if token.meaning >= FIRST_IDEA and token.text not in reading.unexplained)
    if not reading.unexplained or any(not EVERYDAY.issuperset(token.text.split()) for token in placed):
        return ""
    return _not_placed(reading)


EVERYDAY = NOTHING | PARTICLES
"""Words that name nothing of the procedure, whatever they may mean beside words that do."""

COMMANDS = frozenset(["correct", "undo", "restore", "confirm", "repeat", "status", "how_long", "next", "mark", "timer"])
"""Requests to the log itself."""

_OWNED = frozenset(["the", "my", "your", "his", "her", "our", "their", "that", "those", "these", "for", "a", "of"])


def _of_something_else(reading: Reading, words: tuple[str, ...]) -> bool:
    """Whether a command has an object that is not the log's: "cancel the taxi"."""
    left = reading.unexplained
    undoes = any(each[0].lay.frame.kind in ("undo", "confirm", "correct") for each in reading.laid)
    said_in_one_word = "next" in words and any(
        each[0].ideas == 1 and each[0].lay.frame.kind == "next" for each in reading.laid
    )
    return (
        len(left) > 1
        or (bool(left) and said_in_one_word)
        or (undoes and any(word in left and before in _OWNED for before, word in pairwise(words)))
    )


def _note(table: Lexicon, words: tuple[str, ...]) -> Entry | None:
    """Everything after "note that" is the note."""
    start = 0
    while start < len(words) and words[start] in (PAUSE, "please", "kindly", "just", "okay", "right", "and"):
        start += 1
    bit, mark = table.ideas.get("note", 0), table.ideas.get("mark_time", 0)
    for length in range(5, 0, -1):
        stop = start + length
        meaning = table.means(" ".join(talk.spelled_out(words[start:stop]))) or 0
        if meaning & mark:
            return None
        text = " ".join(word for word in words[stop:] if word != ",")
        if meaning & bit and text:
            return Entry(kind="note", detail=text)
    return None
