"""One line as it is read back: its words, its figures large and digit by digit, and what can be answered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from log.basics.entry import Entry, InDoubt, in_doubt
from log.facts.line import Line
from log.facts.record import Record
from log.rules.course import Course
from log.words.totals import led_to
from log.words.wording import figure, named_amount, shown
from voice.english.numbers import UNITS, spell_digits

Standing = Literal["STANDS", "ASKED", "STRUCK", "AMENDED", "ANSWERED"]


@dataclass(frozen=True, slots=True)
class LastEntry:
    """The newest line, to be read back."""

    number: int
    what: str
    """ "gastric · volume in"."""
    value: str
    """ "50 mL", "90/60 mmHg", "fentanyl · 50 microgram", or the word."""
    large: str
    """The figures alone, "50" or "90/60", or "" where the value is a word."""
    unit: str
    """The text beside the figures: "mL", "mmHg at 100 mL"."""
    digits: str
    """ "five-zero", "nine-zero over six-zero"."""
    total: str
    standing: Standing
    answers: tuple[str, ...] = ()
    """Answers to an open question, each with its meaning."""
    reason: str = ""
    readings: tuple[str, ...] = ()
    """Of an open question, each figure or word that it may be: ("50", "15")."""


def last_entry(course: Course, record: Record, number: int | None = None) -> LastEntry | None:
    """The line of this number, or the one that was touched last, as it is read back."""
    if not record.lines:
        return None
    line = record.line(number) if number is not None else record.open_question or record.lines[-1]
    entry = line.entry
    step = course.stage(line).step if line.status == "stands" else None
    return LastEntry(
        line.number,
        " · ".join(_what(course, entry)),
        named_amount(course.procedure, entry).replace("_", " "),
        _large(entry),
        _beside(entry),
        digits(entry),
        led_to(course.procedure, step) if step else "",
        _standing(line),
        tuple(answers(line)) if line.status == "asked" else (),
        line.reason if line.status == "asked" else "",
        tuple(readings(line)) if line.status == "asked" else (),
    )


def _what(course: Course, entry: Entry) -> Iterator[str]:
    title = course.procedure.title_of(entry.kind).lower()
    if entry.site == "both":
        yield "both balloons"
    elif entry.site:
        yield entry.site
    if (entry.site, entry.kind) != ("both", "balloon"):
        yield title
    if entry.detail:
        yield entry.detail


def readings(line: Line) -> Iterator[str]:
    """The answers to an open question, each once: the figures, or where these are the same the places or words."""
    figures = dict.fromkeys(map(_large, line.candidates))
    if len(line.candidates) > 1 and len(figures) == 1:
        yield from dict.fromkeys(one.site or shown(one).replace("_", " ") for one in line.candidates)
    else:
        yield from (text or shown(line.entry).replace("_", " ") for text in figures)


def is_pair(entry: Entry) -> bool:
    """Whether its two numbers are of one kind, as in a blood pressure of 90/60."""
    return entry.number is not None and entry.second is not None and entry.unit == entry.second_unit


def _large(entry: Entry) -> str:
    if entry.number is None:
        return ""
    return f"{figure(entry.number)}/{figure(entry.second or 0)}" if is_pair(entry) else figure(entry.number)


def _beside(entry: Entry) -> str:
    return entry.unit or "" if is_pair(entry) else shown(entry.model_copy(update={"value": None}))


def digits(entry: Entry) -> str:
    """The digits of its numbers, one by one: "nine-zero over six-zero", "one-two at one-zero-zero"."""
    spelt = [spell_digits(number) for number in (entry.number, entry.second) if number is not None]
    return (" over " if is_pair(entry) else " at ").join(spelt)


def answers(line: Line) -> Iterator[str]:
    """Answers to an open question: the digits are those of the number that is in doubt."""
    first, *others = line.candidates
    if len({one.site for one in line.candidates}) > 1:
        yield from (
            f'"{" ".join(filter(None, (one.site, one.kind.replace("_", " "), said_digits(one))))}"'
            for one in line.candidates
        )
        return
    if first.number is None and first.second is None:
        yield '"confirm", or "scratch that"'
        return
    yield f'"confirm" for {shown(first)}'
    doubtful = in_doubt(line.candidates)
    if doubtful == "both":
        yield "or say it again, every digit by itself"
        return
    for other in others:
        yield f'"{said_digits(other, doubtful)}" for {shown(other)}'
    if not others:
        yield "or the right digits"


def said_digits(entry: Entry, which: InDoubt = "value") -> str:
    """A number as it can be answered: parts of a kilo are said in grams."""
    number = (entry.second if which == "second" else entry.number) or 0
    if which == "value" and entry.unit == "kg" and number % 0.5:
        number = round(number * 1000)
    return " ".join(UNITS[int(sign)] if sign.isdigit() else "point" for sign in f"{number:g}")


def _standing(line: Line) -> Standing:
    if line.status != "stands":
        return "ASKED" if line.status == "asked" else "STRUCK"
    if line.holding:
        return "AMENDED" if line.holding[-1].what == "amended" else "ANSWERED"
    return "STANDS"
