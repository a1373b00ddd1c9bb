"""The debriefing of a case for other programs, as plain JSON types."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

from log.exports import second_hearing
from log.exports.lines import changed
from log.summaries.debrief import OUTCOMES, Debrief
from log.summaries.whole import Whole
from log.words.wording import iso


def plain(case: Whole, found: Debrief) -> dict[str, object]:
    """Times as RFC 3339, durations in seconds, numbers in the unit that stands beside them."""
    outcomes = Counter(one.outcome for one in found.read_back)
    return {
        **({"simulation": case.simulation} if case.simulation else {}),
        "case": case.opened.case,
        "began": found.began.isoformat(),
        "ended": found.ended.isoformat(),
        "steps": [
            {
                "id": step.milestone.id,
                "title": step.milestone.title,
                "state": step.state,
                "tube": step.tube,
                "at": iso(step.at),
                "since_start_s": _seconds(step.since_start),
                "since_before_s": _seconds(step.since_before),
            }
            for step in found.steps
        ],
        "numbers": [
            {
                "line": one.line,
                "at": one.at.isoformat(),
                "what": one.what,
                "value": one.value,
                "unit": one.unit,
                "limit": one.limit,
                "low": one.low,
                "high": one.high,
                "where": one.side,
                "margin": one.margin,
            }
            for one in found.numbers
        ],
        "findings": [
            {
                "rule": one.raised.rule,
                "line": one.raised.number,
                "level": one.raised.level,
                "message": one.raised.message,
                "raised_at": one.raised.logged_at.isoformat(),
                "open_s": _seconds(one.open_for),
                "fate": one.fate,
                "settled_how": one.settled.how if one.settled else None,
                "acknowledged_by": one.acknowledged.author if one.acknowledged else None,
            }
            for one in found.findings
        ],
        "read_back": {
            "outcomes": {outcome: outcomes[outcome] for outcome in OUTCOMES},
            "corrected_afterwards": sum(one.corrected for one in found.read_back),
            "struck_afterwards": sum(one.struck for one in found.read_back),
            "asked": [
                {"line": one.line.number, "outcome": one.outcome, "answered_after_s": _seconds(one.answered_after)}
                for one in found.read_back
                if one.line.candidates
            ],
        },
        "corrections": [
            {
                "line": one.line.number,
                "at": one.change.at.isoformat(),
                "what": one.change.what,
                "words": changed(case.procedure, one.line, one.change),
                "after_s": _seconds(one.after),
                "reason": one.change.reason,
                "author": one.change.origin.author,
            }
            for one in found.corrections
        ],
        "observed": [{"site": site, "for_s": _seconds(time)} for site, time in found.observed],
        "late": [{"line": line.number, "late_by_s": _seconds(by)} for line, by in found.late],
        "gaps": [
            {"began_at": gap.began_at.isoformat(), "seconds": gap.seconds, "reason": gap.reason} for gap in found.gaps
        ],
        "not_understood": [
            {"at": one.said_at.isoformat(), "heard": one.origin.heard, "reason": one.reason} for one in found.missed
        ],
        **second_hearing.plain(case),
        "fingerprint": case.head.sha256 if case.head else None,
        "cautions": list(case.procedure.cautions),
    }


def _seconds(time: timedelta | None) -> float | None:
    return None if time is None else time.total_seconds()
