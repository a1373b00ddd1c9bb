"""The debriefing of a case in words: tables for paper, and the same in few lines for one screen. Facts and figures
only; what they mean is for the people who were there to say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta
from statistics import median

from log.definition.procedure import LEVELS, Procedure
from log.exports.markdown import cautions, escaped, table
from log.exports.timeline import made_from
from log.facts.line import Line
from log.rules.comparisons import Measured
from log.summaries.debrief import OUTCOMES, Correction, Debrief, FindingStory, StepTaken, debrief
from log.summaries.whole import Whole
from log.words.rows import Row
from log.words.wording import figure, listed, sentence, span, stamp, stamp_beside

SIDES = ("outside", "at", "inside")
FATES = ("never answered", "acknowledged", "settled")
"""In the order in which they are told on the screen: what is still open first."""


def as_pdf(case: Whole) -> bytes:
    """On paper."""
    from log.exports.pdf import pages  # the screen needs no typesetting

    return pages(case, "Debriefing", as_markdown(case))


def as_markdown(case: Whole) -> str:
    """All of it as Markdown."""
    found = debrief(case.course, case.record, case.until)
    mark = f"{case.simulation}: " if case.simulation else ""
    parts = (
        [f"# {escaped(mark)}Debriefing: {escaped(case.procedure.title)}", "", escaped(heading(case, found)), ""],
        cautions(case.procedure.cautions),
        _steps(found),
        _numbers(found),
        _findings(found),
        _read_back(case.procedure, found),
        _corrections(case.procedure, found),
        _late(case.procedure, found),
        _observed(found),
        _unheard(found),
        [escaped(made_from(case)), ""],
        cautions(case.procedure.cautions),
    )
    return "\n".join(line for part in parts for line in part).rstrip("\n") + "\n"


def heading(case: Whole, found: Debrief) -> str:
    """Which case, from when to when."""
    name = "" if case.deidentified else f"case {case.opened.case}, "
    length = span(found.ended - found.began)
    return f"{name}from {stamp(found.began)} to {stamp_beside(found.ended, found.began)} ({length}), by what was logged"


def _steps(found: Debrief) -> list[str]:
    rows = (
        (
            escaped(step.milestone.title),
            stamp(step.at) if step.at else f"**{step.state}**" if step.state == "passed over" else step.state,
            "" if step.since_start is None else span(step.since_start),
            "" if step.since_before is None else span(step.since_before),
            "undone later" if step.state == "undone" else "",
        )
        for step in found.steps
    )
    head = ("Step", "Reached", "Since the opening", "Since the step before", "")
    return ["## Steps of the protocol", "", *_table(head, rows, "The definition has no steps.")]


def _numbers(found: Debrief) -> list[str]:
    rows = (
        (
            str(one.line),
            stamp(one.at),
            escaped(one.what),
            f"{figure(one.value)} {escaped(one.unit)}",
            escaped(one.bounds),
            f"**{one.side}**" if one.side == "outside" else one.side,
            f"{figure(one.margin)} {escaped(one.unit)}",
        )
        for one in found.numbers
    )
    head = ("Line", "Time", "What", "Value", "Limit", "Where", "Margin")
    return ["## Numbers against their limits, as they stand", "", *_table(head, rows, "No number had a limit.")]


def _findings(found: Debrief) -> list[str]:
    rows = (
        (
            stamp(one.raised.logged_at),
            "none" if one.raised.number is None else str(one.raised.number),
            one.raised.level,
            escaped(one.raised.message),
            span(one.open_for),
            escaped(fate(one)),
        )
        for one in found.findings
    )
    head = ("Raised", "Line", "Priority", "Finding", "Open for", "What became of it")
    return ["## Findings", "", *_table(head, rows, "No rule had anything to say.")]


def _read_back(procedure: Procedure, found: Debrief) -> list[str]:
    outcomes = Counter(one.outcome for one in found.read_back)
    rows: list[tuple[str, str]] = [(outcome, str(outcomes[outcome])) for outcome in OUTCOMES]
    later = [("of all lines, corrected afterwards", sum(one.corrected for one in found.read_back))]
    later += [("of all lines, struck afterwards", sum(one.struck for one in found.read_back))]
    rows += [(what, str(number)) for what, number in later]
    rows += [("from asked to answered", answers(found))] if found.answers else []
    asked = [one for one in found.read_back if one.line.candidates]
    each = (
        (
            str(one.line.number),
            stamp(one.line.said_at),
            escaped(_candidates(procedure, one.line)),
            one.outcome,
            "" if one.answered_after is None else _seconds(one.answered_after),
        )
        for one in asked
    )
    tables = [*table(("Lines", "How many"), rows)]
    if asked:
        tables += table(("Line", "Time", "Asked", "Outcome", "Answered after"), each)
    return ["## Read-back", "", *tables]


def _corrections(procedure: Procedure, found: Debrief) -> list[str]:
    rows = (
        (
            str(one.line.number),
            stamp(one.change.at),
            escaped(changed(procedure, one)),
            span(one.after),
            escaped(one.change.reason),
            escaped(one.change.origin.author),
        )
        for one in found.corrections
    )
    head = ("Line", "Changed", "What", "After", "Why", "By")
    return ["## Corrections", "", *_table(head, rows, "None.")]


def _observed(found: Debrief) -> list[str]:
    if not found.observed:
        return []
    rows = ((f"{escaped(site)} balloon down, until the next step", span(time)) for site, time in found.observed)
    return ["## Looked for bleeding at the removal", "", *_table(("After", "For"), rows, "")]


def _late(procedure: Procedure, found: Debrief) -> list[str]:
    rows = (
        (
            str(line.number),
            stamp(line.said_at),
            escaped(sentence(procedure, line.entry)),
            span(by),
            stamp(line.logged_at),
        )
        for line, by in found.late
    )
    return ["## Late entries", "", *_table(("Line", "Happened", "Entry", "Late by", "Written down"), rows, "None.")]


def _unheard(found: Debrief) -> list[str]:
    gaps = ((stamp(gap.began_at), f"{gap.seconds:.1f} s", escaped(gap.reason)) for gap in found.gaps)
    missed = ((stamp(one.said_at), escaped(one.origin.heard), escaped(one.reason)) for one in found.missed)
    return [
        "## Gaps in hearing",
        "",
        *_table(("Began", "For", "Why"), gaps, "None known."),
        f"## Not understood: {len(found.missed)}",
        "",
        *_table(("Time", "Heard", "Why it made no entry"), missed, "Nothing."),
    ]


def _table(head: Sequence[str], rows: Iterator[tuple[str, ...]], none: str) -> list[str]:
    known = list(rows)
    return table(head, known) if known else [none, ""]


# ---- the same in few lines -------------------------------------------------------------------------------------------


def rows(procedure: Procedure, found: Debrief) -> Iterator[Row]:
    """Everything for one screen, row by row."""
    reached = [step for step in found.steps if step.at is not None]
    yield Row("reached", tuple(map(_taken, reached)) or ("no step",), tuple("step" for _ in reached))
    for state in ("passed over", "not reached"):
        titles = [step.milestone.title for step in found.steps if step.state == state]
        if titles:
            yield Row(state, (f"{len(titles)}: {', '.join(titles)}",), ("list",))
    yield Row("numbers", (counted([one.side for one in found.numbers], SIDES) or "none had a limit",))
    told = [one for side in ("outside", "at") for one in found.numbers if one.side == side]
    if told:
        yield Row("", tuple(map(_number, told)), tuple(one.side for one in told))
    stories = sorted(found.findings, key=lambda one: (FATES.index(one.fate), LEVELS.index(one.raised.level)))
    yield Row("findings", (counted([one.fate for one in stories], FATES) or "none",))
    if stories:
        yield Row("", tuple(map(_story, stories)), tuple(one.fate for one in stories))
    yield Row("read-back", (_readings(found),))
    fixed = tuple(
        f"line {one.line.number} {changed(procedure, one)}, after {span(one.after)}" for one in found.corrections
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
    told = counted([one.outcome for one in found.read_back], OUTCOMES) or "no lines"
    later = (
        (sum(one.corrected for one in found.read_back), "corrected afterwards"),
        (sum(one.struck for one in found.read_back), "struck afterwards"),
    )
    more = listed(f"{number} {what}" for number, what in later if number)
    time = f"answered after {answers(found)}" if found.answers else ""
    return listed((told, more, time))


def answers(found: Debrief) -> str:
    """The times from question to answer: shortest, median, longest."""
    times = found.answers
    if len(times) == 1:
        return _seconds(times[0])
    middle = median(time.total_seconds() for time in times)
    return f"{_seconds(times[0])} to {_seconds(times[-1])}, median {middle:.1f} s, of {len(times)}"


def counted(found: Sequence[str], order: Sequence[str]) -> str:
    """How many of each, in this order, without what there is none of."""
    counts = Counter(found)
    return ", ".join(f"{counts[what]} {what}" for what in order if counts[what])


def fate(one: FindingStory) -> str:
    """What became of a finding, and when."""
    seen, settled = one.acknowledged, one.settled
    parts = []
    if settled is not None:
        parts.append(f"settled {stamp_beside(settled.logged_at, one.raised.logged_at)}: {settled.how}")
    if seen is not None:
        when = stamp_beside(seen.logged_at, one.raised.logged_at)
        parts.append(f"acknowledged {when} by {seen.author}: {seen.reason}")
    return "; ".join(parts) or "never answered"


def changed(procedure: Procedure, one: Correction) -> str:
    """What a correction did: "struck: x-ray not confirmed", "gastric pressure 60 mmHg -> gastric pressure 35 mmHg"."""
    change = one.change
    if change.what == "struck":
        unconfirmed = one.line.candidates and one.line.changes[0] is change
        return f"struck: {_candidates(procedure, one.line) if unconfirmed else sentence(procedure, change.before)}"
    if change.what == "restored":
        return f"put back: {sentence(procedure, change.after)}"
    moved = f", time was {stamp_beside(change.moved_from, one.line.said_at)}" if change.moved_from else ""
    if change.before == change.after:
        return f"{sentence(procedure, change.after)}{moved}"
    return f"{sentence(procedure, change.before)} -> {sentence(procedure, change.after)}{moved}"


def _candidates(procedure: Procedure, line: Line) -> str:
    return " or ".join(sentence(procedure, entry) for entry in line.candidates) + "?"


def _seconds(time: timedelta) -> str:
    return f"{time.total_seconds():.1f} s"
