"""From what was said to what becomes a fact: commands act on the record, entries join it, doubts become questions,
and the rules have their say after every line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from log.basics.entry import QUERIES, Entry, InDoubt, Meaning, NotUnderstood, Number, Question, in_doubt
from log.definition.kinds import Group
from log.definition.procedure import Procedure
from log.facts.events import (
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    NotUnderstoodHeard,
    QuestionAnswered,
)
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record, evolve
from log.rules.course import Course
from log.scribe.decided import Decided, checked

OF_A_BALLOON: tuple[Group, ...] = ("air", "pressure")
"""What "correct gastric to ..." can mean: an aspirate has the same site and unit, but is not in the balloon."""

BOTH_IN_DOUBT = "two numbers are in doubt: say it again, every digit by itself"


@dataclass(frozen=True, slots=True)
class Heard:
    """One utterance with its meaning."""

    meaning: Meaning
    said_at: datetime
    logged_at: datetime
    origin: Origin


def decide(course: Course, record: Record, heard: Heard) -> Decided:
    """Facts that follow from one utterance, findings included. `course` is that of `record`."""
    facts, after = _spoken(course.procedure, record, heard)
    return checked(course, Decided(facts, after, course.follow(record, after, facts)), heard.logged_at)


def _spoken(procedure: Procedure, record: Record, heard: Heard) -> tuple[tuple[Fact, ...], Record]:
    """The facts that the words come to, and the record with them: what is said next in one breath builds on it."""
    if isinstance(heard.meaning, NotUnderstood):
        missed = _missed(heard, heard.meaning.why, heard.meaning.nearest)
        return (missed,), evolve(record, missed)
    facts: list[Fact] = []
    for item in heard.meaning.items:
        for fact in _item(procedure, record, heard, item):
            facts.append(fact)
            record = evolve(record, fact)
    return tuple(facts), record


def _item(procedure: Procedure, record: Record, heard: Heard, item: Entry | Question) -> Iterator[Fact]:
    kind = item.candidates[0].kind if isinstance(item, Question) else item.kind
    match kind:
        case _ if kind in QUERIES:
            return
        case "confirm" if isinstance(item, Question):
            yield _missed(heard, "unclear: say confirm again")
        case "undo" if isinstance(item, Entry):
            yield from _strike(record, heard)
        case "restore" if isinstance(item, Entry):
            yield from _restore(record, heard)
        case "confirm":
            yield from _confirm(procedure, record, heard)
        case "number":
            yield from _answer(procedure, record, heard, item)
        case "correct" if isinstance(item, Entry):
            yield from _correct(procedure, record, heard, item)
        case _ if isinstance(item, Question):
            yield EntryAsked(
                logged_at=heard.logged_at,
                number=record.next_number,
                candidates=item.candidates,
                reason=item.text,
                said_at=heard.said_at,
                origin=heard.origin,
            )
        case _ if (question := record.open_question) is not None and _said_again(question, heard, item):
            yield from _answered(procedure, record, heard, question, item)
        case _:
            yield EntryLogged(
                logged_at=heard.logged_at,
                number=record.next_number,
                entry=item,
                said_at=heard.said_at,
                origin=heard.origin,
            )


def _missed(heard: Heard, reason: str, nearest: tuple[str, ...] = ()) -> Fact:
    return NotUnderstoodHeard(
        logged_at=heard.logged_at, said_at=heard.said_at, reason=reason, nearest=nearest, origin=heard.origin
    )


def _strike(record: Record, heard: Heard) -> Iterator[Fact]:
    taking = record.taking
    noted = taking is not None and heard.said_at <= taking.until
    lines = [record.line(taking.number)] if taking is not None and noted else record.newest_first
    last = next((li for li in lines if li.status == "asked" or li.entry.kind not in ("correct", "undo")), None)
    if last is None:
        yield _missed(heard, "there is no entry to strike")
        return
    yield EntryStruck(
        logged_at=heard.logged_at,
        number=last.number,
        said_at=heard.said_at,
        reason="struck by the operator",
        origin=heard.origin,
    )


def _restore(record: Record, heard: Heard) -> Iterator[Fact]:
    """Puts back what was struck last."""
    struck = [line for line in record.lines if line.status == "struck"]
    if not struck:
        yield _missed(heard, "nothing is struck")
        return
    last = max(struck, key=lambda line: (line.changes[-1].at, line.number))
    yield EntryRestored(
        logged_at=heard.logged_at,
        number=last.number,
        said_at=heard.said_at,
        reason="put back by the operator",
        origin=heard.origin,
    )


def _confirm(procedure: Procedure, record: Record, heard: Heard) -> Iterator[Fact]:
    question = record.open_question
    if question is None:
        yield _missed(heard, "there is no open question to confirm")
        return
    yield from _answered(procedure, record, heard, question, question.candidates[0])


def _answer(procedure: Procedure, record: Record, heard: Heard, item: Entry | Question) -> Iterator[Fact]:
    """A bare number answers the newest question if it names one of its candidates, or beyond doubt another value."""
    question = record.open_question
    if question is None:
        yield _missed(heard, "a number, but no question is open")
        return
    if isinstance(item, Question) and len(item.candidates) == 1:  # no sound-alike: the hearing itself was in doubt
        yield _missed(heard, "unclear: say the digits again")
        return
    said = item.candidates if isinstance(item, Question) else (item,)
    doubtful = in_doubt(question.candidates)
    if doubtful == "both":
        yield _missed(heard, BOTH_IN_DOUBT)
        return
    numbers = {entry.number for entry in said}
    if question.entry.unit == "kg":  # said in grams as well
        numbers |= {entry.number / 1000 for entry in said if entry.number is not None and entry.number >= 100}
    fitting = [candidate for candidate in question.candidates if _number(candidate, doubtful) in numbers]
    if len(fitting) == 1:
        yield from _answered(procedure, record, heard, question, fitting[0])
    elif not fitting and isinstance(item, Entry) and _fits(procedure, question, item.number, doubtful):
        changed = question.entry.model_copy(update={doubtful: item.number})
        yield from _answered(procedure, record, heard, question, changed)
    else:
        yield _missed(heard, "still open: say the digits one by one")


def _number(entry: Entry, which: InDoubt) -> Number | None:
    return entry.second if which == "second" else entry.number


def _said_again(question: Line, heard: Heard, item: Entry) -> bool:
    """Whether an entry is the one that was asked, said anew as the question demands: only its numbers are others."""
    if in_doubt(question.candidates) != "both" or question.said_at == heard.said_at:
        return False
    return item.model_copy(update={"value": question.entry.value, "second": question.entry.second}) == question.entry


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
