"""The second hearing on paper and for other programs: how far it has come, every difference, and what became of it."""

from __future__ import annotations

from log.exports.document import Block, Paragraph, Strong, section, table
from log.facts.events import DifferenceHeard
from log.facts.record import Record
from log.facts.second_hearing import reviewed
from log.summaries.whole import Whole
from log.words.second_hearing import fate, heard_now, log_says, progress_in_words
from log.words.wording import listed, stamp


def second_hearing(case: Whole) -> tuple[Block, ...]:
    """Its section; none where no sound was heard again."""
    found = reviewed(case.record)
    if found is None:
        return ()
    head = ("Said", "Difference", "The log", "Heard again", "Outcome")
    rows = (_row(case, one) for one in case.record.differences)
    differences = (table(head, rows),) if found.differences else ()
    return section("Second hearing", Paragraph(f"{progress_in_words(found)}."), *differences)


def _row(case: Whole, one: DifferenceHeard) -> tuple[str, str, str, str, Strong | str]:
    outcome = fate(case.record, one)
    return (
        stamp(one.said_at),
        f"{one.difference}: {one.differs}",
        log_says(case.procedure, case.record, one),
        heard_now(case.procedure, one),
        Strong(outcome) if outcome == "to be reviewed" else outcome,
    )


def to_be_reviewed(record: Record) -> tuple[Paragraph, ...]:
    """For the top of the note: differences that nobody has taken or left."""
    found = reviewed(record)
    if found is None or not found.waiting:
        return ()
    numbers = listed(str(one.difference) for one in found.waiting)
    lead = Strong("Second hearing, differences to be reviewed")
    return (Paragraph((lead, f": {numbers}. See second hearing.")),)


def plain(case: Whole) -> dict[str, object]:
    """JSON's own types; nothing where no sound was heard again."""
    found = reviewed(case.record)
    if found is None:
        return {}
    return {
        "second_hearing": {
            "sounds": found.sounds,
            "heard": found.heard,
            "reviewed": found.reviewed,
            "taken": found.taken,
            "left": found.left,
            "corrected_since": found.settled,
            "remain": len(found.waiting),
            "differences": [difference(case, one) for one in case.record.differences],
        }
    }


def difference(case: Whole, one: DifferenceHeard) -> dict[str, object]:
    """One difference; `draft` are words that nobody has confirmed."""
    return {
        "difference": one.difference,
        "differs": one.differs,
        "line": one.number,
        "at": one.said_at.isoformat(),
        "log": log_says(case.procedure, case.record, one),
        "entry": one.entry.model_dump() if one.entry is not None else None,
        "heard": one.origin.heard,
        "draft": one.text,
        "confidence": one.origin.confidence,
        "outcome": fate(case.record, one),
    }
