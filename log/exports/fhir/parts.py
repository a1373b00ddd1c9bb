"""The small pieces every FHIR resource is made of: references, codes, quantities, times and narrative.

Everything that somebody said or typed passes through `clean`, so that no word can become markup or steer a terminal.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from log.basics.entry import Number
from log.basics.units import ucum
from log.basics.visible import visible
from log.exports.document import Block, Paragraph
from log.exports.html import for_narrative
from log.facts.line import Line
from log.facts.simulation import MARK
from log.store.identifiers import Identifiers
from log.summaries.whole import Whole
from log.words.wording import elapsed, figure, stamp

Json = dict[str, Any]

LOCAL = "urn:tamponade-log"
"""Beginning of all our own systems: a name, not an address, for we own no web domain to put one under."""

UNITS = "http://unitsofmeasure.org"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
ACT_REASON = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")
"""The codes we write. FHIR allows a little more (single spaces inside); text is kept whatever it is."""

_UCUM_CODE = re.compile(r"[!-~]+")
"""UCUM codes are printable ASCII without spaces."""

_FURTHEST_OFFSET = timedelta(hours=14)
_A_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Draft:
    """A case on its way out: what its parts are called, and how much of its times may be shown."""

    case: Whole
    seed: str
    """The seed of all names: the same seed gives the same names."""

    @property
    def identifiers(self) -> Identifiers:
        """Patient and people, as far as they may be named."""
        return Identifiers() if self.case.deidentified else self.case.identifiers

    @property
    def meta(self) -> Json | None:
        """The mark of a rehearsal on each resource, for machines: HTEST is HL7's code for it."""
        if not self.case.simulation:
            return None
        return {
            "security": [{"system": ACT_REASON, "code": "HTEST", "display": "test health data"}],
            "tag": [{"system": f"{LOCAL}:simulation", "code": "simulation", "display": MARK}],
        }

    def url(self, name: str) -> str:
        """The address of a part of this case, the same in every export of it."""
        return f"urn:uuid:{uuid5(NAMESPACE_URL, f'{LOCAL}/{self.seed}/{name}')}"

    def ref(self, name: str, display: str = "") -> Json:
        """A reference to a part."""
        return {"reference": self.url(name), "display": display}

    def of_its_tube(self, name: str, line: Line) -> Json:
        """A reference to a part of the tube that a line is about."""
        return self.ref(of_tube(name, self.case.course.stage(line).after.situation.number))

    def when(self, moment: datetime) -> str:
        """A FHIR dateTime; of a case without identity the year alone."""
        return f"{moment.year:04d}" if self.case.deidentified else instant(moment)

    def exactly(self, moment: datetime) -> str | None:
        """A FHIR instant, which cannot be a year alone: None for a case without identity."""
        return None if self.case.deidentified else instant(moment)

    def since_opening(self, moment: datetime) -> float:
        """Seconds since the log was opened."""
        return round((moment - self.case.opened.logged_at).total_seconds(), 3)

    def in_words(self, moment: datetime) -> str:
        """A time for readers: with its date, or counted from the opening of the log."""
        if self.case.deidentified:
            return f"{elapsed(self.case.opened.logged_at, moment)} after the log was opened"
        return stamp(moment)


def of_tube(name: str, number: int) -> str:
    """The name of a part of one tube inside the bundle. That of the first is bare, as it is where there is only one."""
    return name if number == 1 else f"{name}/{number}"


def instant(moment: datetime) -> str:
    """Date, time to the millisecond and offset. An offset that FHIR cannot write (beyond 14 h, or with seconds, as
    old local times have) becomes UTC."""
    offset = moment.utcoffset() or timedelta()
    writable = abs(offset) <= _FURTHEST_OFFSET and not offset % _A_MINUTE
    return (moment if writable else moment.astimezone(UTC)).isoformat(timespec="milliseconds")


def concept(system: str, code: str, text: str) -> Json:
    """A concept in one of our own systems, with its text; the text alone if `code` cannot be a code."""
    display = named(text, code)
    coding = {"system": f"{LOCAL}:{system}", "code": code, "display": display}
    return {"coding": [coding] if _CODE.fullmatch(code) else [], "text": display}


def identifier(system: str, value: str) -> Json:
    """An identifier in one of our own systems."""
    return {"system": f"{LOCAL}:{system}", "value": value}


def quantity(value: Number, unit: str | None) -> Json:
    """An amount with its UCUM code; the room's word for the unit alone if that cannot be a code."""
    exact = int(value) if isinstance(value, int) else float(figure(value))
    code = ucum(unit)
    return {"value": exact, "unit": unit, **({"system": UNITS, "code": code} if _UCUM_CODE.fullmatch(code) else {})}


def absent(code: str, text: str) -> Json:
    """Why there is no value."""
    return {"coding": [{"system": ABSENT, "code": code}], "text": text}


def named(*texts: str) -> str:
    """The first of these texts that is not blank, for where FHIR has to have one."""
    return next((text for text in texts if text.strip()), "not said")


def clean(value: Any) -> Any:
    """The same without empty parts, which FHIR forbids, and with every text harmless and in one line."""
    match value:
        case str():
            return visible(value).strip()
        case dict():
            kept = {name: clean(part) for name, part in value.items()}
            return {name: part for name, part in kept.items() if not _empty(part)}
        case list() | tuple():
            return [part for part in map(clean, value) if not _empty(part)]
        case _:
            return value


def _empty(value: Any) -> bool:
    return value is None or (isinstance(value, str | dict | list) and not value)


def narrative(*blocks: Block, status: str = "generated") -> Json:
    """Text for readers. `status`: "generated" from the resource alone, or "additional" where it says more."""
    return {"status": status, "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{for_narrative(blocks)}</div>'}


def paragraphs(*texts: str) -> Json:
    """A narrative of these paragraphs."""
    return narrative(*map(Paragraph, texts))
