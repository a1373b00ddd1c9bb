"""The case as one page for a screen: the chart, and everything in the order in which it happened, with what became of
each line, who said or typed it, and what the rules had to say.

The page stands alone: no script, no picture and no reference outside itself. It reads on a telephone, in the dark, and
printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from log.exports.chart import chart
from log.exports.document import (
    BREAK,
    Cells,
    Document,
    Figure,
    Heading,
    Item,
    Paragraph,
    Points,
    Strong,
    Table,
    Words,
    runs,
    unless_empty,
)
from log.exports.lines import entry, marks
from log.exports.tables import cautions, citations, fate, made_from, simulation, sources
from log.exports.web_page import web_page
from log.facts.events import NoteWritten
from log.facts.findings import RaisedFinding
from log.facts.line import Line
from log.facts.simulation import MARK, played_in_words
from log.facts.spoken_notes import spoken_notes
from log.rules.course import Stage
from log.summaries.whole import Whole
from log.words.totals import led_to
from log.words.wording import SIGNS, elapsed, heard, many, priority, stamp, stamp_beside, way

Row = tuple[datetime, str, Cells]
"""The time, the class of the row, and its cells."""


def as_html(case: Whole) -> str:
    """The page, as text to be written in UTF-8."""
    mark = f"{MARK}: " if case.simulation else ""
    return web_page(f"{mark}Case {case.opened.case}: timeline", page(case).blocks, "timeline")


def page(case: Whole) -> Document:
    """The content of the page."""
    label = f", {case.opened.label}" if case.opened.label else ""
    speech = len(case.record.speech)
    blocks = (
        *simulation(case),
        Heading(f"Case {case.opened.case}: timeline", level=1),
        Paragraph(f"{case.procedure.title}{label}"),
        cautions(case),
        Figure("Chart", chart(case)),
        Heading("Timeline"),
        Paragraph("All in the order of its time. What is struck or not confirmed counts in no total."),
        _table(case),
        *unless_empty("Sources of the findings", sources(case)),
        *((Paragraph(f"Speech that was not for the log was kept: {many(speech, 'clip')}."),) if speech else ()),
        Paragraph(made_from(case)),
        *simulation(case),
        cautions(case),
    )
    return Document("Timeline", blocks)


# ---- the table: lines and whatever else happened, in one order -------------------------------------------------------


def _table(case: Whole) -> Table:
    beside = _beside_lines(case)
    lines = (_line(case, stage, beside.get(stage.line.number, [])) for stage in case.course.stages)
    rows = sorted((*lines, *_others(case)), key=lambda row: row[0])
    head = ("Line", "Elapsed and clock time", "What", "Status")
    return Table(head, tuple(cells for *_, cells in rows), looks=tuple(look for _, look, _ in rows))


def _beside_lines(case: Whole) -> dict[int, list[Item]]:
    """Findings and notes by the number of the line that they are about."""
    found: dict[int, list[Item]] = {}
    short = citations(case)
    for one in case.record.findings:
        if one.raised.number is not None:
            found.setdefault(one.raised.number, []).append(_finding(case, one, short[one.raised.source]))
    for written in case.record.notes:
        if written.number is not None:
            found.setdefault(written.number, []).append(Item(_note(written), "note"))
    for note in spoken_notes(case.record):
        found.setdefault(note.line.number, []).append(Item(note.in_words, "note"))
    return found


def _line(case: Whole, stage: Stage, beside: Iterable[Item]) -> Row:
    line = stage.line
    total = led_to(case.procedure, stage.step) if line.status == "stands" else ""
    notes = (*((f"led to {total}",) if total else ()), heard(line.origin), *marks(case.procedure, line))
    items = (*(Item(words, "note") for words in notes), *beside)
    what = Points(items, entry(case.procedure, line))
    return line.said_at, line.status, (str(line.number), _times(case, line.said_at), what, _status(line))


def _times(case: Whole, at: datetime) -> Words:
    """Elapsed and of the clock; of a case without identity the elapsed alone."""
    times = dict.fromkeys((elapsed(case.opened.logged_at, at), stamp(at).removeprefix("+")))
    return tuple(run for time in times for run in (time, BREAK))[:-1]


def _status(line: Line) -> Words:
    match line.status:
        case "asked":
            return Strong("not confirmed")
        case "struck":
            return "struck"
        case "stands":
            return "stands, corrected" if any(change.what == "amended" for change in line.holding) else "stands"


def _note(written: NoteWritten) -> str:
    by = f" by {written.author}" if written.author else ""
    when = stamp_beside(written.logged_at, written.said_at)
    return f'note{by}, written down {when}: "{written.text}"'


def _finding(case: Whole, found: RaisedFinding, source: str) -> Item:
    raised = found.raised
    level = Strong(f"{SIGNS[raised.level]} {priority(raised.level)}:")
    end = fate(raised, found.settled, case.record.acknowledged(raised))
    settled = "settled " if found.settled else ""
    return Item((level, f" {raised.message} {source} ({settled}", *runs(end), ")"), raised.level)


def _others(case: Whole) -> Iterator[Row]:
    """Events that are no line of the log."""
    record, opened, short = case.record, case.opened, citations(case)

    def row(at: datetime, what: Words | Points, status: str, author: str = "") -> Row:
        by = f" by {author}" if author else ""
        words = what if isinstance(what, Points) else (*runs(what), by)
        return at, "other", ("", _times(case, at), words, status)

    yield row(opened.logged_at, "the log was opened", "log", opened.author)
    for resumed in record.resumed:
        back = resumed.clock_set_back_s
        clock = f" (the machine's clock read {back:.0f} s less; times go on from the last fact)" if back else ""
        yield row(resumed.logged_at, f"the log was resumed{clock}", "log", resumed.author)
    for missed in record.missed:
        yield row(missed.said_at, heard(missed.origin), f"no entry: {missed.reason}")
    for gap in record.gaps:
        yield row(gap.began_at, f"nothing could be heard for {gap.seconds:.1f} s: {gap.reason}", "gap in hearing")
    for found in record.findings:
        if found.raised.number is None:
            item = _finding(case, found, short[found.raised.source])
            yield row(found.raised.logged_at, Points((item,), "beside no line"), "finding")
    for written in record.notes:
        if written.number is None:
            yield row(written.said_at, _note(written), "note")
    for changed in record.ways:
        yield row(changed.logged_at, f"listening: {way(changed)}", "log", changed.author)
    for removed in record.removals:
        what = "sounds were removed" if removed.fact == "sounds_removed" else "identifiers were removed"
        yield row(removed.logged_at, f"{what} ({removed.reason})", "log", removed.author)
    for played in record.played:
        yield row(played.said_at, played_in_words(played), "played by the simulation, no entry")
    if record.identified is not None:
        yield row(record.identified.logged_at, "identifiers were written down", "log", record.identified.author)
    if record.closed is not None:
        yield row(record.closed.logged_at, f"the log was closed: {record.closed.reason}", "log")
