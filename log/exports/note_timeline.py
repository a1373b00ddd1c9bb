"""The story of a case in the note: every line where it belongs in time, with all that happened to it; and between the
lines what was corrected and answered when, where nobody could hear, and what a rehearsal played.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from log.basics.entry import Entry
from log.definition.procedure import Procedure
from log.exports.markdown import escaped, struck, table
from log.facts.events import Origin
from log.facts.line import Change, Line
from log.facts.simulation import played_in_words
from log.summaries.whole import Whole
from log.words.totals import led_to
from log.words.wording import elapsed, listed, sentence, shown, stamp, stamp_beside

OPEN = "**NOT CONFIRMED - counts in no total**"

PLAYED = "**played by the simulation, no entry**"

NOT_HEARD = "**gap: what was said in it is not in the log**"

AFTER_LINES = 1_000_000
"""Beyond every line's number: what happened to a line at its own moment comes after it."""

Told = tuple[tuple[datetime, int], tuple[str, ...]]
"""Where it belongs, and its cells."""


def timeline(case: Whole) -> list[str]:
    """The whole story as a table; what is no line has none."""
    told = sorted((*_lines(case), *_changes(case), *_gaps(case), *_played(case)), key=lambda one: one[0])
    head = ("Line", "Elapsed", "Time", "Entry", "Led to", "Heard", "Marks")
    return ["## Timeline", "", *(table(head, [cells for _, cells in told]) if told else ["Nothing was logged.", ""])]


def _lines(case: Whole) -> Iterator[Told]:
    reached = {step.line.number: led_to(step) for step in case.happened}
    for line in case.record.lines:
        cells = (
            str(line.number),
            *_times(case, line.said_at),
            _entry(case.procedure, line),
            escaped(reached.get(line.number, "")),
            heard(line.origin),
            listed(_marks(case.procedure, line)),
        )
        yield (line.said_at, line.number), cells


def _changes(case: Whole) -> Iterator[Told]:
    """What was done to a line, at the moment at which it was done."""
    for line in case.record.lines:
        for change in line.changes:
            after = escaped(sentence(case.procedure, change.after))
            what = (
                f"line {line.number} struck"
                if change.what == "struck"
                else f"line {line.number} {change.what}: {after}"
            )
            reason = escaped(change.reason)
            cells = ("", *_times(case, change.at), what, "", heard(change.origin), reason)
            yield (change.at, AFTER_LINES + line.number), cells


def _gaps(case: Whole) -> Iterator[Told]:
    for gap in case.record.gaps:
        what = f"nothing could be heard for {gap.seconds:.1f} s: {escaped(gap.reason)}"
        yield (gap.began_at, 0), ("", *_times(case, gap.began_at), what, "", "", NOT_HEARD)


def _played(case: Whole) -> Iterator[Told]:
    for played in case.record.played:
        cells = ("", *_times(case, played.said_at), escaped(played_in_words(played)), "", "", PLAYED)
        yield (played.said_at, 0), cells


def _times(case: Whole, moment: datetime) -> tuple[str, str]:
    return elapsed(case.opened.logged_at, moment), stamp(moment)


def _entry(procedure: Procedure, line: Line) -> str:
    if line.status == "asked":
        return f"{OPEN}: {_candidates(procedure, line)}"
    changes = [change for change in line.changes if change.what == "amended" and change.before != change.after]
    before = [change.before for change in changes]
    if line.status == "struck":
        never_confirmed = line.candidates and all(change.what in ("struck", "restored") for change in line.changes)
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
    bare = entry.model_copy(update=dict.fromkeys(("value", "unit", "detail", "second", "second_unit")))
    values = (*(struck(escaped(shown(old))) for old in before), escaped(shown(entry)))
    detail = escaped(f"({entry.detail})") if entry.detail else ""
    return " ".join(text for text in (escaped(sentence(procedure, bare)), *values, detail) if text)


def _candidates(procedure: Procedure, line: Line) -> str:
    return escaped(" or ".join(sentence(procedure, entry) for entry in line.candidates) + "?")


def heard(origin: Origin) -> str:
    """How it came in, and from whom: 'operator, voice 93 %: "gastric in fifty"'."""
    how = "typed" if origin.by == "typed" else f"voice {origin.confidence:.0%}".replace("%", " %")
    who = f"{escaped(origin.author)}, {how}" if origin.author else how
    return f'{who}: "{escaped(origin.heard)}"' if origin.heard else who


def _marks(procedure: Procedure, line: Line) -> Iterator[str]:
    if line.candidates:
        yield f"asked: {_candidates(procedure, line)} ({escaped(line.reason)})"
    for change in line.changes:
        yield _change(procedure, line.said_at, change)
    if line.late_by is not None:
        why = f": {escaped(line.late_reason)}" if line.late_reason else ""
        yield f"**late entry**, written down {stamp_beside(line.logged_at, line.said_at)}{why}"


def _change(procedure: Procedure, said_at: datetime, change: Change) -> str:
    answer = f": {escaped(sentence(procedure, change.after))}" if change.what == "answered" else ""
    moved = f", time was {stamp_beside(change.moved_from, said_at)}" if change.moved_from else ""
    reason = f", {escaped(change.reason)}" if change.reason else ""
    return f"{change.what} {stamp_beside(change.at, said_at)}{answer}{moved}{reason} ({heard(change.origin)})"
