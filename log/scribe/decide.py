"""From what was said to what becomes a fact: commands act on the record, entries join it, doubts become questions,
and the rules have their say after every line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from log.basics.entry import DENIED, QUERIES, Entry, InDoubt, Meaning, NotUnderstood, Number, Question, in_doubt
from log.definition.kinds import Group
from log.definition.procedure import Procedure
from log.facts.events import (
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    NotUnderstoodHeard,
    QuestionAnswered,
)
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record, evolve
from log.rules.course import Course
from log.scribe.correct import last_act, undone
from log.scribe.decided import Decided, checked
from log.scribe.questions import (
    NOT_OFFERED,
    STILL_OPEN,
    WHICH_BALLOON,
    answer_by_entry,
    answer_by_number,
    answer_by_place,
    asked_again,
    in_each_balloon,
    number_of,
    surely_heard,
    to_be_asked,
    with_number,
)

OF_A_BALLOON: tuple[Group, ...] = ("air", "pressure")
"""Kinds that "correct gastric to ..." can mean: an aspirate has the same site and unit, but is not in the balloon."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One utterance with its meaning."""

    meaning: Meaning
    said_at: datetime
    logged_at: datetime
    origin: Origin


def decide(course: Course, record: Record, heard: Heard) -> Decided:
    """Facts that follow from one utterance, findings included. `course` is that of `record`."""
    facts, after = _spoken(course, record, heard)
    return checked(course, Decided(facts, after, course.follow(record, after, facts)), heard.logged_at)


def _spoken(course: Course, record: Record, heard: Heard) -> tuple[tuple[Fact, ...], Record]:
    """The facts that the words come to, and the record with them: what is said next in one breath builds on it."""
    if isinstance(heard.meaning, NotUnderstood):
        missed = _missed(heard, heard.meaning.why, heard.meaning.nearest)
        return (missed,), evolve(record, missed)
    facts: list[Fact] = []
    for item in heard.meaning.items:
        for fact in _item(course, record, heard, item):
            facts.append(fact)
            record = evolve(record, fact)
    return tuple(facts), record


def _item(course: Course, record: Record, heard: Heard, item: Entry | Question) -> Iterator[Fact]:
    procedure = course.procedure
    kind = item.candidates[0].kind if isinstance(item, Question) else item.kind
    match kind:
        case _ if kind in QUERIES:
            return
        case "confirm" if isinstance(item, Question):
            yield _missed(heard, "unclear: say confirm again")
        case "undo" if isinstance(item, Entry):
            yield from _denied(record, heard) if item.value == DENIED else _strike(record, heard)
        case "restore" if isinstance(item, Entry):
            yield from _restore(record, heard)
        case "confirm":
            yield from _confirm(procedure, record, heard)
        case "number":
            yield from _answer(procedure, record, heard, item)
        case "which" if isinstance(item, Entry):
            yield from _place(procedure, record, heard, item.site)
        case "correct" if isinstance(item, Entry):
            yield from _correct(procedure, record, heard, item)
        case _ if isinstance(item, Question):
            sited = in_each_balloon(procedure.tube, course.end.situation, item.candidates)
            item = item.model_copy(update={"candidates": sited})
            again = asked_again(record, heard.said_at, item)
            yield _missed(heard, "still open: say the digits one by one") if again else _asked(record, heard, item)
        case _ if (answer := answer_by_entry(record, heard.said_at, item)) is not None:
            yield from _answered(procedure, record, heard, answer.question, answer.entry)
        case _:
            sure = surely_heard(heard.origin)
            ask = to_be_asked(procedure.tube, course.end.situation, record, heard.said_at, item, sure)
            yield _asked(record, heard, ask) if ask is not None else _logged(record, heard, item)


def _asked(record: Record, heard: Heard, question: Question) -> Fact:
    return EntryAsked(
        logged_at=heard.logged_at,
        number=record.next_number,
        candidates=question.candidates,
        reason=question.text,
        said_at=heard.said_at,
        origin=heard.origin,
    )


def _logged(record: Record, heard: Heard, entry: Entry) -> Fact:
    return EntryLogged(
        logged_at=heard.logged_at,
        number=record.next_number,
        entry=entry,
        said_at=heard.said_at,
        origin=heard.origin,
    )


def _missed(heard: Heard, reason: str, nearest: tuple[str, ...] = ()) -> Fact:
    return NotUnderstoodHeard(
        logged_at=heard.logged_at, said_at=heard.said_at, reason=reason, nearest=nearest, origin=heard.origin
    )


def _denied(record: Record, heard: Heard) -> Iterator[Fact]:
    """A "no": nothing that the open question offers was meant."""
    question = record.open_question
    if question is None:
        yield _missed(heard, "there is no open question to deny")
    else:
        yield _struck(heard, question.number, "denied by the operator")


def _strike(record: Record, heard: Heard) -> Iterator[Fact]:
    taking = record.taking
    noted = taking is not None and heard.said_at <= taking.until
    lines = [record.line(taking.number)] if taking is not None and noted else record.newest_first
    last = next((li for li in lines if li.status == "asked" or li.entry.kind not in ("correct", "undo")), None)
    if last is None:
        yield _missed(heard, "there is no entry to strike")
        return
    yield _struck(heard, last.number, "struck by the operator")


def _struck(heard: Heard, number: int, reason: str) -> Fact:
    return EntryStruck(
        logged_at=heard.logged_at, number=number, said_at=heard.said_at, reason=reason, origin=heard.origin
    )


def _restore(record: Record, heard: Heard) -> Iterator[Fact]:
    """Takes back what was struck, corrected, entered late or acknowledged last."""
    act = last_act(record)
    if act is None:
        yield _missed(heard, "there is nothing to put back")
    else:
        yield undone(act, heard.logged_at, heard.said_at, "put back by the operator", heard.origin)


def _confirm(procedure: Procedure, record: Record, heard: Heard) -> Iterator[Fact]:
    question = record.open_question
    if question is None:
        yield _missed(heard, "there is no open question to confirm")
        return
    if len({one.site for one in question.candidates}) > 1:
        yield _missed(heard, f"still open: say {WHICH_BALLOON}")
        return
    yield from _answered(procedure, record, heard, question, question.candidates[0])


def _place(procedure: Procedure, record: Record, heard: Heard, site: str | None) -> Iterator[Fact]:
    """The place alone answers the question that offers it."""
    answer = answer_by_place(record, site)
    if answer is None:
        yield _missed(heard, STILL_OPEN if record.open_question is not None else "a place, but no question is open")
        return
    yield from _answered(procedure, record, heard, answer.question, answer.entry)


def _answer(procedure: Procedure, record: Record, heard: Heard, item: Entry | Question) -> Iterator[Fact]:
    """A bare number answers the question that offers it."""
    question = record.open_question
    if question is None:
        yield _missed(heard, "a number, but no question is open")
        return
    if isinstance(item, Question) and len(item.candidates) == 1:  # no sound-alike: the hearing itself was in doubt
        yield _missed(heard, "unclear: say the digits again")
        return
    answer = answer_by_number(record, item.candidates if isinstance(item, Question) else (item,))
    if answer == STILL_OPEN and isinstance(item, Entry) and _could_be(procedure, question, item.number):
        yield from _asked_anew(record, heard, question, item.number)
        return
    if isinstance(answer, str):
        yield _missed(heard, answer)
        return
    yield from _answered(procedure, record, heard, answer.question, answer.entry)


def _could_be(procedure: Procedure, question: Line, number: Number | None) -> bool:
    doubtful = in_doubt(question.candidates)
    return number not in {number_of(one, doubtful) for one in question.candidates} and _fits(
        procedure, question, number, doubtful
    )


def _asked_anew(record: Record, heard: Heard, question: Line, number: Number | None) -> Iterator[Fact]:
    """Another number than the question offered is no answer, but a question in its place."""
    struck = EntryStruck(
        logged_at=heard.logged_at,
        number=question.number,
        said_at=heard.said_at,
        reason=NOT_OFFERED,
        origin=heard.origin,
    )
    yield struck
    anew = _asked(record, heard, with_number(question, number))
    yield anew.model_copy(update={"said_at": question.said_at})


def _answered(procedure: Procedure, record: Record, heard: Heard, question: Line, entry: Entry) -> Iterator[Fact]:
    fact = QuestionAnswered(
        logged_at=heard.logged_at, number=question.number, entry=entry, said_at=heard.said_at, origin=heard.origin
    )
    yield fact
    if entry.kind == "correct":
        yield from _correct(procedure, evolve(record, fact), heard, entry)
    if entry.kind == "undo":
        yield from _strike(evolve(record, fact), heard)


def _correct(procedure: Procedure, record: Record, heard: Heard, correction: Entry) -> Iterator[Fact]:
    """Gives the newest line that is meant another value; what it was stays in the record."""
    target = next((line for line in record.newest_first if _meant(procedure, line, correction)), None)
    if target is None:
        yield _missed(heard, "there is no entry that this could correct")
        return
    if not _fits(procedure, target, correction.number):
        reason = (
            f"{correction.number:g} does not fit line {target.number}" if correction.number is not None else "no number"
        )
        yield _missed(heard, reason)
        return
    entry = target.entry.model_copy(update={"value": correction.number})
    if target.status == "asked" and in_doubt(target.candidates) != "value":  # its value is not all that is in doubt
        yield _missed(heard, f"line {target.number} is still open: say it again, every digit by itself")
        return
    if target.status == "asked":
        yield from _answered(procedure, record, heard, target, entry)
        return
    yield EntryAmended(
        logged_at=heard.logged_at,
        number=target.number,
        entry=entry,
        said_at=heard.said_at,
        reason="corrected by the operator",
        origin=heard.origin,
    )


def _meant(procedure: Procedure, line: Line, correction: Entry) -> bool:
    if line.entry.number is None or line.entry.kind == "correct":
        return False
    in_a_balloon = procedure.traits(line.entry.kind).group in OF_A_BALLOON
    if correction.site is not None and (line.entry.site != correction.site or not in_a_balloon):
        return False
    return correction.unit is None or line.entry.unit == correction.unit


def _fits(procedure: Procedure, line: Line, value: Number | None, which: InDoubt = "value") -> bool:
    """Whether a value can be said at all where this line has its number."""
    if line.entry.kind == "correct":
        return value is not None  # whether it fits the line it corrects is seen once that is known
    slot = procedure.slot_of(line.entry, "second" if which == "second" else "value")
    if value is None or slot is None:
        return False
    low, high = slot.said
    return low <= value <= high
