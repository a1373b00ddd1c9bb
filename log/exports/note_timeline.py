"""The timeline of the procedure note: every line where it happened, what was done to it when that was done, gaps in
hearing, and what a simulation played.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from log.exports.document import Cells, Strong, Table, joined, table
from log.exports.lines import entry, in_the_room, marks
from log.facts.simulation import played_in_words
from log.summaries.whole import Whole
from log.words.totals import led_to
from log.words.wording import elapsed, heard, saved_late, sentence

PLAYED = Strong("played by the simulation, no entry")

NOT_HEARD = Strong("gap: what was said in it is not in the log")

AFTER_LINES = 1_000_000
"""Beyond every line's number: what happened to a line at its own moment comes after it."""

Placed = tuple[tuple[datetime, int], Cells]
"""Where a row belongs, and its cells."""


def timeline(case: Whole) -> Table:
    """The whole story."""
    placed = sorted(
        (*_lines(case), *_changes(case), *_gaps(case), *_saved_late(case), *_played(case)), key=lambda one: one[0]
    )
    head = ("Line", "Elapsed", "Time", "Entry", "Led to", "Heard", "Marks")
    return table(head, (cells for _, cells in placed), "Nothing was logged.")


def _lines(case: Whole) -> Iterator[Placed]:
    reached = {step.line.number: led_to(case.procedure, step) for step in case.happened}
    for line in case.record.lines:
        cells = (
            str(line.number),
            *_times(case, line.said_at),
            entry(case.procedure, line),
            reached.get(line.number, ""),
            heard(line.origin),
            joined(marks(case.procedure, line)),
        )
        yield (line.said_at, line.number), cells


def _changes(case: Whole) -> Iterator[Placed]:
    """Changes of lines, at the moment at which they were made."""
    for line in case.record.lines:
        for change in line.changes:
            after = "" if change.what == "struck" else f": {sentence(case.procedure, change.after)}"
            what = f"line {line.number} {change.what}{after}"
            cells = ("", *_times(case, change.at), what, "", heard(change.origin), change.reason)
            yield (change.at, AFTER_LINES + line.number), cells


def _gaps(case: Whole) -> Iterator[Placed]:
    for gap in case.record.gaps:
        what = f"nothing could be heard for {gap.seconds:.1f} s: {gap.reason}"
        yield (gap.began_at, 0), ("", *_times(case, gap.began_at), what, "", "", NOT_HEARD)


def _saved_late(case: Whole) -> Iterator[Placed]:
    for late in case.record.saved_late:
        cells = ("", *_times(case, late.began_at), f"{saved_late(late)}: {late.reason}", "", "", "")
        yield (late.began_at, 0), cells


def _played(case: Whole) -> Iterator[Placed]:
    for played in case.record.played:
        cells = ("", *_times(case, played.said_at), played_in_words(played), "", "", PLAYED)
        yield (played.said_at, 0), cells


def _times(case: Whole, moment: datetime) -> tuple[str, str]:
    return elapsed(case.opened.logged_at, moment), in_the_room(case, moment)
