"""A case as an HTML page, section by section: laid out here once, sent whole or only where it changed.

Whatever somebody said or typed is escaped. Every state is a word; colour and frame only repeat it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime

from log.exports.chart import NIGHT, chart
from log.exports.svg import as_svg
from log.summaries.whole import Whole
from log.words.wording import elapsed
from tui.serve.hero import as_html, banner, of_case, strip, text, waiting, whole_text
from tui.views.balloons import BalloonAtAGlance, tube_at_a_glance
from tui.views.bedside import Bedside, FindingAtAGlance, NextAtAGlance, RunningAtAGlance, bedside
from tui.views.emergency import EmergencyAtAGlance, emergency
from tui.views.simulation import latest

Sections = Mapping[str, str]
"""The id of a part of the page -> what is in it."""


def standing(case: Whole) -> Sections:
    """Sections that change only with the case."""
    view = bedside(case.course, case.record, case.until)
    up = emergency(case.course, case.record, case.until)
    return {
        "emergency": "".join(_emergency(up)),
        "cautions": "".join(_cautions(view.cautions)),
        "case": "".join(_case(case)),
        "findings": "".join(_findings(view.findings)),
        "balloons": "".join(map(_balloon, view.balloons)),
        "tube": _pairs(view.tube),
        "sums": _pairs(view.sums) if view.sums else "<p>Nothing is logged.</p>",
        "next": "".join(_next(view.next)),
        "doubts": _pairs((("not confirmed", _lines(view)), ("gaps in hearing", view.gaps))),
        "chart": as_svg(chart(case, NIGHT)),
    }


def running(case: Whole, now: datetime) -> Sections:
    """Sections that change with the time. A replayed case may be ahead of the clock; then its own time counts."""
    at = max(now, case.until)
    view = bedside(case.course, case.record, at)
    up = emergency(case.course, case.record, at)
    hero = of_case(case, at, up)
    return {
        "now": "".join(_now(case, at, ahead=at > now)),
        "alarmed": "".join(_alarmed(up)),
        "banner": banner(hero),
        "last": waiting(case) if up else as_html(hero),
        "strip": strip(tube_at_a_glance(case.course, case.record, at)) + _asked(view),
        "clocks": "".join(map(_clock, view.clocks)) or "<p>No clock is running.</p>",
        "note": f"<p><strong>{text(view.notes.text)}</strong></p>" if view.notes else "",
    }


def _cautions(cautions: Iterable[str]) -> Iterator[str]:
    for number, caution in enumerate(cautions):
        yield f"<li>{'' if number else '<strong>Caution:</strong> '}{whole_text(caution)}</li>"


def _case(case: Whole) -> Iterator[str]:
    if case.simulation:
        yield f'<p class="closed"><strong>{whole_text(case.simulation)}</strong></p>'
        yield from (f'<p class="closed">{text(line)}</p>' for line in latest(case.record, 1))
    label = f" <span>{text(case.opened.label)}</span>" if case.opened.label else ""
    yield f"<h1>Case {text(case.opened.case)}{label}</h1>"
    yield f"<p>{text(case.procedure.title)}</p>"
    closed = case.record.closed
    if closed is not None:
        since = f"since {closed.logged_at:%H:%M:%S}: nobody listens. ({text(closed.reason)})"
        yield f'<p class="closed"><strong>THE LOG IS CLOSED</strong> {since}</p>'


def _now(case: Whole, at: datetime, ahead: bool) -> Iterator[str]:
    yield f"<p><time>{at:%H:%M:%S}</time>{' by the recording' if ahead else ''}</p>"
    yield f"<p>last written down {elapsed(case.until, at)} ago</p>"


def _alarmed(now: EmergencyAtAGlance | None) -> Iterator[str]:
    """The clock apart from the rest, or a screen reader would say all of it every second."""
    if now is not None:
        yield f"EMERGENCY <time>{now.clock}</time> <small>since {now.since:%H:%M:%S}</small>"


def _emergency(now: EmergencyAtAGlance | None) -> Iterator[str]:
    if now is None:
        return
    yield f"<p><strong>{whole_text(now.title)}</strong></p>"
    if now.doubt:
        yield f"<p>{whole_text(now.doubt)}</p>"
    yield f"<ol>{''.join(f'<li>{whole_text(step)}</li>' for step in now.steps)}</ol>"
    yield f"<p>scissors: <b>{text(now.scissors)}</b></p><p>inflated: <b>{text('; '.join(now.inflated))}</b></p>"


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
        f"{whole_text(found.message)}{line}</li>"
    )


def _balloon(balloon: BalloonAtAGlance) -> str:
    doubt = f' <strong class="doubt">{balloon.doubt} ITS LIMIT</strong>' if balloon.doubt else ""
    return (
        f'<div class="balloon"><h3>{text(balloon.site)}{doubt}</h3>'
        f"<p><b>{text(balloon.volume)}</b>{_limit(balloon.volume_range)}</p>"
        f"<p><b>{text(balloon.pressure)}</b>{_limit(balloon.pressure_range)}</p></div>"
    )


def _limit(words: str) -> str:
    return f" <small>limit: {text(words)}</small>" if words else ""


def _next(coming: NextAtAGlance | None) -> Iterator[str]:
    if coming is None:
        return
    if coming.what:
        yield f'<p><b>{text(coming.what)}</b> <small>say: "{text(coming.say)}"</small></p>'
    else:
        yield "<p>Nothing more by the protocol.</p>"
    if coming.passed_over:
        yield f"<p><small>not logged: {text(', '.join(coming.passed_over))}</small></p>"


def _clock(clock: RunningAtAGlance) -> str:
    due = text(clock.due)
    if clock.overdue:
        due = f"<strong>OVERDUE {text(clock.due.removeprefix('DUE '))}</strong>"
    look = "clock overdue" if clock.overdue else "clock"
    title = f"<span>{text(clock.title)}</span>"
    return f'<p class="{look}"><time>{clock.elapsed}</time> {title} <span class="due">{due}</span></p>'


def _lines(view: Bedside) -> str:
    return f"line {', '.join(map(str, view.not_confirmed))}" if view.not_confirmed else "nothing"


def _asked(view: Bedside) -> str:
    """Questions that nobody answered stay in sight."""
    return f'<span class="medium">? not confirmed: {_lines(view)}</span>' if view.not_confirmed else ""


def _pairs(pairs: Iterable[tuple[str, str]]) -> str:
    rows = (f"<div><dt>{text(what)}</dt><dd>{text(how)}</dd></div>" for what, how in pairs)
    return f"<dl>{''.join(rows)}</dl>"
