"""Something to be done to a case by hand, typed in any terminal: the same whether the case is opened for it or a room
holds it.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import datetime
from typing import Literal

from rich.console import Console

from log.basics.entry import Entry, Frozen
from log.basics.errors import InputError
from log.facts.events import ClockCorrected, Fact
from log.facts.origin import Origin
from log.scribe import removal
from log.scribe.correct import Correction, to_be_acknowledged
from log.scribe.session import Session
from log.store.identifiers import Identifiers
from log.words.wording import clock_correction, stamp
from tui.views.read_back import ReadBack
from tui.views.times import happened
from voice.meaning.matcher import Listening, one_entry, understand
from voice.phrases.phrases import Phrases


class Request(Frozen):
    """An act, and who does it. Fields that a kind of request does not need stay empty."""

    what: Literal[
        "say",
        "strike",
        "amend",
        "late",
        "undo",
        "acknowledge",
        "transcribe",
        "take",
        "leave",
        "identify",
        "forget",
        "shift",
    ]
    author: str
    reason: str = ""
    line: int | None = None
    difference: int = 0
    words: str = ""
    at: str = ""
    """A time as it is typed: 03:10, or a whole RFC 3339 time."""
    identifiers: Identifiers | None = None
    by_s: int = 0
    columns: int = 80
    """The width of the terminal that shows what came of it."""


def performed(session: Session, phrases: Phrases, request: Request, seconds: float) -> tuple[Fact, ...]:
    """Does it, at this second of the session's clock. Raises InputError, StoreError."""
    now, words = session.time(seconds), request.words
    by = Correction(request.author, request.reason, now, words)
    match request.what:
        case "say":
            meaning = understand(phrases, words, Listening(question_open=session.record.open_question is not None))
            origin = Origin(by="typed", author=request.author, heard=words)
            return session.take(meaning, seconds, seconds, origin)
        case "strike":
            return session.strike(_line(request), by)
        case "amend":
            entry = one_entry(phrases, words) if words else None
            return session.amend(_line(request), entry, _at(session, request, now) if request.at else None, by)
        case "late":
            return session.enter_late(one_entry(phrases, words), _at(session, request, now), by)
        case "undo":
            return session.undo(by)
        case "acknowledge":
            found = to_be_acknowledged(session.record, request.line)
            if found is None:
                raise InputError("no such finding waits", "see which are open with: tamponade show")
            return session.acknowledge(found, by)
        case "transcribe":
            return session.transcribe(_line(request), words, request.author, now)
        case "take":
            return session.take_difference(request.difference, by, _instead(session, phrases, request))
        case "leave":
            return session.leave_difference(request.difference, by)
        case "identify":
            return removal.identify(session.ledger, request.identifiers or Identifiers(), request.author, now)
        case "forget":
            return removal.forget_identifiers(session.ledger, request.reason, request.author, now)
        case "shift":
            return session.shift_on(request.by_s, by)


def _at(session: Session, request: Request, now: datetime) -> datetime:
    opened = session.record.opened
    return happened(request.at, now, opened.logged_at if opened is not None else now)


class Asked:
    """A request from another terminal, while a room holds the case."""

    def __init__(self, request: Request, phrases: Phrases, now: Callable[[], float]) -> None:
        """`now`: seconds on the session's clock."""
        self._request, self._phrases, self._now = request, phrases, now
        self.in_words = ""
        """The result, as the terminal prints it."""

    def perform(self, session: Session) -> tuple[Fact, ...]:
        """Does it, on the thread that writes. Raises InputError, StoreError."""
        facts = performed(session, self._phrases, self._request, self._now())
        self.in_words = in_words(session, facts, self._request.columns)
        return facts


def in_words(session: Session, facts: tuple[Fact, ...], columns: int) -> str:
    """These facts as the terminal prints them."""
    out = io.StringIO()
    if (moved := next((fact for fact in facts if isinstance(fact, ClockCorrected)), None)) is not None:
        out.write(f"{shifted(session, moved)}\n")
    ReadBack(session, Console(file=out, width=max(columns, 20), highlight=False, color_system=None)).notify(facts)
    return out.getvalue()


def shifted(session: Session, moved: ClockCorrected) -> str:
    """What became of the clock, and when the log was opened by it."""
    assert session.record.opened is not None
    return f"{clock_correction(moved)}; the log was opened {stamp(session.record.opened.logged_at)}"


def _instead(session: Session, phrases: Phrases, request: Request) -> Entry | None:
    """The entry that was meant, where other words are given; those of a draft are no entry."""
    drafts = {one.difference for one in session.record.differences if one.differs == "words"}
    return one_entry(phrases, request.words) if request.words and request.difference not in drafts else None


def _line(request: Request) -> int:
    if request.line is None:
        raise InputError("no line is given", "say which: see the first column")
    return request.line
