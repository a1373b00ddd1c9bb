"""A case as an HTML page, section by section: laid out here once, sent whole or only where it changed.

Whatever somebody said or typed is escaped. Every state is a word; colour and frame only repeat it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from html import escape

from log.basics.visible import visible
from log.exports.chart import chart
from log.exports.svg import as_svg
from log.summaries.whole import Whole
from log.words.wording import elapsed
from tui.views.balloons import BalloonAtAGlance
from tui.views.bedside import Bedside, FindingAtAGlance, NextAtAGlance, RunningAtAGlance, bedside
from tui.views.emergency import WAITS, EmergencyAtAGlance, emergency
from tui.views.last_entry import LastEntry
from tui.views.simulation import latest

Sections = Mapping[str, str]
"""The id of a part of the page -> what is in it."""

LONGEST_FIGURE = 12
"""Signs of a value for which the style sheet knows a size that fits into the width."""
GLANCE = 120
"""Characters of somebody's own words that are shown; all of them are in the log."""


def standing(case: Whole) -> Sections:
    """Sections that change only with the case."""
    view = bedside(case.course, case.record, case.until)
    up = emergency(case.course, case.record, case.until)
    return {
        "emergency": "".join(_emergency(up)),
        "cautions": "".join(_cautions(view.cautions)),
        "case": "".join(_case(case)),
        "last": "".join(_last(_waiting(view.last) if up else view.last)),
        "findings": "".join(_findings(view.findings)),
        "balloons": "".join(map(_balloon, view.balloons)),
        "tube": _pairs(view.tube),
        "sums": _pairs(view.sums) if view.sums else "<p>Nothing is logged.</p>",
        "next": "".join(_next(view.next)),
        "doubts": _pairs((("not confirmed", _lines(view)), ("gaps in hearing", view.gaps))),
        "chart": as_svg(chart(case)),
    }


def running(case: Whole, now: datetime) -> Sections:
    """Sections that change with the time. A replayed case may be ahead of the clock; then its own time counts."""
    at = max(now, case.until)
    view = bedside(case.course, case.record, at)
    return {
        "now": "".join(_now(case, at, ahead=at > now)),
        "alarmed": "".join(_alarmed(emergency(case.course, case.record, at))),
        "clocks": "".join(map(_clock, view.clocks)) or "<p>No clock is running.</p>",
        "note": f"<p><strong>{_text(view.notes.text)}</strong></p>" if view.notes else "",
    }


def _text(words: str) -> str:
    """Text that somebody said or typed, escaped so that it can only be read, and leaves room for the rest."""
    return escape(visible(words, GLANCE))


def _whole(words: str) -> str:
    """Text of which nothing may be left out."""
    return escape(visible(words))


def _cautions(cautions: Iterable[str]) -> Iterator[str]:
    for number, caution in enumerate(cautions):
        yield f"<li>{'' if number else '<strong>Caution:</strong> '}{_whole(caution)}</li>"


def _case(case: Whole) -> Iterator[str]:
    if case.simulation:
        yield f'<p class="closed"><strong>{_whole(case.simulation)}</strong></p>'
        yield from (f'<p class="closed">{_text(line)}</p>' for line in latest(case.record, 1))
    label = f" <span>{_text(case.opened.label)}</span>" if case.opened.label else ""
    yield f"<h1>Case {_text(case.opened.case)}{label}</h1>"
    yield f"<p>{_text(case.procedure.title)}</p>"
    closed = case.record.closed
    if closed is not None:
        since = f"since {closed.logged_at:%H:%M:%S}: nobody listens. ({_text(closed.reason)})"
        yield f'<p class="closed"><strong>THE LOG IS CLOSED</strong> {since}</p>'


def _now(case: Whole, at: datetime, ahead: bool) -> Iterator[str]:
    yield f"<p><time>{at:%H:%M:%S}</time>{' by the recording' if ahead else ''}</p>"
    yield f"<p>last written down {elapsed(case.until, at)} ago</p>"


def _last(last: LastEntry | None) -> Iterator[str]:
    if last is None:
        yield "<h2>Last entry</h2><p>Nothing is logged yet.</p>"
        return
    figures = last.large or last.value
    look = "figure" if last.large else "figure word"
    unit = f' <span class="unit">{_text(last.unit)}</span>' if last.large and last.unit else ""
    yield f'<div class="{last.standing.lower()}"><h2>Last entry, line {last.number}</h2>'
    yield f'<p class="standing"><strong>{last.standing}</strong></p>'
    yield f'<p class="what">{_text(last.what)}</p>'
    yield f'<p class="{look}" data-signs="{min(len(figures), LONGEST_FIGURE)}">'
    yield f'<span class="value">{_text(figures)}</span>{unit}</p>'
    if last.digits:
        yield f'<p class="digits">{_text(last.digits)}</p>'
    if last.standing == "ASKED":
        say = " Say" if last.answers else ""
        yield f'<p class="reason">Counts in no total until it is answered: {_text(last.reason)}.{say}</p>'
        if last.answers:
            yield f'<ul class="answers">{"".join(f"<li>{_text(answer)}</li>" for answer in last.answers)}</ul>'
    if last.total:
        yield f'<p class="total">{_text(last.total)}</p>'
    yield "</div>"


def _waiting(last: LastEntry | None) -> LastEntry | None:
    """While an emergency is up nobody has to answer."""
    return replace(last, answers=(), reason=WAITS) if last is not None and last.answers else last


def _alarmed(now: EmergencyAtAGlance | None) -> Iterator[str]:
    """The clock apart from the rest, or a screen reader would say all of it every second."""
    if now is not None:
        yield f"EMERGENCY <time>{now.clock}</time> <small>since {now.since:%H:%M:%S}</small>"


def _emergency(now: EmergencyAtAGlance | None) -> Iterator[str]:
    if now is None:
        return
    yield f"<p><strong>{_whole(now.title)}</strong></p>"
    if now.doubt:
        yield f"<p>{_whole(now.doubt)}</p>"
    yield f"<ol>{''.join(f'<li>{_whole(step)}</li>' for step in now.steps)}</ol>"
    yield f"<p>scissors: <b>{_text(now.scissors)}</b></p><p>inflated: <b>{_text('; '.join(now.inflated))}</b></p>"


def _findings(findings: Iterable[FindingAtAGlance]) -> Iterator[str]:
    found = tuple(findings)
    high = sum(finding.level == "high" for finding in found)
    yield f"<h2>Open findings: {len(found) or 'none'}{f', {high} of high priority' if high else ''}</h2>"
    if found:
        yield f"<ul>{''.join(map(_finding, found))}</ul>"


def _finding(found: FindingAtAGlance) -> str:
    word = "information" if found.level == "information" else f"{found.level} priority"
    line = f" <small>line {found.line}</small>" if found.line is not None else ""
    return (
        f'<li class="{found.level}"><strong><span aria-hidden="true">{found.sign} </span>{word}:</strong> '
        f"{_whole(found.message)}{line}</li>"
    )


def _balloon(balloon: BalloonAtAGlance) -> str:
    doubt = f' <strong class="doubt">{balloon.doubt} ITS LIMIT</strong>' if balloon.doubt else ""
    return (
        f'<div class="balloon"><h3>{_text(balloon.site)}{doubt}</h3>'
        f"<p><b>{_text(balloon.volume)}</b>{_limit(balloon.volume_range)}</p>"
        f"<p><b>{_text(balloon.pressure)}</b>{_limit(balloon.pressure_range)}</p></div>"
    )


def _limit(words: str) -> str:
    return f" <small>limit: {_text(words)}</small>" if words else ""


def _next(coming: NextAtAGlance | None) -> Iterator[str]:
    if coming is None:
        return
    if coming.what:
        yield f'<p><b>{_text(coming.what)}</b> <small>say: "{_text(coming.say)}"</small></p>'
    else:
        yield "<p>Nothing more by the protocol.</p>"
    if coming.passed_over:
        yield f"<p><small>not logged: {_text(', '.join(coming.passed_over))}</small></p>"


def _clock(clock: RunningAtAGlance) -> str:
    due = _text(clock.due)
    if clock.overdue:
        due = f"<strong>OVERDUE {_text(clock.due.removeprefix('DUE '))}</strong>"
    look = "clock overdue" if clock.overdue else "clock"
    title = f"<span>{_text(clock.title)}</span>"
    return f'<p class="{look}"><time>{clock.elapsed}</time> {title} <span class="due">{due}</span></p>'


def _lines(view: Bedside) -> str:
    return f"line {', '.join(map(str, view.not_confirmed))}" if view.not_confirmed else "nothing"


def _pairs(pairs: Iterable[tuple[str, str]]) -> str:
    rows = (f"<div><dt>{_text(what)}</dt><dd>{_text(how)}</dd></div>" for what, how in pairs)
    return f"<dl>{''.join(rows)}</dl>"
