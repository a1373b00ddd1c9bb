"""The thing that matters now, and the balloons in one line, as HTML: the same values that the room's screen draws."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from html import escape

from log.basics.visible import visible
from log.summaries.whole import Whole
from tui.views.balloons import ARROWS, BalloonAtAGlance, TubeAtAGlance
from tui.views.emergency import WAITS, EmergencyAtAGlance
from tui.views.hero import (
    Due,
    Emergency,
    Hero,
    Moment,
    NewHigh,
    NotUnderstood,
    OpenQuestion,
    Pressures,
    Reading,
    Trouble,
    hero,
)
from tui.views.last_entry import LastEntry, last_entry
from tui.views.watch import attending, is_placed

LONGEST_FIGURE = 12
"""Signs of a value for which the style sheet knows a size that fits into the width."""
GLANCE = 120
"""Characters of somebody's own words that are shown; all of them are in the log."""
MISSED_FOR = timedelta(seconds=60)
"""For which words that were not understood stand on the page, unless something else was said."""
WATCH_AFTER = timedelta(minutes=10)
"""After which without an entry a placed tube is watched rather than its last entry read back."""


def of_case(case: Whole, at: datetime, up: EmergencyAtAGlance | None) -> Hero:
    """The thing that matters now. A page hears nothing: it knows of no trouble with the sound but from gaps."""
    last = case.record.lines[-1].said_at if case.record.lines else None
    quiet = last is not None and at - last >= WATCH_AFTER
    watched = quiet and case.record.closed is None and is_placed(case.course)
    watch = attending(case.course, at, case.record) if watched else None
    missed = _missed(case, at)
    return hero(Moment(course=case.course, record=case.record, now=at, emergency=up, missed=missed, watch=watch))


def _missed(case: Whole, at: datetime) -> str:
    if not case.record.missed:
        return ""
    missed = case.record.missed[-1]
    since = case.record.lines[-1].logged_at if case.record.lines else missed.logged_at
    if missed.logged_at < since or at - missed.logged_at > MISSED_FOR:
        return ""
    return f'"{missed.origin.heard}" ({missed.reason})'


def text(words: str) -> str:
    """Text that somebody said or typed, escaped so that it can only be read, and leaves room for the rest."""
    return escape(visible(words, GLANCE))


def whole_text(words: str) -> str:
    """Text of which nothing may be left out."""
    return escape(visible(words))


def banner(now: Hero) -> str:
    """A finding of high priority that nobody has acknowledged, over the whole width."""
    if not isinstance(now, NewHigh):
        return ""
    more = f" <small>and {now.others} more of high priority</small>" if now.others else ""
    return f'<p><strong><span aria-hidden="true">!!! </span>HIGH</strong> {whole_text(now.found.message)}{more}</p>'


def as_html(now: Hero) -> str:
    """The thing that matters now; an emergency stands above it, and the last entry stays in its place."""
    return "".join(_parts(now))


def _parts(now: Hero) -> Iterator[str]:
    match now:
        case Emergency():
            yield ""
        case OpenQuestion():
            yield from _question(now)
        case NotUnderstood():
            yield '<div class="missed"><h2>Not logged</h2>'
            yield f'<p class="what">{whole_text(now.missed)}</p>{_figure("SAY AGAIN", "figure word")}'
            yield from _before(now.before)
        case Trouble():
            yield f'<div class="trouble"><h2>{now.what}</h2><p class="what">{whole_text(now.why)}</p>'
            yield _figure(now.what, "figure word")
            yield from _before(now.before)
        case NewHigh(last=LastEntry() as last):
            yield from _entry(last, "high" if now.of_the_last else "")
        case Reading():
            yield from _entry(now.last)
        case Due():
            yield from _due(now)
        case Pressures():
            rows = "".join(
                f"<p class='what'>{text(site)} pressure</p>{_figure(mmhg, 'figure', 'mmHg')}"
                for site, mmhg in now.read
                if mmhg
            )
            yield f'<div class="pressures"><h2>Pressures</h2>{rows}</div>'
        case _:
            yield "<h2>Last entry</h2><p>Nothing is logged yet.</p>"


def _entry(last: LastEntry, level: str = "") -> Iterator[str]:
    yield f'<div class="{last.standing.lower()} {level}"><h2>Last entry, line {last.number}</h2>'
    yield f'<p class="standing"><strong>{last.standing}</strong></p><p class="what">{text(last.what)}</p>'
    yield _figure(last.large or last.value, "figure" if last.large else "figure word", last.unit if last.large else "")
    if last.digits:
        yield f'<p class="digits">{text(last.digits)}</p>'
    if last.total:
        yield f'<p class="total">{text(last.total)}</p>'
    yield "</div>"


def waiting(case: Whole) -> str:
    """The last entry while an emergency is up: nobody has to answer."""
    last = last_entry(case.course, case.record)
    if last is None:
        return ""
    why = f'<p class="reason">Not confirmed: {WAITS}.</p>' if last.standing == "ASKED" else ""
    return "".join(_entry(last)) + why


def _question(now: OpenQuestion) -> Iterator[str]:
    last = now.last
    yield f'<div class="asked"><h2>Question, line {last.number}</h2>'
    yield f'<p class="standing"><strong>ASKED</strong></p><p class="what">{text(last.what)}</p>'
    readings = " <small>or</small> ".join(f'<span class="value">{text(one)}</span>' for one in last.readings)
    signs = min(sum(map(len, last.readings)) + 3, LONGEST_FIGURE)
    yield f'<p class="figure" data-signs="{signs}">{readings} ? <span class="unit">{text(last.unit)}</span></p>'
    if last.answers:
        yield f'<ul class="answers">{"".join(f"<li>Say {text(answer)}</li>" for answer in last.answers)}</ul>'
    yield f'<p class="reason">Counts in no total until it is answered: {text(last.reason)}.</p>'
    if now.missed:
        yield f'<p class="reason"><strong>NOT LOGGED:</strong> {whole_text(now.missed)}</p>'
    yield "</div>"


def _due(now: Due) -> Iterator[str]:
    one, late = now.one, now.one.when != "next"
    hours = one.away.removeprefix("in ").removesuffix(" ago")
    yield f'<div class="{"overdue" if late else "coming"}"><h2>The watch</h2>'
    yield f'<p class="standing"><strong>{text(one.word)}</strong></p><p class="what">{text(one.title)}</p>'
    yield _figure(hours, "figure", "h late" if late else "h to go")
    others = f" and {now.others} more" if now.others else ""
    yield f'<p class="total">{"since" if late else "at"} {text(one.at)}{others}</p>'
    yield from _before(now.last)


def _figure(words: str, look: str, unit: str = "") -> str:
    beside = f' <span class="unit">{text(unit)}</span>' if unit else ""
    signs = min(len(words), LONGEST_FIGURE)
    return f'<p class="{look}" data-signs="{signs}"><span class="value">{text(words)}</span>{beside}</p>'


def _before(last: LastEntry | None) -> Iterator[str]:
    if last is not None:
        yield f"<p>last: line {last.number}, {text(last.what)} {text(last.value)}</p>"
    yield "</div>"


def strip(now: TubeAtAGlance) -> str:
    """The balloons and what they rely on, in one line that stays in sight."""
    look, sign = ("", "✔") if now.confirmed else ("medium", "✘")
    film = f'<span class="{look}">film {sign} {text(now.film)}</span>'
    mark = f'<span class="{"high" if now.moved else ""}">{"▲ " if now.moved else ""}mark {text(now.mark)}</span>'
    up = f"<span>up {now.up} h</span>" if now.up else "<span>not up</span>"
    high = f'<span class="{"bar" if now.high else ""}">{now.high or "no"} HIGH open</span>'
    return "".join((*map(_balloon, now.balloons), film, mark, up, high))


def _balloon(balloon: BalloonAtAGlance) -> str:
    sign = {"above": "▲", "below": "▼", "": ""}
    parts = (
        f'<b class="{"high" if gauge.beyond else ""}">{text(gauge.text)}{ARROWS[gauge.way]}{sign[gauge.beyond]}</b>'
        for gauge in (balloon.filled, balloon.held)
    )
    return f"<span>{text(balloon.site)} {' '.join(parts)}</span>"
