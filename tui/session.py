"""One case being kept: what is heard becomes facts, facts go to disk first and to the screen second."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from importlib.metadata import version
from pathlib import Path

from log import store
from log.decide import Heard, decide, findings
from log.errors import InputError
from log.events import CaptureGap, CaseClosed, CaseOpened, Fact, Origin
from log.load import InForce, of_case
from log.procedure import Procedure
from log.record import Record, fold
from log.spoken import Meaning

ANSWER_WITHIN_SECONDS = 30.0
"""After that, what sounds like an answer is more likely talk in the room; the scribe can still answer."""


class Session:
    """The only writer of a case. Times are seconds on the clock of whatever is listened to."""

    def __init__(self, case: store.Case, began: datetime) -> None:
        facts = case.facts()
        self.case = case
        self.procedure: Procedure = of_case(facts)
        self.record: Record = fold(facts)
        self.began = began

    def take(self, meaning: Meaning, said_at: float, known_at: float, origin: Origin) -> tuple[Fact, ...]:
        """What follows from one utterance; it is on disk when this returns. Raises StoreError."""
        heard = Heard(meaning, self._at(said_at), self._at(known_at), origin)
        return self._kept(decide(self.procedure, self.record, heard))

    def gap(self, began: float, seconds: float, reason: str) -> tuple[Fact, ...]:
        """Time in which nothing could be heard."""
        at = self._at(began + seconds)
        return self._kept((CaptureGap(logged_at=at, began_at=self._at(began), seconds=seconds, reason=reason),))

    def asked(self, at: float) -> bool:
        """Whether an answer without the lead word would be for a question: only for a while after it was asked."""
        question = self.record.open_question
        return question is not None and self._at(at) - question.said_at < timedelta(seconds=ANSWER_WITHIN_SECONDS)

    def look(self, at: float) -> tuple[Fact, ...]:
        """What the rules say now that time has passed."""
        return self._kept(findings(self.procedure, self.record, self._at(at)))

    def close(self, at: float, reason: str) -> None:
        """Ends listening and lets go of the case, even if the disk takes no more."""
        try:
            self._kept((CaseClosed(logged_at=self._at(at), reason=reason),))
        finally:
            self.case.close()

    def _at(self, seconds: float) -> datetime:
        return self.began + timedelta(milliseconds=round(seconds * 1000))

    def _kept(self, facts: Sequence[Fact]) -> tuple[Fact, ...]:
        if facts:
            self.case.append(facts)
            self.record = fold(facts, self.record)
        return tuple(facts)


def open_case(folder: Path, name: str | None, in_force: InForce, source: str, label: str = "") -> Session:
    """A new case, or the existing one of this name, ready to be written.

    An existing case goes on with the definition it was begun with.
    """
    began = datetime.now(UTC).astimezone().replace(microsecond=0)
    if name is not None and (name in store.names(folder) or name.endswith(store.SUFFIX)):
        return Session(store.resume(folder, name), began)
    if name is not None and not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name):
        raise InputError(f'--case "{name}" is no name for a case', "use letters, digits, dots, dashes and underscores")
    opened = CaseOpened(
        logged_at=began,
        case=name or _new_name(folder, began),
        label=label,
        definition=in_force.text,
        definition_sha256=in_force.sha256,
        software=f"tamponade-log {version('tamponade-log')}",
        source=source,
        override_approved_by=in_force.override.approved_by if in_force.override else None,
        override_approved_on=in_force.override.approved_on.isoformat() if in_force.override else None,
    )
    return Session(store.create(folder, opened), began)


def _new_name(folder: Path, began: datetime) -> str:
    base = began.strftime("%Y%m%d-%H%M%S")
    taken = set(store.names(folder))
    return next(name for name in (base, *(f"{base}-{n}" for n in range(2, 1000))) if name not in taken)
