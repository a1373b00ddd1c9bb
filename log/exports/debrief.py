"""The debriefing of a case in words: tables for paper, and the same in few lines for one screen. Facts and figures
only; what they mean is for the people who were there to say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from statistics import median

from log.basics.patterns import LEVELS
from log.definition.procedure import Procedure
from log.exports.document import Cells, Document, Heading, Paragraph, Strong, Table, section, table, unless_empty
from log.exports.lines import changed
from log.exports.markdown import as_markdown
from log.exports.second_hearing import second_hearing
from log.exports.tables import cautions, corrections, fate, gaps, made_from, missed
from log.rules.comparisons import Measured
from log.summaries.debrief import OUTCOMES, Debrief, FindingStory, ReadBack, StepTaken, debrief
from log.summaries.whole import Whole
from log.words.rows import Row
from log.words.second_hearing import progress_in_words
from log.words.wording import candidates, figure, listed, priority, sentence, span, stamp, stamp_beside

NOT_LOGGED = "not logged"
"""A step that is not logged although later ones are reached."""
SIDES = ("outside", "at", "inside")
FATES = ("never answered", "acknowledged", "settled")
"""In the order of the screen: what is still open first."""


def as_pdf(case: Whole) -> bytes:
    """On paper."""
    from log.exports.pdf import pages  # the screen needs no typesetting

    return pages(case, debriefing(case))


def as_text(case: Whole) -> str:
    """As Markdown."""
    return as_markdown(debriefing(case))


def debriefing(case: Whole) -> Document:
    """All of it."""
    found = debrief(case.course, case.record, case.until)
    mark = f"{case.simulation}: " if case.simulation else ""
    asked = [one for one in found.read_back if one.line.candidates]
    blocks = (
        Heading(f"{mark}Debriefing: {case.procedure.title}", level=1),
        Paragraph(heading(case, found)),
        cautions(case),
        *section("Steps of the protocol", _steps(found)),
        *section("Numbers against their limits, as they stand", _numbers(found)),
        *section("Findings", _findings(found)),
        *section("Read-back", _outcomes(found), *((_asked(case.procedure, asked),) if asked else ())),
        *section("Corrections", corrections(case, found.corrections)),
        *section("Late entries", _late(case.procedure, found)),
        *unless_empty("Looked for bleeding at the removal", _observed(found)),
        *second_hearing(case),
        *section("Gaps in hearing", gaps(found.gaps)),
        *section(f"Not understood: {len(found.missed)}", missed(found.missed)),
        Paragraph(made_from(case)),
        cautions(case),
    )
    return Document("Debriefing", blocks)


def heading(case: Whole, found: Debrief) -> str:
    """The case, its beginning and its end."""
    name = "" if case.deidentified else f"case {case.opened.case}, "
    length = span(found.ended - found.began)
    ended = stamp_beside(found.ended, found.began)
    return f"{name}from {stamp(found.began)} to {ended} ({length}), according to the log"


def _steps(found: Debrief) -> Table:
    rows = (
        (
            f"tube {step.tube}: {step.milestone.title}" if step.tube > 1 else step.milestone.title,
            stamp(step.at) if step.at else Strong(NOT_LOGGED) if step.state == "passed over" else step.state,
            "" if step.since_start is None else span(step.since_start),
            "" if step.since_before is None else span(step.since_before),
            "undone later" if step.state == "undone" else "",
        )
        for step in found.steps
    )
    head = ("Step", "Reached", "Since the opening", "Since the step before", "")
    return table(head, rows, "The definition has no steps.")


def _numbers(found: Debrief) -> Table:
    rows = (
        (
            str(one.line),
            stamp(one.at),
            one.what,
            f"{figure(one.value)} {one.unit}",
            one.bounds,
            Strong(one.side) if one.side == "outside" else one.side,
            f"{figure(one.margin)} {one.unit}",
        )
        for one in found.numbers
    )
    return table(("Line", "Time", "What", "Value", "Limit", "Where", "Margin"), rows, "No number had a limit.")


def _findings(found: Debrief) -> Table:
    rows = (
        (
            stamp(one.raised.logged_at),
            "none" if one.raised.number is None else str(one.raised.number),
            priority(one.raised.level),
            one.raised.message,
            span(one.open_for),
            fate(one.raised, one.settled, one.acknowledged),
        )
        for one in found.findings
    )
    return table(("Raised", "Line", "Level", "Message", "Open for", "Settled"), rows, "No rule had anything to say.")


def _outcomes(found: Debrief) -> Table:
    outcomes = Counter(one.outcome for one in found.read_back)
    rows: list[Cells] = [(outcome, str(outcomes[outcome])) for outcome in OUTCOMES]
    rows += [("of all lines, corrected afterwards", str(sum(one.corrected for one in found.read_back)))]
    rows += [("of all lines, struck afterwards", str(sum(one.struck for one in found.read_back)))]
    rows += [("from asked to answered", answers(found))] if found.answers else []
    return table(("Lines", "How many"), rows)


def _asked(procedure: Procedure, asked: Iterable[ReadBack]) -> Table:
    rows = (
        (
            str(one.line.number),
            stamp(one.line.said_at),
            candidates(procedure, one.line),
            one.outcome,
            "" if one.answered_after is None else _seconds(one.answered_after),
        )
        for one in asked
    )
    return table(("Line", "Time", "Asked", "Outcome", "Answered after"), rows)


def _late(procedure: Procedure, found: Debrief) -> Table:
    rows = (
        (str(line.number), stamp(line.said_at), sentence(procedure, line.entry), span(by), stamp(line.logged_at))
        for line, by in found.late
    )
    return table(("Line", "Happened", "Entry", "Late by", "Written down"), rows, "None.")


def _observed(found: Debrief) -> Table:
    rows = ((f"{site} balloon down, until the next step", span(time)) for site, time in found.observed)
    return table(("After", "For"), rows)


# ---- the same in few lines -------------------------------------------------------------------------------------------


def rows(procedure: Procedure, found: Debrief) -> Iterator[Row]:
    """Everything for one screen, row by row."""
    reached = [step for step in found.steps if step.at is not None]
    yield Row("reached", tuple(map(_taken, reached)) or ("no step",), tuple("step" for _ in reached))
    for state, lead in (("passed over", NOT_LOGGED), ("not reached", "not reached")):
        titles = [step.milestone.title for step in found.steps if step.state == state]
        if titles:
            yield Row(lead, (f"{len(titles)}: {', '.join(titles)}",), ("list",))
    yield Row("numbers", (counted([one.side for one in found.numbers], SIDES) or "none had a limit",))
    near = [one for side in ("outside", "at") for one in found.numbers if one.side == side]
    if near:
        yield Row("", tuple(map(_number, near)), tuple(one.side for one in near))
    stories = sorted(found.findings, key=lambda one: (FATES.index(one.fate), LEVELS.index(one.raised.level)))
    yield Row("findings", (counted([one.fate for one in stories], FATES) or "none",))
    if stories:
        yield Row("", tuple(map(_story, stories)), tuple(one.fate for one in stories))
    yield Row("read-back", (_readings(found),))
    fixed = tuple(
        f"line {one.line.number} {changed(procedure, one.line, one.change)}, after {span(one.after)}"
        for one in found.corrections
    )
    yield Row("corrections", fixed or ("none",), tuple("correction" for _ in fixed))
    late = tuple(f"line {line.number} by {span(by)}: {sentence(procedure, line.entry)}" for line, by in found.late)
    yield Row("late entries", late or ("none",), tuple("late entry" for _ in late))
    if found.observed:
        looked = ", ".join(f"{span(time)} after the {site} balloon went down" for site, time in found.observed)
        yield Row("looked", (looked,))
    total = sum(gap.seconds for gap in found.gaps)
    yield Row("gaps", (f"{len(found.gaps)}, {span(timedelta(seconds=total))} in all" if found.gaps else "none known",))
    yield Row("not understood", (str(len(found.missed)),))
    if found.heard_again is not None:
        yield Row("heard again", (progress_in_words(found.heard_again),))


def _taken(step: StepTaken) -> str:
    since_start = span(step.since_start or timedelta(0))
    since_before = span(step.since_before or timedelta(0))
    undone = " (undone later)" if step.state == "undone" else ""
    return f"{since_start:>8}  +{since_before}  {step.milestone.title}{undone}"


def _number(one: Measured) -> str:
    unit = one.unit
    far = f" by {figure(-one.margin)} {unit}" if one.side == "outside" else ""
    return f"{one.side}{far}: line {one.line}, {one.what} {figure(one.value)} {unit} ({one.bounds})"


def _story(one: FindingStory) -> str:
    where = f"line {one.raised.number}: " if one.raised.number is not None else ""
    return f"{one.fate}, open {span(one.open_for)}: {one.raised.level}, {where}{one.raised.message}"


def _readings(found: Debrief) -> str:
    outcomes = counted([one.outcome for one in found.read_back], OUTCOMES) or "no lines"
    later = (
        (sum(one.corrected for one in found.read_back), "corrected afterwards"),
        (sum(one.struck for one in found.read_back), "struck afterwards"),
    )
    more = listed(f"{number} {what}" for number, what in later if number)
    time = f"answered after {answers(found)}" if found.answers else ""
    return listed((outcomes, more, time))


def answers(found: Debrief) -> str:
    """The times from question to answer: shortest, median, longest."""
    times = found.answers
    if len(times) == 1:
        return _seconds(times[0])
    middle = median(time.total_seconds() for time in times)
    return f"{_seconds(times[0])} to {_seconds(times[-1])}, median {middle:.1f} s, of {len(times)}"


def counted(found: Sequence[str], order: Sequence[str]) -> str:
    """The number of each that occurs, in this order."""
    counts = Counter(found)
    return ", ".join(f"{counts[what]} {what}" for what in order if counts[what])


def _seconds(time: timedelta) -> str:
    return f"{time.total_seconds():.1f} s"
