"""The hand-over in words, for the screen and for one page to sign: the same rows in the same order, the most needed
first. What is left out for want of room is counted, never dropped in silence.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from log.definition.procedure import Procedure
from log.exports.document import BOX, Cells, Document, Heading, Paragraph, Strong, table
from log.exports.handover_night import IN_SHORT, night_rows, said
from log.exports.handover_tube import (
    balloon_in_words,
    mark_in_words,
    may_lie,
    traction_in_words,
    tube_in_words,
    when,
)
from log.exports.markdown import as_markdown
from log.exports.tables import cautions, made_from
from log.facts.line import Line
from log.rules.gauges import Gauge
from log.state.fluid_balance import PortBalance
from log.summaries.handover import Handover, OpenFinding, handover
from log.summaries.night import died
from log.summaries.whole import Whole
from log.watch.item import Item
from log.words.rows import Row
from log.words.totals import amount, limits_in_words, output_in_words, port
from log.words.wording import SIGNS, WHEN, away, candidates, clock, clock_moved, figure, shown, stamp

NO_SCISSORS = "NOT LOGGED: find them now"

ON_PAGE = ((12, 10), (12, 6), (10, 4), (6, 3), (4, 2), (2, 1))
"""Lines of what is due, and of each other list: as many as one page has room for, the most first."""

LONGEST_ON_PAGE = 260
"""Characters of one finding on the page; the whole of it stands in the note."""

CAPITALS = {"inr": "INR", "gcs": "GCS"}
"""Vital signs that are written in capitals."""

HANDED_OVER = ("Handed over by", "Taken over by")


def as_pdf(case: Whole) -> bytes:
    """The page as of the last fact of the case."""
    return page_of(case, handover(case.course, case.record, case.until))


def page_of(case: Whole, found: Handover) -> bytes:
    """One page to sign, on the paper the case asks for."""
    from log.exports.pdf import one_page  # the screen needs no typesetting

    return one_page(case, (page(case, found, due, most) for due, most in ON_PAGE))


def as_text(case: Whole) -> str:
    """The same as Markdown."""
    return as_markdown(page(case, handover(case.course, case.record, case.until), *ON_PAGE[0]))


def page(case: Whole, found: Handover, due: int, most: int) -> Document:
    """The case in rows, then the boxes of those who hand over and take over.

    `due`, `most`: lines of the list of what is due and of each other list; the rest is counted.
    """
    shortened = (_shortened(row, due, most) for row in rows(case.procedure, found))
    mark = f"{case.simulation}: " if case.simulation else ""
    blocks = (
        Heading(f"{mark}Hand-over: {case.procedure.title}", level=1),
        Paragraph(Strong(heading(case, found))),
        table(("What", "According to the log"), (cells for row in shortened for cells in _cells(row))),
        table(("", "Name in print", "Role", "Signature", "Date and time"), _to_sign()),
        cautions(case),
        Paragraph(made_from(case)),
    )
    return Document("Hand-over", blocks)


IN_A_LINE = 5
"""So many short items of a list stand beside each other on the page."""


def _shortened(row: Row, due: int, most: int) -> Row:
    """As long as the page allows; what was given, decided and went wrong stands in one line."""
    if row.lead not in IN_SHORT:
        return row.at_most(due if row.lead == "due" else most)
    return Row(row.lead, ("; ".join(row.at_most(most * IN_A_LINE).texts),))


def _to_sign() -> Iterator[Cells]:
    return ((who, BOX, BOX, BOX, BOX) for who in HANDED_OVER)


def _cells(row: Row) -> Iterator[Cells]:
    """One line of the table a text; the lead stands beside the first."""
    for number, text in enumerate(row.texts):
        short = len(text) <= LONGEST_ON_PAGE or not row.counted
        words = text if short else f"{text[:LONGEST_ON_PAGE].rstrip()} ... (in full in the note)"
        yield "" if number else Strong(row.lead), words


def heading(case: Whole, found: Handover) -> str:
    """The case, the moment, and how long ago the last entry was."""
    name = "" if case.deidentified else f"case {case.opened.case}{_label(case)} "
    last = found.last_entry
    last_entry = f"last entry {when(last.said_at, found.now)}" if last else "nothing is logged"
    return f"{name}at {stamp(found.now)}, according to the log; {last_entry}"


def _label(case: Whole) -> str:
    return f" ({case.opened.label})" if case.opened.label else ""


def rows(procedure: Procedure, found: Handover) -> Iterator[Row]:
    """Everything, row by row."""
    if (outcome := found.night.outcome) is not None and died(outcome):
        yield Row("OUTCOME", (said(outcome, found.now),))
    if found.situation.emergency is not None:
        yield Row("EMERGENCY", ("active, not cancelled",))
    yield Row("tube", tuple(_tubes(found)))
    for one in found.balloons:
        yield Row(f"{one.site} balloon", (balloon_in_words(one, found.now),))
    if found.watch.items:
        items = found.watch.items
        yield Row("due", tuple(_item(item, found.now) for item in items), tuple(item.when for item in items))
    yield Row("traction", (traction_in_words(found),))
    yield Row("mark", (mark_in_words(procedure, found) + may_lie(found.situation),))
    void = f"; {found.xray_void}: it no longer counts" if found.xray_void else ""
    yield Row("X-ray", (_last_word(found.xray, found.now) + void,))
    yield Row("bleeding", (_last_word(found.bleeding, found.now),))
    yield Row("came out, net", (_came_out(procedure, found),))
    yield Row("vital signs", (_vitals(found),))
    if found.gauges:
        readings = tuple(_gauge(one, found.now) for one in found.gauges)
        yield Row("readings", readings, tuple("reading" for _ in readings))
    yield Row("given in all", (_given(found),))
    yield from night_rows(found.night, found.now)
    yield Row("SCISSORS", (_scissors(found),))
    if found.emergency is not None:
        title, steps = found.emergency
        numbered = (f"{number}. {step.text}" for number, step in enumerate(steps, start=1))
        yield Row("airway blocked", (title, " ".join(numbered)))
    yield from _unsettled(procedure, found)
    if found.clocks:
        yield Row("clock", tuple(clock_moved(one) for one in found.clocks))
    yield Row("not listening", tuple(_gaps(found)) or ("no gap known",), tuple("gap" for _ in _gaps(found)))


def _tubes(found: Handover) -> Iterator[str]:
    """Whether one is in; each with its times, the last first."""
    if not found.situation.tube_in:
        used = "; NOT LOGGED when it went in: enter it" if found.watch.placed else ""
        yield f"not in, according to the log{used}"
    known = (tube for tube in reversed(found.tubes) if tube.inserted or tube.removed or len(found.tubes) > 1)
    yield from (tube_in_words(tube, found.now) for tube in known)


def _unsettled(procedure: Procedure, found: Handover) -> Iterator[Row]:
    earlier = {step.line.number: tube.number for tube in found.tubes[:-1] for step in tube.steps}
    findings = tuple(_finding(one, found.now, earlier) for one in found.findings)
    levels = tuple(one.finding.level for one in found.findings)
    yield Row("open findings", findings or ("none",), levels)
    asked = tuple(_asked(procedure, line, found.now) for line in found.asked)
    yield Row("not confirmed", asked or ("none",), tuple("question" for _ in asked))
    notes = tuple(f"line {line.number}, {when(line.said_at, found.now)}" for line in found.to_be_transcribed)
    if notes:
        yield Row("spoken notes", tuple(f"to be transcribed: {note}" for note in notes), tuple("note" for _ in notes))


def _item(item: Item, now: datetime) -> str:
    far = away(item.due_at, now, ahead=item.when == "next")
    return f"{WHEN[item.when]} {clock(item.due_at, now)} ({far}) {item.title}"


def _last_word(line: Line | None, now: datetime) -> str:
    if line is None:
        return "NOT LOGGED"
    word = shown(line.entry).replace("_", " ")
    return f"{word}{f', {line.entry.detail}' if line.entry.detail else ''} at {when(line.said_at, now)}"


def _came_out(procedure: Procedure, found: Handover) -> str:
    if not found.ports:
        return "no aspirate or lavage is logged"
    each = (
        f"{port(one.port)} {output_in_words(one)} ({_each(procedure, one)} mL; last {clock(one.last_at, found.now)})"
        for one in found.ports
    )
    return "; ".join(each)


def _each(procedure: Procedure, one: PortBalance) -> str:
    """ "aspirate 400, lavage in 250, lavage out 200"."""
    return ", ".join(f"{procedure.title_of(kind).lower()} {figure(amount)}" for kind, amount in one.sums.items())


def _gauge(one: Gauge, now: datetime) -> str:
    """The last reading of something a hospital has added, and whether it keeps its limits."""
    last, held = one.reading.last, limits_in_words(one.held)
    return f"{one.reading.name} {shown(last.entry)} at {when(last.said_at, now)}{f', {held}' if held else ''}"


def _vitals(found: Handover) -> str:
    """The last reading of each."""
    last = (
        f"{CAPITALS.get(one.name, one.name)} {shown(one.last.entry)} at {when(one.last.said_at, found.now)}"
        for one in found.vitals
    )
    return "; ".join(last) or "none is logged"


def _given(found: Handover) -> str:
    """Blood products and fluids; drugs are never added up."""
    each = (f"{one.name} {amount(one.amount, one.unit)}" for one in found.given)
    return "; ".join(each) or "no blood product or fluid is logged"


def _scissors(found: Handover) -> str:
    line = found.scissors
    if line is None:
        return NO_SCISSORS
    if line.entry.value == "missing":
        return f"MISSING, said {when(line.said_at, found.now)}: find them now"
    where = " ".join(part for part in (shown(line.entry), line.entry.detail) if part)
    return f"{where}, said {when(line.said_at, found.now)}"


def _finding(one: OpenFinding, now: datetime, earlier: Mapping[int, int]) -> str:
    """`earlier`: the tube of each line that is of one before the last."""
    finding = one.finding
    of = earlier.get(finding.number) if finding.number is not None else None
    tube = f" (tube {of})" if of is not None else ""
    where = f"line {finding.number}{tube}: " if finding.number is not None else ""
    seen = one.acknowledged
    who = f" (seen by {seen.author} {clock(seen.logged_at, now)}: {seen.reason})" if seen is not None else ""
    again = one.read_again
    since = f" (read again {clock(again.said_at, now)}: {shown(again.entry)})" if again is not None else ""
    level = finding.level.upper() if finding.level == "high" else finding.level
    return f"{SIGNS[finding.level]} {level} {where}{finding.message}{since}{who}"


def _asked(procedure: Procedure, line: Line, now: datetime) -> str:
    return f"line {line.number}, {when(line.said_at, now)}: {candidates(procedure, line)} counts in no total"


def _gaps(found: Handover) -> list[str]:
    """The newest first, and whether anybody listens."""
    now = found.now
    gaps = [f"{gap.seconds:.0f} s from {clock(gap.began_at, now)}: {gap.reason}" for gap in reversed(found.gaps)]
    closed = [f"since {when(found.closed.logged_at, now)}: {found.closed.reason}"] if found.closed else []
    return [*closed, *gaps]
