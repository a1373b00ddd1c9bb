"""A case without anything that shows whose it was: for teaching, audit and research outside the hospital.

It follows the Safe Harbor list of 45 CFR 164.514(b)(2): elapsed times stand in place of dates (the year may stay),
names, serial numbers, voices, fingerprints and every other unique code are left out, and free text is withheld or,
where it is wanted, kept with a mark so that somebody reads it first. Whether what remains could still identify a
person is for a person to judge: a rare procedure in a small place may.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any, Literal

from log.basics.entry import Entry
from log.definition.load import shipped
from log.definition.procedure import Procedure
from log.facts.events import Fact, to_plain
from log.facts.origin import Origin
from log.facts.record import fold
from log.rehearsal.load import read_scenario, scenarios
from log.rules.course import course_of
from log.rules.definitions import read_procedure
from log.store.chain import Link, canonical
from log.store.identifiers import Identifiers
from log.summaries.whole import Whole
from log.words.wording import duration, without_date

Treatment = Literal[
    "keep", "time", "done", "drop", "code", "text", "word", "author", "origin", "entry", "entries", "scenario"
]

FIELDS: Mapping[str, Treatment] = {
    "fact": "keep",
    "logged_at": "time",
    "said_at": "time",
    "began_at": "time",
    "happened_at": "time",
    "case": "drop",  # a case is usually named by date and time
    "label": "text",
    "definition": "drop",
    "definition_sha256": "drop",
    "override_approved_by": "drop",
    "override_approved_on": "drop",
    "software": "keep",
    "source": "drop",  # a file's name
    "author": "author",
    "keep_sound": "keep",
    "public_key": "drop",
    "signature_before": "drop",
    "clock_set_back_s": "keep",
    "by_s": "done",  # the times of this export are corrected already
    "moves": "keep",
    "number": "keep",
    "entry": "entry",
    "candidates": "entries",
    "origin": "origin",
    "reason": "text",
    "text": "text",
    "late_reason": "text",
    "nearest": "keep",  # phrases of the definition
    "rule": "keep",
    "level": "keep",
    "message": "keep",  # the definition's words and numbers
    "how": "keep",
    "ended": "keep",
    "by": "keep",
    "seconds": "keep",
    "facts": "keep",
    "mode": "keep",
    "lead_word": "word",
    "sha256": "code",
    "engine": "keep",
    "difference": "keep",
    "differs": "keep",
    "taken": "keep",
    "simulation": "scenario",
    "event": "scenario",
    "because": "keep",
    "told": "text",
    "hidden": "keep",
    "shows": "entries",
    "speed": "keep",
}
"""The treatment of each field of a fact. Every field has to be here."""

ROLES = frozenset({"", "operator", "assistant", "scribe", "anaesthetist", "nurse", "physician"})
"""Authors that are no names."""

OUR_WORDS = frozenset(
    {
        "",
        "struck by the operator",
        "denied by the operator",
        "put back by the operator",
        "corrected by the operator",
        "end of typing",
        "end of the recording",
        "end of the rehearsal",
        "stopped before the end of the recording",
        "the program had ended without closing the case",
        "replaced by a newer one",
        "end of the correction",
        "end of the second hearing",
        "heard again",
        "kept long enough",
        "muted while the read-back was spoken",
        "muted while a line was played",
        "deaf while the read-back was spoken",
        "deaf while a line was played",
    }
)
"""Reasons that this program writes by itself, or wrote into older cases."""

WITHHELD = "[free text withheld]"
CHECK = "[free text: check before passing on]"
NO_CODE = "0" * 64


@dataclass
class Withheld:
    """An account of what was left out and what somebody has to look at."""

    texts: int = 0
    sounds: int = 0
    authors: dict[str, str] = field(default_factory=dict)
    kept_texts: bool = False
    own_definition: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """For the person who passes the export on."""
        free = "kept and marked: read each before you pass this on" if self.kept_texts else "withheld"
        found = [
            f"{self.texts} free texts {free}",
            f"{self.sounds} links to sound left out",
            f"{len(self.authors)} authors given numbers",
        ]
        if self.own_definition:
            found.append("the definition is not a shipped one: see whether its words name a place")
        return (*found, "whether what remains could identify somebody is yours to judge")


def deidentified(case: Whole, keep_free_text: bool = False) -> tuple[Whole, Withheld]:
    """The case without identity, and what was withheld."""
    withheld = Withheld(kept_texts=keep_free_text, own_definition=not _shipped(case.procedure))
    remover = _Remover(case, withheld)
    facts = tuple(map(remover.fact, case.facts))
    record = fold(facts)
    assert record.opened is not None
    return (
        replace(
            case,
            opened=record.opened,
            record=record,
            course=course_of(case.procedure, record),
            links=tuple(
                Link(link.seq, None, fact, canonical({**_plain(fact), "seq": link.seq}))
                for link, fact in zip(case.links, facts, strict=True)
            ),
            head=None,
            identifiers=Identifiers(),
            until=remover.moment(case.until),
            deidentified=True,
        ),
        withheld,
    )


@dataclass
class _Remover:
    case: Whole
    withheld: Withheld

    @cached_property
    def known_words(self) -> frozenset[str]:
        """Every word of the definition."""
        return frozenset(_texts(self.case.procedure.model_dump(mode="json")))

    @cached_property
    def scenario_words(self) -> frozenset[str]:
        """The names of the shipped scenarios and of what happens in them, read where a simulation asks for them."""
        found = map(read_scenario, scenarios())
        return frozenset(name for one in found for name in (one.id, *(event.id for event in one.event)))

    def fact(self, fact: Fact) -> Fact:
        """The same fact without identity."""
        changed = {name: self._treated(FIELDS[name], getattr(fact, name)) for name in type(fact).model_fields}
        return fact.model_copy(update=changed)

    def moment(self, moment: datetime) -> datetime:
        """The time as it counts from the opening of the log."""
        return without_date(self.case.opened.logged_at, moment)

    def _treated(self, treatment: Treatment, value: Any) -> Any:
        if value is None:
            return None
        match treatment:
            case "keep":
                return value
            case "time":
                return self.moment(value)
            case "drop":
                return ""
            case "done":
                return 0
            case "code":
                return NO_CODE if isinstance(value, str) else (NO_CODE,) * len(value)
            case "text":
                return self._text(value)
            case "word":
                return value if not value or self._known(value) else self._text(value)
            case "author":
                return self._author(value)
            case "origin":
                return self._origin(value)
            case "entry":
                return self._entry(value)
            case "entries":
                return tuple(self._entry(entry) for entry in value)
            case "scenario":
                return value if not value or value in self.scenario_words else self._text(value)

    def _text(self, text: str) -> str:
        if text in OUR_WORDS:
            return text
        self.withheld.texts += 1
        return f"{CHECK} {text}" if self.withheld.kept_texts else WITHHELD

    def _author(self, author: str) -> str:
        if author in ROLES:
            return author
        return self.withheld.authors.setdefault(author, f"person {len(self.withheld.authors) + 1}")

    def _origin(self, origin: Origin) -> Origin:
        """An engine hears only words of the definition; typed text is free."""
        self.withheld.sounds += origin.sound is not None
        heard = self._text(origin.heard) if origin.by == "typed" else origin.heard
        return origin.model_copy(update={"author": self._author(origin.author), "heard": heard, "sound": None})

    def _entry(self, entry: Entry) -> Entry:
        """Words that the definition does not know are free text, wherever they stand."""
        named = {name: getattr(entry, name) for name in ("kind", "site", "value", "unit", "detail", "second_unit")}
        free = {
            name: self._text(text) for name, text in named.items() if isinstance(text, str) and not self._known(text)
        }
        return entry.model_copy(update=free)

    def _known(self, text: str) -> bool:
        return text in self.known_words or text in ("both", "mmHg")


def _texts(plain: Any) -> list[str]:
    """Every string in a definition, keys included."""
    if isinstance(plain, str):
        return [plain]
    if isinstance(plain, dict):
        return [*plain, *(text for value in plain.values() for text in _texts(value))]
    return [text for value in plain for text in _texts(value)] if isinstance(plain, list) else []


def _plain(fact: Fact) -> dict[str, Any]:
    """JSON's own types, with times as the duration since the log was opened."""
    plain = to_plain(fact)
    for name in type(fact).model_fields:
        value = getattr(fact, name)
        if isinstance(value, datetime):
            plain[name] = duration(value)
    return plain


def _shipped(procedure: Procedure) -> bool:
    return procedure.id in shipped() and read_procedure(procedure.id) == procedure
