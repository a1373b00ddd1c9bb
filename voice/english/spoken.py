"""Entries, questions and strikes as the read-back says them aloud: every number is followed by its digits, and the lead
word, which would address the log, is never said.
"""

from __future__ import annotations

from log.basics.entry import Entry, Number, Value
from log.basics.patterns import Level
from log.basics.units import UNITS
from log.definition.procedure import Procedure
from voice.english.numbers import LARGEST, half_forms, natural_forms, sound_alikes
from voice.english.numbers import UNITS as DIGITS

MOST_WORDS = 5
"""Of a finding: the screen has the rest."""

ACCENT = "en-gb"
"""The synthesiser's name for the accent in which all this is said."""


def spoken(procedure: Procedure, entry: Entry) -> str:
    """An entry, never a command, as it is said aloud: "gastric volume in fifty, five zero, millilitres"."""
    value, detail = _value(entry), entry.detail or ""
    said = (detail, value) if _named(procedure, entry) else (value, detail)
    parts = [entry.site or "", procedure.title_of(entry.kind).lower(), *said]
    return _without_lead_word(procedure, " ".join(part for part in parts if part))


DIRECTIONS = {"volume_in": "in", "volume_out": "out"}


def spoken_short(procedure: Procedure, entry: Entry, total: Number | None) -> str:
    """An entry as it is read back in the room, without units: "fifty, five zero in, gastric, two hundred total".

    `total`: millilitres in the balloon afterwards, where that is certain. The digits are said where the number has a
    sound-alike: the read-back has to tell fifty from fifteen.
    """
    if entry.number is None or entry.second is not None:
        return spoken(procedure, entry)
    words = _number(entry.number).partition(",")[0]
    number = _number(entry.number) if sound_alikes(tuple(words.split())) else words
    if entry.kind in DIRECTIONS and entry.site:
        leads = f", {_number(total).partition(',')[0]} total" if total is not None else ""
        return _without_lead_word(procedure, f"{number} {DIRECTIONS[entry.kind]}, {entry.site}{leads}")
    if entry.kind == "pressure" and entry.site:
        return _without_lead_word(procedure, f"{entry.site} pressure {number}")
    return spoken(procedure, entry)


def spoken_finding(level: Level, about: str) -> str:
    """A finding in a few words: "high: oesophageal pressure out of range"."""
    return f"{level}: {' '.join(about.replace('_', ' ').replace('-', ' ').split()[:MOST_WORDS])}"


def spoken_question(procedure: Procedure, candidates: tuple[Entry, ...]) -> str:
    """A question aloud: "gastric volume in: did you say fifty, five zero, or fifteen, one five?"."""
    first = candidates[0]
    sites = dict.fromkeys(entry.site or "not said" for entry in candidates)
    if len(sites) > 1:
        what = f"{procedure.title_of(first.kind).lower()} {_value(first)}"
        return _without_lead_word(procedure, f"{what}: which one, {', or '.join(sites)}?")
    name = first.detail if _named(procedure, first) else None
    about = " ".join(part for part in (first.site, procedure.title_of(first.kind).lower(), name) if part)
    values = [_value(entry, unit=False) or entry.detail or "that" for entry in candidates]
    return _without_lead_word(procedure, f"{about}: did you say {', or '.join(dict.fromkeys(values))}?")


def spoken_strike(procedure: Procedure, entry: Entry) -> str:
    """A struck entry aloud."""
    return f"struck: {spoken(procedure, entry)}"


def spoken_words(procedure: Procedure, text: str) -> str:
    """Words that are no entry, aloud."""
    return _without_lead_word(procedure, text)


def _named(procedure: Procedure, entry: Entry) -> bool:
    """Whether its detail says what is measured or given, so that it comes before the number."""
    said = entry.number is not None and entry.detail is not None
    return said and procedure.traits(entry.kind).group in ("given", "vital")


def _value(entry: Entry, unit: bool = True) -> str:
    """The value as it is said, with the number that was said beside it: "ninety, nine zero, over sixty, six zero"."""
    first, own = _amount(entry.value, entry.unit)
    if entry.second is None:
        return first + (f", {own}" if unit and own else "")
    second, other = _amount(entry.second, entry.second_unit)
    if entry.number is not None and entry.unit == entry.second_unit:
        return f"{first}, over {second}" + (f", {own}" if unit and own else "")
    parts = (first, own if unit else "", f"at {second}", other if unit else "")
    return ", ".join(part for part in parts if part)


def _amount(value: Value, unit: str | None) -> tuple[str, str]:
    """A value and its unit, as they are said."""
    if not isinstance(value, int | float):
        return (str(value).replace("_", " ") if value is not None else ""), ""
    if unit == "kg" and value % 0.5:
        return _number(round(value * 1000)), "grams"
    return _number(value), _unit(unit)


def _unit(unit: str | None) -> str:
    """A unit as it is said; one that is not in the table as it is written."""
    return UNITS[unit].said if unit and unit in UNITS else unit or ""


def _number(number: Number) -> str:
    """A number and its digits, one by one where there are several: 50 -> "fifty, five zero"."""
    figures = f"{number:.3f}".rstrip("0").rstrip(".")
    names = {".": "point", "-": "minus"}
    digits = " ".join(names[sign] if sign in names else DIGITS[int(sign)] for sign in figures)
    whole, half = int(number), number % 1 == 0.5
    if not 0 <= number <= LARGEST or not (number % 1 == 0 or half):
        return digits
    words = next(iter(half_forms(whole) if half else natural_forms(whole)))
    return words if words == digits else f"{words}, {digits}"


def _without_lead_word(procedure: Procedure, text: str) -> str:
    """A hospital's own titles may hold the lead word; spoken aloud it would address the log."""
    return " ".join(word for word in text.split() if procedure.lead_word not in word.lower())
