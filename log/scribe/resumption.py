"""A case is resumed: by which program and key, from which state, and for how long and why nothing was heard."""

from __future__ import annotations

from datetime import datetime
from importlib.metadata import version

from log.facts.events import CaseResumed
from log.facts.record import Record
from log.store.writing import Case

SOFTWARE = f"tamponade-log {version('tamponade-log')}"


def resumption(case: Case, at: datetime, author: str, source: str, back: float) -> CaseResumed:
    """The fact. `back`: by how many seconds the machine's clock reads earlier than the last fact."""
    head = case.head()
    return CaseResumed(
        logged_at=at,
        software=SOFTWARE,
        source=source,
        author=author,
        public_key=case.public_key,
        signature_before=head.signature if head else "",
        clock_set_back_s=back,
    )


def why_nothing_was_heard(record: Record, listens: bool, back: float) -> str | None:
    """The reason of the gap before a case is resumed; None if nobody meant to listen."""
    if record.closed is None:
        return "the program had ended without closing the case" + (
            f"; the clock reads {back:.0f} s earlier than the last fact, from which times go on" if back else ""
        )
    return f"nobody listened ({record.closed.reason})" if listens else None
