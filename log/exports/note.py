"""The procedure note: what the log knows of the case on paper, with blanks for everything it does not know, to be
completed, read and signed by the people who were there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from log.events import Origin
from log.exports.heading import header, state, totals
from log.exports.markdown import BLANK, escaped, struck, table
from log.exports.totals import led_to
from log.exports.whole import Whole
from log.exports.wording import elapsed, listed, sentence, shown, stamp, stamp_beside
from log.procedure import Procedure
from log.record import Change, Line, RaisedFinding
from log.spoken import Entry

OPEN = "**NOT CONFIRMED - counts in no total**"

LATE_AFTER = timedelta(minutes=5)
"""From here on a line is marked as a late entry. Late entries have to be marked as such (CMS Program Integrity
Manual, chapter 3, 3.3.2.5); how late is late is our choice: no published figure was found."""


def as_note(case: Whole) -> str:
    """The note as Markdown."""
    parts = (
        [f"# Procedure note: {escaped(case.procedure.title)}", ""],
        _cautions(case),
        _unconfirmed(case),
        header(case),
        state(case),
        totals(case),
        _timeline(case),
        _findings(case),
        _missed(case),
        _gaps(case),
        _made_with(case),
        _signatures(),
        _cautions(case),
    )
    return "\n".join(line for part in parts for line in part).rstrip("\n") + "\n"


def _cautions(case: Whole) -> list[str]:
    quoted = [f"> **Caution:** {escaped(caution)}" for caution in case.procedure.cautions]
    return [*"\n>\n".join(quoted).split("\n"), ""]


def _unconfirmed(case: Whole) -> list[str]:
    numbers = [str(line.number) for line in case.record.lines if line.status == "asked"]
    return [f"{OPEN}: line {', '.join(numbers)}. See timeline.", ""] if numbers else []


# ---- the timeline: each line once, where it belongs in time, with all that happened to it ----------------------------


def _timeline(case: Whole) -> list[str]:
    reached = {step.line.number: led_to(step) for step in case.happened}
    lines = sorted(case.record.lines, key=lambda line: (line.said_at, line.number))
    began = case.opened.logged_at
    rows = (
        (
            str(line.number),
            elapsed(began, line.said_at),
            stamp(line.said_at),
            _entry(case.procedure, line),
            escaped(reached.get(line.number, "")),
            _heard(line.origin),
            listed(_marks(case.procedure, line)),
        )
        for line in lines
    )
    head = ("Line", "Elapsed", "Time", "Entry", "Led to", "Heard", "Marks")
    return ["## Timeline", "", *(table(head, rows) if lines else ["Nothing was logged.", ""])]


def _entry(procedure: Procedure, line: Line) -> str:
    if line.status == "asked":
        return f"{OPEN}: {_candidates(procedure, line)}"
    before = [change.before for change in line.changes if change.what == "amended"]
    if line.status == "struck":
        never_confirmed = line.candidates and all(change.what == "struck" for change in line.changes)
        texts = (
            [_candidates(procedure, line)]
            if never_confirmed
            else [escaped(sentence(procedure, entry)) for entry in (*before, line.entry)]
        )
        return " ".join(struck(text) for text in texts)
    if all(_only_the_value_differs(entry, line.entry) for entry in before):
        return _revalued(procedure, before, line.entry)
    return " ".join(
        (*(struck(escaped(sentence(procedure, entry))) for entry in before), escaped(sentence(procedure, line.entry)))
    )


def _only_the_value_differs(one: Entry, other: Entry) -> bool:
    return one.model_copy(update={"value": other.value}) == other


def _revalued(procedure: Procedure, before: Sequence[Entry], entry: Entry) -> str:
    """ "gastric volume in ~~50 mL~~ 60 mL"."""
    if not before:
        return escaped(sentence(procedure, entry))
    bare = entry.model_copy(update={"value": None, "unit": None, "detail": None})
    values = (*(struck(escaped(shown(old))) for old in before), escaped(shown(entry)))
    detail = escaped(f"({entry.detail})") if entry.detail else ""
    return " ".join(text for text in (escaped(sentence(procedure, bare)), *values, detail) if text)


def _candidates(procedure: Procedure, line: Line) -> str:
    return escaped(" or ".join(sentence(procedure, entry) for entry in line.candidates) + "?")


def _heard(origin: Origin) -> str:
    """How it came in: 'voice 93 %: "gastric in fifty"'."""
    how = "typed" if origin.by == "typed" else f"voice {origin.confidence:.0%}".replace("%", " %")
    return f'{how}: "{escaped(origin.heard)}"' if origin.heard else how


def _marks(procedure: Procedure, line: Line) -> Iterator[str]:
    if line.candidates:
        yield f"asked: {_candidates(procedure, line)} ({escaped(line.reason)})"
    for change in line.changes:
        yield _change(procedure, line.said_at, change)
    if line.logged_at - line.said_at >= LATE_AFTER:
        yield f"late entry, written down {stamp_beside(line.logged_at, line.said_at)}"


def _change(procedure: Procedure, said_at: datetime, change: Change) -> str:
    answer = f": {escaped(sentence(procedure, change.after))}" if change.what == "answered" else ""
    reason = f", {escaped(change.reason)}" if change.reason else ""
    return f"{change.what} {stamp_beside(change.at, said_at)}{answer}{reason} ({_heard(change.origin)})"


# ---- what was found, what was missed, and what it was made with ----------------------------------------------------


def _findings(case: Whole) -> list[str]:
    head = ("Raised", "Level", "Rule", "Line", "Message", "Source", "Settled")
    rows = [_finding(found) for found in case.record.findings]
    return ["## Findings", "", *(table(head, rows) if rows else ["No rule had anything to say.", ""])]


def _finding(found: RaisedFinding) -> tuple[str, ...]:
    raised, settled = found.raised, found.settled
    end = (
        "**still open**"
        if settled is None
        else f"{stamp_beside(settled.logged_at, raised.logged_at)}: {escaped(settled.how)}"
    )
    number = "none" if raised.number is None else str(raised.number)
    priority = "information" if raised.level == "information" else f"{raised.level} priority"
    return (
        stamp(raised.logged_at),
        priority,
        escaped(raised.rule),
        number,
        escaped(raised.message),
        escaped(raised.source),
        end,
    )


def _missed(case: Whole) -> list[str]:
    rows = [
        (stamp(missed.said_at), _heard(missed.origin), escaped(missed.reason), escaped("; ".join(missed.nearest)))
        for missed in case.record.missed
    ]
    head = ("Time", "Heard", "Why it made no entry", "Nearest phrases")
    return ["## Not understood", "", *(table(head, rows) if rows else ["Nothing.", ""])]


def _gaps(case: Whole) -> list[str]:
    rows = [(stamp(gap.began_at), f"{gap.seconds:.1f} s", escaped(gap.reason)) for gap in case.record.gaps]
    return ["## Gaps in hearing", "", *(table(("Began", "For", "Why"), rows) if rows else ["None known.", ""])]


def _made_with(case: Whole) -> list[str]:
    opened, procedure = case.opened, case.procedure
    intact = hashlib.sha256(opened.definition.encode()).hexdigest() == opened.definition_sha256
    approved = (opened.override_approved_by, opened.override_approved_on)
    rows = (
        ("Definition", escaped(procedure.id)),
        ("Version", escaped(procedure.version)),
        ("SHA-256", escaped(opened.definition_sha256) + ("" if intact else " **DOES NOT MATCH the definition kept**")),
        (
            "Local override",
            escaped("approved by {} on {}".format(*(part or "?" for part in approved))) if any(approved) else "none",
        ),
        ("Software", escaped(opened.software)),
        ("Listened to", escaped(opened.source)),
    )
    return ["## Made with", "", *table(("What", "Which"), rows)]


def _signatures() -> list[str]:
    people = ("Author of this note", "Operator", "Scribe", "Countersigned")
    rows = ((person, BLANK, BLANK, BLANK, BLANK) for person in people)
    return ["## Signatures", "", *table(("As", "Name in print", "Role", "Signature", "Date and time"), rows)]
