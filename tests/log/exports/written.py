"""What each format writes of each case, once for all tests: the pages of a long case take seconds to set and read."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cache

from pydantic import TypeAdapter
from pypdf import PdfReader

from log.basics.entry import Entry
from log.exports import FORMATS
from log.exports.deidentify import deidentified
from log.facts import events
from log.facts.events import CaseClosed, Fact, FactBase, SimulationPlayed
from log.facts.origin import Origin, Sound
from log.facts.record import fold
from log.summaries.whole import Whole
from tests.cases import (
    BEGAN,
    GOOD,
    SIGNER,
    Spoken,
    case_of,
    entry,
    facts_of,
    good_case,
    hostile_case,
    long_case,
    whole_of,
)

FILM = "X-ray is back: the gastric balloon lies below the diaphragm."


def rehearsed(lines: int | None = None) -> Whole:
    """The good case as a rehearsal, with two events, one of them hidden."""
    facts = facts_of(GOOD[:lines], simulation="straightforward")
    shows = (Entry(kind="xray", value="confirmed"),)
    film = SimulationPlayed(
        logged_at=BEGAN + timedelta(seconds=2300), event="film", said_at=BEGAN + timedelta(seconds=650), told=FILM,
        shows=shows, speed=60,
    )  # fmt: skip
    slip = film.model_copy(update={"event": "slip", "told": "The mark slips.", "hidden": True, "shows": ()})
    closed = CaseClosed(logged_at=BEGAN + timedelta(seconds=2400), reason="end of typing")
    return whole_of([*facts, film, slip, closed])


SAID: tuple[Spoken, ...] = (
    *((60, "tube passed"), (70, "take a note"), (90, "gastric in fifty"), (94, "five zero"), (100, "mind the cable")),
    *((110, "oesophageal pressure six zero"), (120, "gastric one five zero in")),
)
HASH = "0" * 64
AT = BEGAN + timedelta(hours=1)
FACT: TypeAdapter[Fact] = TypeAdapter(Fact)
SPOKEN = Origin(author="nurse", sound=Sound(sha256=HASH, seconds=6.0))


def later(kind: type[FactBase], **fields: object) -> Fact:
    """A fact an hour into the case."""
    return FACT.validate_python({"fact": kind.model_fields["fact"].default, "logged_at": AT, **fields})


def every_kind() -> Whole:
    """A case with a fact of every kind."""
    facts = facts_of(SAID)
    open_now = fold(facts).open_findings[0]
    seen = {"rule": open_now.rule, "number": open_now.number, "message": open_now.message}
    origin = Origin(by="typed", author="nurse")
    moved = {"entry": entry("pressure", 50, "mmHg", "oesophageal"), "reason": "misread", "origin": origin}
    facts += [
        later(events.EntryAmended, number=4, said_at=AT, happened_at=BEGAN + timedelta(seconds=105), **moved),
        later(events.EntryStruck, number=5, said_at=AT, reason="not done", origin=origin),
        later(events.EntryRestored, number=5, said_at=AT, reason="done after all", origin=origin),
        later(events.EntryStruck, number=5, said_at=AT, reason="not done", origin=origin),
        later(events.ChangeUndone, number=4, said_at=AT, reason="right after all", origin=origin),
        later(events.FindingRaised, rule="r", number=None, level="low", message="hours", source="[derived] none"),
        later(events.FindingSettled, rule="r", number=None, message="hours", how="over"),
        later(events.FindingAcknowledged, **seen, reason="known", author="nurse"),
        later(events.AcknowledgementUndone, **seen, reason="of another", author="nurse"),
        later(events.FindingAcknowledged, **seen, reason="known", author="nurse"),
        later(events.NoteWritten, text="the ward is cold", number=None, said_at=AT, author="nurse"),
        later(events.SpokenNoteKept, number=2, said_at=BEGAN + timedelta(seconds=75), origin=SPOKEN),
        later(events.SpokenNoteWritten, number=2, text="the family agrees", author="nurse"),
        later(events.SpokenNoteWritten, number=2, text="the family agree", author="nurse"),
        later(events.SpeechKept, said_at=AT, origin=Origin(heard="talk")),
        later(
            events.DifferenceHeard, difference=1, differs="other number", number=4, said_at=AT, origin=SPOKEN,
            entry=entry("pressure", 15, "mmHg", "oesophageal"),
        ),
        later(
            events.DifferenceHeard, difference=2, differs="words", number=None, said_at=AT, origin=SPOKEN, entry=None,
            text="call the bank",
        ),
        later(events.SoundsHeardAgain, sha256=(HASH,), engine="vosk+people"),
        later(
            events.DifferenceReviewed, difference=2, taken=True, number=None, text="call the blood bank",
            reason="heard again", author="nurse",
        ),
        later(events.ReviewUndone, difference=2, reason="another voice", author="nurse"),
        later(events.CaptureGap, began_at=AT, seconds=9, reason="unplugged"),
        later(events.SavedLate, began_at=AT, seconds=9, facts=2, reason="the disk was full"),
        later(events.ListeningChanged, mode="lead word", lead_word="log", author="nurse"),
        later(events.SoundsRemoved, sha256=(HASH,), reason="asked for", author="records"),
        later(events.IdentifiersGiven, sha256=HASH, author="nurse"),
        later(events.IdentifiersRemoved, sha256=(HASH,), reason="kept long enough", author="records"),
        later(events.SimulationPlayed, event="film", said_at=AT, told="The film is back."),
        later(events.CaseClosed, reason="end of typing"),
        later(
            events.CaseResumed, software="s", source="typed", author="night", public_key=SIGNER.public_key,
            signature_before="", clock_set_back_s=90,
        ),
        later(events.ClockCorrected, by_s=-60, moves=1, reason="opened a minute early", author="night"),
    ]  # fmt: skip
    return whole_of(facts)


CASES: dict[str, Callable[[], Whole]] = {
    "good": good_case,
    "letter": lambda: good_case("letter"),
    "hostile": hostile_case,
    "empty": case_of,
    "long": long_case,
    "without identity": lambda: deidentified(case("good"))[0],
    "every kind of fact": every_kind,
    "rehearsed": rehearsed,
    "rehearsed, empty": lambda: rehearsed(0),
    "rehearsed, without identity": lambda: deidentified(case("rehearsed"))[0],
    "rehearsed, empty, without identity": lambda: deidentified(case("rehearsed, empty"))[0],
}


@dataclass(frozen=True, slots=True)
class Page:
    """A page of a PDF as it is read back."""

    text: str
    placed: tuple[tuple[float, str], ...]
    """Its texts one by one, each with the height at which it stands, in points."""


def case(name: str) -> Whole:
    """A case by its name in CASES."""
    return _made(name)


@cache
def _made(name: str) -> Whole:
    return CASES[name]()


@cache
def written(name: str, form: str) -> str | bytes:
    """That case in one of the formats."""
    return FORMATS[form].write(case(name))


@cache
def reader(name: str, form: str = "pdf") -> PdfReader:
    """Its PDF, opened."""
    content = written(name, form)
    assert isinstance(content, bytes)
    return PdfReader(io.BytesIO(content))


@cache
def pages(name: str, form: str = "pdf") -> tuple[Page, ...]:
    """Its PDF, read back."""
    return read_back(reader(name, form))


@cache
def text_of(name: str, form: str) -> str:
    """All text of that case in one of the formats."""
    content = written(name, form)
    return content if isinstance(content, str) else "\n".join(page.text for page in pages(name, form))


def read_back(of: PdfReader) -> tuple[Page, ...]:
    """The pages of a PDF."""
    found: list[Page] = []
    for page in of.pages:
        placed: list[tuple[float, str]] = []

        def note(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
            if text.strip():
                placed.append((tm[5] + cm[5], text.strip()))  # noqa: B023 - it is called before the next page begins

        found.append(Page(page.extract_text(visitor_text=note), tuple(placed)))
    return tuple(found)
