"""From words to meaning: which entries were said, which have to be asked, and what could not be understood.

The words are first read strictly by the definition's phrases, then by its frames. No word is taken for another that it
resembles: one that nobody knows is asked about or left, for adrenaline is two letters from another drug.
"""

from __future__ import annotations

from dataclasses import dataclass

from log.basics.entry import DENIED, QUERIES, Entry, Meaning, NotUnderstood, Question, Understood, entries, likeliest
from log.basics.errors import InputError
from log.definition.medicines import odd_dose
from voice.english.guards import IN_WORDS
from voice.english.numbers import Contradiction, Reading, parse, sound_alikes
from voice.english.talk import NO_ANSWERS
from voice.meaning.frames.lexicon import GUARDS
from voice.meaning.frames.understand import COMMANDS, by_frames
from voice.meaning.in_phrases import all_of, asked, asked_alike, digits_disagree, read_phrases, reads_as
from voice.meaning.lead_word import after_hesitations, after_lead_word
from voice.meaning.normalise import PAUSE, nearest, normalise, sentence
from voice.phrases.phrases import Phrases

MOST_WORDS = 200
"""More words than this are no breath but a page pasted by mistake."""


@dataclass(frozen=True, slots=True)
class Listening:
    """How an utterance is listened to: what it may be, at the moment at which it is said."""

    lead_word: str | None = None
    """The word that has to come first, or None where every utterance is meant for the log."""
    question_open: bool = False
    """A question is open, so that "confirm" or a bare number is an answer."""
    number_due: bool = False
    """Only a number can be meant."""
    in_talk: bool = False
    """Neither a lead word nor a key says that something is meant for the log: most of what is heard is talk."""


ALWAYS = Listening()


def understand(phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening = ALWAYS) -> Meaning:
    """The meaning of these words.

    `spoken`: recognised words, or text as typed; figures are read digit by digit ("50" is "five zero").
    """
    meaning = _understood(phrases, spoken, listening)
    if isinstance(meaning, NotUnderstood):
        return meaning
    return Understood(items=tuple(_odd_dose_asked(phrases, item) for item in meaning.items))


def _odd_dose_asked(phrases: Phrases, item: Entry | Question) -> Entry | Question:
    if isinstance(item, Question) or (odd := odd_dose(phrases.procedure.medicine or (), item)) is None:
        return item
    text = f"{item.number:g} {item.unit} of {item.detail}: {odd.usually}"
    return Question(candidates=(item,), why="out of range", text=text)


def _understood(phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening) -> Meaning:
    words = normalise(phrases, spoken)
    if len(words) > MOST_WORDS:
        return NotUnderstood(heard=" ".join(words), why="longer than one breath")
    if listening.number_due:
        return _number_only(words)
    answer = _answer(phrases, words, listening) if listening.question_open else None
    if answer is None and listening.question_open and _denies(phrases, words, listening):
        answer = Entry(kind="undo", value=DENIED)
    if answer is not None:
        return Understood(items=(answer,))
    addressed = _addressed(phrases, words, listening)
    if not addressed and (cry := _urgent(phrases, words)) is not None:
        return Understood(items=(cry,))
    if not addressed:
        return NotUnderstood(heard=" ".join(words))
    for attempt in addressed:
        if items := read_phrases(phrases, attempt):
            meaning = _clearer(phrases, spoken, listening, Understood(items=items))
            return meaning if "?" not in spoken or _asks_the_log(meaning) else _a_question(attempt)
    return _beyond_phrases(phrases, spoken, addressed, listening)


def _asks_the_log(meaning: Understood) -> bool:
    return all(entry.kind in COMMANDS for entry in entries(meaning))


def _a_question(words: tuple[str, ...]) -> NotUnderstood:
    """An entry with a question mark behind it, "gastric clamped?": somebody asks whether it is so."""
    return NotUnderstood(heard=" ".join(words), why=IN_WORDS["question"])


def _clearer(
    phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening, by_phrases: Understood
) -> Understood:
    """The meaning by frames where phrases leave a question of several and frames do not: "ketamine is given, hundred
    milligrams" is no pressure."""
    questions = [item.why for item in by_phrases.items if isinstance(item, Question)]
    unnamed = questions in (["other unit"], ["out of range"]) and not _named(by_phrases, normalise(phrases, spoken))
    if not (unnamed or len(by_phrases.items) > 1) or set(questions) <= {"sound alike"}:
        return by_phrases
    framed = _framed(phrases, spoken, listening)
    items = framed.items if isinstance(framed, Understood) else ()
    clear = all(isinstance(item, Entry) or item.why == "sound alike" for item in items)
    return framed if items and clear and isinstance(framed, Understood) else by_phrases


def _named(meaning: Understood, words: tuple[str, ...]) -> bool:
    """Whether a word of its kind was said: "volume thirty mmHg" is asked, whatever its unit fits."""
    return not set(likeliest(meaning.items[0]).kind.split("_")).isdisjoint(words)


def _framed(phrases: Phrases, spoken: str | tuple[str, ...], listening: Listening) -> Meaning:
    if phrases.procedure.speech is None:
        return NotUnderstood(heard="")
    return by_frames(phrases, _without_lead_word(phrases, sentence(spoken, phrases.words), listening))


def _beyond_phrases(
    phrases: Phrases, spoken: str | tuple[str, ...], addressed: tuple[tuple[str, ...], ...], listening: Listening
) -> Meaning:
    """The meaning of what is no phrase: what its frames say, or nothing, with the phrases that come closest."""
    if any(_is_overheard(phrases, attempt) for attempt in addressed):
        return NotUnderstood(heard=" ".join(addressed[0]), why=IN_WORDS["order"])
    framed = _framed(phrases, spoken, listening)
    if isinstance(framed, Understood):
        return framed
    if framed.why in GUARDS:  # no wording makes an entry of a question
        return NotUnderstood(heard=" ".join(addressed[0]), why=IN_WORDS[framed.why])
    return NotUnderstood(heard=" ".join(addressed[0]), nearest=nearest(phrases, addressed[0]), why=framed.why)


def _is_overheard(phrases: Phrases, words: tuple[str, ...]) -> bool:
    """Whether all of it is one of the phrases that the definition knows to be no entry."""
    if not phrases.vocabulary.issuperset(words):
        return False
    said = after_hesitations(phrases.procedure, words)
    return any(reads_as(phrases, node, said) for node in phrases.overheard)


def _without_lead_word(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> tuple[str, ...]:
    lead = listening.lead_word or phrases.procedure.lead_word
    rest = after_lead_word(phrases.procedure, tuple(word for word in words if word != PAUSE), lead)
    return words[words.index(lead) + 1 :] if rest is not None else words


def settled(meaning: Meaning) -> Meaning:
    """The meaning where what was heard is beyond doubt: fifteen was not fifty. Other questions stay."""
    if isinstance(meaning, NotUnderstood):
        return meaning
    return Understood(items=tuple(_settled(item) for item in meaning.items))


def _settled(item: Entry | Question) -> Entry | Question:
    if isinstance(item, Entry):
        return item
    return item.candidates[0] if item.why == "sound alike" else item


def asked_of_the_log(meaning: Meaning) -> tuple[str, ...]:
    """The kinds of what was asked of the log itself: "say again", "status", "how long"."""
    return tuple(entry.kind for entry in entries(meaning) if entry.kind in QUERIES)


def one_entry(phrases: Phrases, text: str) -> Entry:
    """The one entry that typed words say; whoever types is not asked about sound-alikes. Raises InputError."""
    meaning = understand(phrases, text)
    items = meaning.items if isinstance(meaning, Understood) else ()
    if len(items) != 1:
        raise InputError(f'"{text}" is not one entry', "see what can be said: tamponade procedures phrases")
    item = _settled(items[0])
    if isinstance(item, Question):
        raise InputError(f'"{text}" is not clear: {item.text}', "write it so that it can be read in one way only")
    entry = item
    kind = phrases.procedure.kind_named(entry.kind)
    if kind is None or kind.role == "command":
        raise InputError(f'"{text}" is a command, not an entry', "say what should stand in the log")
    return entry


def _addressed(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> tuple[tuple[str, ...], ...]:
    """The words that are meant for the log, as they may be read; none if the lead word is wanted and missing.

    The lead word may itself be the first word of a phrase ("log the time").
    """
    lead = listening.lead_word or phrases.procedure.lead_word
    rest = after_lead_word(phrases.procedure, words, lead)
    if rest is not None:
        return rest, (lead, *rest)
    return (words,) if listening.lead_word is None else ()


def _urgent(phrases: Phrases, words: tuple[str, ...]) -> Entry | Question | None:
    """An entry that needs no lead word, if it is all that was said."""
    return all_of(phrases, phrases.urgent, after_hesitations(phrases.procedure, words))


def _answer(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> Entry | Question | None:
    """An answer to an open question: it needs no lead word, but has to be all that was said."""
    procedure = phrases.procedure
    rest = after_lead_word(procedure, words, listening.lead_word or procedure.lead_word)
    return all_of(phrases, phrases.answers, after_hesitations(procedure, words) if rest is None else rest)


def _denies(phrases: Phrases, words: tuple[str, ...], listening: Listening) -> bool:
    """Whether it is a plain "no" to the open question; in talk nobody's "no" is meant for the log."""
    rest = after_lead_word(phrases.procedure, words, listening.lead_word or phrases.procedure.lead_word)
    if rest is None and (listening.in_talk or listening.lead_word is not None):
        return False
    return after_hesitations(phrases.procedure, words if rest is None else rest) in NO_ANSWERS


def _number_only(words: tuple[str, ...]) -> Meaning:
    reading = parse(words)
    match reading:
        case Reading(value):
            entry = Entry(kind="number", value=value)
            candidates = (entry, *(Entry(kind="number", value=other) for other in sound_alikes(words)))
            return Understood(items=(asked_alike(candidates) if len(candidates) > 1 else entry,))
        case Contradiction(natural, digits):
            both = (Entry(kind="number", value=digits), Entry(kind="number", value=natural))
            return Understood(items=(asked(both, (digits_disagree(reading),)),))
        case None:
            return NotUnderstood(heard=" ".join(words), why="not one number")
