"""Questions and their answers: which open question something answers, and what has to be asked before it is logged.

A question is answered only by what it offered, or by the whole entry said anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from log.basics.entry import Entry, InDoubt, Number, Question, in_doubt
from log.definition.protocol import Tube
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules.course import Course
from log.rules.emergency import emergency_is_up, ends_it, may_call
from log.state.balloon import filled_after
from log.state.tube import TubeState

ANSWER_WITHIN = timedelta(seconds=30)
"""After that, what sounds like an answer is more likely talk in the room; the scribe can still answer."""

AGAIN_WITHIN = timedelta(seconds=20)
"""The same air said twice within less than this may be one filling said twice. Our choice; no published figure was
found."""

BOTH_IN_DOUBT = "two numbers are in doubt: say it again, every digit by itself"
STILL_OPEN = "still open: say the digits one by one"
NOT_OFFERED = "another number was said"
ANEW_WITHIN = timedelta(minutes=2)
"""So long after a question a reading of the same is taken for its answer; later it is the next reading. Our choice."""
ADDED_UP = frozenset(
    {"volume_in", "volume_out", "aspirate", "lavage_in", "lavage_out", "drug", "blood_product", "fluid", "urine"}
)
"""Kinds of which a second one soon after is another, and no reading anew."""
TWO_FIT = "two questions offer that: say the whole entry"
OF_A_BALLOON = frozenset({"volume_in", "volume_out", "volume_total", "pressure"})
"""Kinds of which a number means nothing without its balloon."""
WHICH_BALLOON = "which balloon"
NAME_UNSURE = "the name of the drug was not heard for certain"
EMPTIES = "this empties a balloon, and the word was not heard for certain"
SURELY_HEARD = 0.93
"""Confidence from which a word that nothing around it can contradict is taken without asking: "out" for "in", one drug
for another. That of a bare number (voice.meaning.thresholds); no own figure was measured."""
AGAIN = "the same was said just before: again, or the same?"


@dataclass(frozen=True, slots=True)
class Answer:
    """An open question and what was meant."""

    question: Line
    entry: Entry


def answer_by_number(record: Record, said: tuple[Entry, ...]) -> Answer | str:
    """The question of the last breath that offers this number, if one alone does; else why none is answered.

    `said`: the number as it was heard, or the numbers that it may be.
    """
    numbers = {entry.number for entry in said}
    fitting = [answer for question in _open(record) for answer in _offers(question, numbers)]
    if len(fitting) == 1:
        return fitting[0]
    if len({answer.question.number for answer in fitting}) > 1:
        return TWO_FIT
    newest = record.open_question
    if newest is not None and in_doubt(newest.candidates) == "both":
        return BOTH_IN_DOUBT
    return STILL_OPEN


def _open(record: Record) -> Iterator[Line]:
    """The questions that an answer could be for, the newest first."""
    return (record.line(number) for number in reversed(record.breath.questions))


def _offers(question: Line, numbers: set[Number | None]) -> Iterator[Answer]:
    doubtful = in_doubt(question.candidates)
    if doubtful == "both":
        return
    if question.entry.unit == "kg":  # said in grams as well
        numbers = numbers | {number / 1000 for number in numbers if number is not None and number >= 100}
    yield from (Answer(question, one) for one in question.candidates if number_of(one, doubtful) in numbers)


def number_of(entry: Entry, which: InDoubt) -> Number | None:
    """The number of an entry that is in doubt."""
    return entry.second if which == "second" else entry.number


def with_number(question: Line, number: Number | None) -> Question:
    """The question for another number than it offered."""
    doubtful = in_doubt(question.candidates)
    changed = (one.model_copy(update={doubtful: number}) for one in question.candidates)
    text = f"{question.reason}; {NOT_OFFERED}"
    return Question(candidates=tuple(dict.fromkeys(changed)), why="unsure", text=text)


def answer_by_place(record: Record, site: str | None) -> Answer | None:
    """The newest question that this place alone answers: it was offered there once, and elsewhere too."""
    for question in _open(record):
        here = [one for one in question.candidates if one.site == site]
        if len(here) == 1 and len(question.candidates) > 1:
            return Answer(question, here[0])
    return None


def answer_by_entry(record: Record, said_at: datetime, item: Entry) -> Answer | None:
    """The question that a whole entry answers: one of the last breath that offered it, or, at once, one of the same,
    which may be older. Later it is another entry: air that is put in meanwhile must not be taken for an answer."""
    for question in _open(record):
        apart = said_at - question.said_at
        if apart and (item in question.candidates or (_soon(apart, item) and _said_anew(question, item))):
            return Answer(question, item)
    older = [line for line in record.lines if line.status == "asked" and _soon(said_at - line.said_at, item)]
    named = [line for line in older if line.said_at < said_at and _said_anew(line, item)]
    return Answer(named[0], item) if len(named) == 1 else None


def _soon(apart: timedelta, item: Entry) -> bool:
    return apart < (AGAIN_WITHIN if item.kind in ADDED_UP else ANEW_WITHIN)


def _said_anew(question: Line, item: Entry) -> bool:
    """Whether only the numbers are others, or their unit: a dose in milligrams may be asked and meant in micrograms."""
    return {_about(candidate) for candidate in question.candidates} == {_about(item)} and item.number is not None


def _about(entry: Entry) -> tuple[str | None, ...]:
    word = None if entry.number is not None else str(entry.value)
    return entry.kind, entry.site, entry.detail, word


def asked_again(record: Record, said_at: datetime, item: Question) -> bool:
    """Whether this is the open question over again, at once: the same was said, and heard no better."""
    candidates = set(item.candidates)
    return any(
        timedelta(0) < said_at - question.said_at < AGAIN_WITHIN and set(question.candidates) == candidates
        for question in _open(record)
    )


def to_be_asked(
    tube: Tube, situation: TubeState, record: Record, said_at: datetime, item: Entry, sure: bool
) -> Question | None:
    """The question that an entry heard well still needs before it counts. `sure`: it was typed, or hardly can have
    been anything else."""
    sited = in_each_balloon(tube, situation, (item,))
    if sited != (item,):
        return Question(candidates=sited, why="word missing", text=WHICH_BALLOON)
    if item.kind == "volume_in" and any(_just_said(line, item, said_at) for line in record.lines[-10:]):
        return Question(candidates=(item,), why="unsure", text=AGAIN)
    return None if sure else _word_unsure(tube, situation, item)


def in_each_balloon(tube: Tube, situation: TubeState, candidates: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Entries that air or a pressure with no balloon named may be: the same in any of them, those that are up first."""
    if len(tube.balloons) < 2 or any(one.kind not in OF_A_BALLOON or one.site for one in candidates):
        return candidates
    sites = sorted(tube.balloons, key=lambda site: not situation.balloon(site).up)
    each = (one.model_copy(update={"site": site}) for one in candidates if one.number is not None for site in sites)
    return tuple(each) or candidates


def _word_unsure(tube: Tube, situation: TubeState, item: Entry) -> Question | None:
    """A word that would be grave if it was another: the name of a drug, "out" where it empties a balloon."""
    if item.kind == "drug":
        return Question(candidates=(item,), why="indistinct", text=NAME_UNSURE)
    if item.kind == "volume_out" and any(_emptied(situation, site, item) for site in tube.meant(item.site)):
        return Question(candidates=(item,), why="indistinct", text=EMPTIES)
    return None


def _emptied(situation: TubeState, site: str, out: Entry) -> bool:
    before = situation.balloon(site)
    return before.up and not filled_after(before, out).up


def _just_said(line: Line, item: Entry, said_at: datetime) -> bool:
    apart = said_at - line.said_at
    return line.status == "stands" and line.entry == item and timedelta(0) < apart < AGAIN_WITHIN


def surely_heard(origin: Origin) -> bool:
    """Whether words can hardly have been others: they were typed, or heard beyond doubt."""
    return origin.by == "typed" or origin.confidence >= SURELY_HEARD


def awaits_answer(course: Course, record: Record, now: datetime, speed: float) -> bool:
    """Whether the open question still waits for an answer, where the case's clock runs so many times as fast as the
    room's. While an emergency is up no other question does; once it is over it waits anew."""
    question = record.open_question
    if question is None or (emergency_is_up(course, record) and not may_call(question)):
        return False
    since = max(question.said_at, _emergency_over(record) or question.said_at)
    return now - since < ANSWER_WITHIN * speed


def _emergency_over(record: Record) -> datetime | None:
    """When an emergency was over, if nothing was said since."""
    newest = next(record.newest_first, None)
    return newest.said_at if newest is not None and ends_it(newest) else None
