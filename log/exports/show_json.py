"""A case as it stands for other programs: its lines, and the life of every finding, as plain JSON types."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from log.facts.events import ClockCorrected
from log.facts.findings import RaisedFinding
from log.facts.line import Line
from log.summaries.whole import Whole
from log.words.wording import iso, sentence

State = Literal["active", "back in range", "settled", "struck"]


def plain(case: Whole) -> dict[str, object]:
    """Times as RFC 3339; each number of a line in the unit that stands beside it."""
    return {
        **({"simulation": case.simulation} if case.simulation else {}),
        "case": case.opened.case,
        "until": case.until.isoformat(),
        **clocks(case.record.clocks),
        "lines": [_line(case, line) for line in case.record.lines],
        "findings": [_finding(case, found) for found in case.record.findings],
        "fingerprint": case.head.sha256 if case.head else None,
        "cautions": list(case.procedure.cautions),
    }


def clocks(corrected: Sequence[ClockCorrected]) -> dict[str, object]:
    """The corrections of the clock, of which all times here are after; nothing where there was none."""
    each = [
        {
            "by_s": one.by_s,
            "facts_moved": one.moves,
            "at": one.logged_at.isoformat(),
            "author": one.author,
            "reason": one.reason,
        }
        for one in corrected
    ]
    return {"clock_corrected": each} if each else {}


def _line(case: Whole, line: Line) -> dict[str, object]:
    return {
        "line": line.number,
        "at": line.said_at.isoformat(),
        "logged_at": line.logged_at.isoformat(),
        "state": line.status,
        "text": sentence(case.procedure, line.entry),
        **line.entry.model_dump(),
        "candidates": [one.model_dump() for one in line.candidates],
        "reason": line.reason,
        "late_reason": line.late_reason,
        "changes": [{"what": change.what, "at": change.at.isoformat()} for change in line.changes],
    }


def _finding(case: Whole, found: RaisedFinding) -> dict[str, object]:
    raised, settled = found.raised, found.settled
    seen = case.record.acknowledged(raised)
    return {
        "rule": raised.rule,
        "level": raised.level,
        "text": raised.message,
        "line": raised.number,
        "state": state(case, found),
        "raised_at": raised.logged_at.isoformat(),
        "back_at": iso(settled.logged_at) if settled is not None else None,
        "ended_by": settled.by if settled is not None else None,
        "ended_how": settled.how if settled is not None else None,
        "acknowledged_at": iso(seen.logged_at) if seen is not None else None,
        "acknowledged_by": seen.author if seen is not None else None,
        "source": raised.source,
    }


def state(case: Whole, found: RaisedFinding) -> State:
    """State of a finding. A finding beside a line that was struck went with it."""
    number = found.raised.number
    if found.settled is None:
        return "active"
    if number is not None and case.record.line(number).status == "struck":
        return "struck"
    return "back in range" if found.settled.ended == "back in range" else "settled"
