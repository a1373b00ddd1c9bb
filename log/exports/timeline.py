"""The case as one page for a screen: the chart, and everything in the order in which it happened, with what became of
each line, who said or typed it, and what the rules had to say.

The page stands alone: no script, no picture and no reference outside itself. It reads on a telephone, in the dark, and
printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from html import escape

from log.basics.visible import visible
from log.exports.chart import chart
from log.exports.svg import COLOURS, as_svg
from log.facts.events import NoteWritten, Origin
from log.facts.line import Change, Line
from log.facts.record import RaisedFinding
from log.facts.simulation import MARK, played_in_words
from log.facts.spoken_notes import spoken_notes
from log.rules.course import Stage
from log.summaries.whole import Whole
from log.words.totals import led_to
from log.words.wording import SIGNS, elapsed, sentence, shown, stamp, stamp_beside, way

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_DARK = {
    "ink": "#eeeeee",
    "soft": "#a8a8a8",
    "faint": "#3a3a3a",
    "limit": "#ff9a9a",
    "first": "#7cc4ff",
    "second": "#ffb86b",
    "third": "#b5e07a",
    "paper": "#161616",
}

Row = tuple[datetime, str]
"""When it happened, and its table row."""


def as_html(case: Whole) -> str:
    """The page, as text to be written in UTF-8."""
    name = _text(f"Case {case.opened.case}")
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{_mark(case)}{name}: timeline</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            "<header>",
            *_simulation(case),
            f"<h1>{name}: timeline</h1>",
            f"<p>{_text(case.procedure.title)}{_label(case)}</p>",
            *_cautions(case),
            "</header>",
            "<main>",
            "<h2>Chart</h2>",
            f'<div class="wide" role="region" aria-label="Chart" tabindex="0">{as_svg(chart(case))}</div>',
            "<h2>Timeline</h2>",
            *_table(case),
            "</main>",
            f"<footer><p>{escape(made_from(case))}</p>",
            *_simulation(case),
            *_cautions(case),
            "</footer>",
            "</body>",
            "</html>",
            "",
        )
    )


def made_from(case: Whole) -> str:
    """Which log this was made from, in one line, to be compared with the log itself."""
    if case.deidentified:
        return f"identity removed, {len(case.links)} facts"
    facts, sha256 = (case.head.facts, case.head.sha256) if case.head else (len(case.links), case.links[-1].sha256)
    return f"log SHA-256 {sha256}, {facts} facts"


def _text(words: str) -> str:
    """What somebody said or typed, so that it is read and does nothing else."""
    return escape(visible(words))


def _label(case: Whole) -> str:
    return f", {_text(case.opened.label)}" if case.opened.label else ""


def _mark(case: Whole) -> str:
    return f"{MARK}: " if case.simulation else ""


def _simulation(case: Whole) -> Iterator[str]:
    """Of a rehearsal that it is one."""
    if case.simulation:
        yield f'<p class="simulation"><strong>{_text(case.simulation)}</strong></p>'


def _cautions(case: Whole) -> Iterator[str]:
    yield '<div class="caution">'
    yield from (f"<p><strong>Caution:</strong> {_text(caution)}</p>" for caution in case.procedure.cautions)
    yield "</div>"


# ---- the table: lines and whatever else happened, in one order -------------------------------------------------------


def _table(case: Whole) -> Iterator[str]:
    yield "<table>"
    yield "<caption>All in the order of its time. What is struck or not confirmed counts in no total.</caption>"
    heads = (f'<th scope="col">{head}</th>' for head in ("Line", "Elapsed and clock time", "What", "Status"))
    yield f"<thead><tr>{''.join(heads)}</tr></thead>"
    yield "<tbody>"
    findings: dict[int | None, list[str]] = {}
    for found in case.record.findings:
        findings.setdefault(found.raised.number, []).append(_finding(case, found))
    for written in case.record.notes:
        if written.number is not None:
            findings.setdefault(written.number, []).append(f'<li class="note">{_note(written)}</li>')
    for note in spoken_notes(case.record):
        findings.setdefault(note.line.number, []).append(f'<li class="note">{_text(note.told)}</li>')
    lines = (_line_row(case, stage, findings.get(stage.line.number, [])) for stage in case.course.stages)
    rows = (*lines, *_other_rows(case))
    yield from (row for _, row in sorted(rows, key=lambda row: row[0]))
    yield "</tbody>"
    yield "</table>"
    if case.record.speech:
        yield f"<p>{len(case.record.speech)} stretches of speech that were not for the log were kept.</p>"


def _row(case: Whole, at: datetime, number: str, what: str, status: str, look: str) -> Row:
    times = dict.fromkeys((elapsed(case.opened.logged_at, at), stamp(at).removeprefix("+")))
    cells = f'<th scope="row">{number}</th><td>{"<br>".join(map(escape, times))}</td><td>{what}</td><td>{status}</td>'
    return at, f'<tr class="{look}">{cells}</tr>'


def _line_row(case: Whole, stage: Stage, findings: Iterable[str]) -> Row:
    line = stage.line
    notes = "".join((*(f'<li class="note">{note}</li>' for note in _notes(case, stage)), *findings))
    what = f"<p>{_entry(case, line)}</p><ul>{notes}</ul>"
    return _row(case, line.said_at, str(line.number), what, _status(line), line.status)


def _status(line: Line) -> str:
    match line.status:
        case "asked":
            return "<strong>not confirmed</strong>"
        case "struck":
            return "struck"
        case "stands":
            return "stands, corrected" if any(change.what == "amended" for change in line.changes) else "stands"


def _entry(case: Whole, line: Line) -> str:
    if line.status == "asked":
        return f"<strong>NOT CONFIRMED:</strong> {_question(case, line)}"
    before = [_struck(sentence(case.procedure, c.before)) for c in line.changes if c.what == "amended"]
    if line.status == "stands":
        return " ".join((*before, _text(sentence(case.procedure, line.entry))))
    never_confirmed = line.candidates and all(change.what in ("struck", "restored") for change in line.changes)
    last = f"<del>{_question(case, line)}</del>" if never_confirmed else _struck(sentence(case.procedure, line.entry))
    return " ".join((*before, last))


def _struck(text: str) -> str:
    """Struck through for the eye, and in words for those who listen."""
    return f'<span class="heard-only">struck: </span><del>{_text(text)}</del>'


def _question(case: Whole, line: Line) -> str:
    return _text(" or ".join(sentence(case.procedure, entry) for entry in line.candidates) + "?")


def _notes(case: Whole, stage: Stage) -> Iterator[str]:
    line = stage.line
    total = led_to(stage.step) if line.status == "stands" else ""
    if total:
        yield f"led to {_text(total)}"
    yield _heard(line.origin)
    if line.candidates:
        yield f"asked: {_question(case, line)} ({_text(line.reason)})"
    for change in line.changes:
        yield _change(case, line, change)
    if line.late_by is not None:
        reason = f": {_text(line.late_reason)}" if line.late_reason else ""
        yield f"late entry, written down {escape(stamp_beside(line.logged_at, line.said_at))}{reason}"


def _heard(origin: Origin) -> str:
    how = "typed" if origin.by == "typed" else f"voice, {round(origin.confidence * 100)} % sure,"
    by = f" by {_text(origin.author)}" if origin.author else ""
    words = f": “{_text(origin.heard)}”" if origin.heard else ""
    return f"{how}{by}".rstrip(",") + words


def _change(case: Whole, line: Line, change: Change) -> str:
    parts = [f"{change.what} {escape(stamp_beside(change.at, line.said_at))}"]
    if change.what == "answered":
        parts.append(_text(sentence(case.procedure, change.after)))
    if change.what == "amended":
        parts.append(f"{_text(shown(change.before))} became {_text(shown(change.after))}")
    if change.moved_from is not None:
        parts.append(f"moved here from {escape(stamp_beside(change.moved_from, line.said_at))}")
    if change.reason:
        parts.append(_text(change.reason))
    return f"{', '.join(parts)} ({_heard(change.origin)})"


def _note(written: NoteWritten) -> str:
    by = f" by {_text(written.author)}" if written.author else ""
    when = escape(stamp_beside(written.logged_at, written.said_at))
    return f"note{by}, written down {when}: “{_text(written.text)}”"


def _finding(case: Whole, found: RaisedFinding) -> str:
    raised, settled = found.raised, found.settled
    word = "information" if raised.level == "information" else f"{raised.level} priority"
    end = "<strong>still open</strong>"
    if settled is not None:
        end = f"settled {escape(stamp_beside(settled.logged_at, raised.logged_at))}: {_text(settled.how)}"
    seen = case.record.acknowledged(raised)
    if seen is not None:
        by = f" by {_text(seen.author)}" if seen.author else ""
        when = escape(stamp_beside(seen.logged_at, raised.logged_at))
        end += f"; acknowledged{by} {when}: {_text(seen.reason)}"
    return (
        f'<li class="{raised.level}"><strong><span aria-hidden="true">{SIGNS[raised.level]} </span>{word}:</strong> '
        f"{_text(raised.message)} <small>{_text(raised.source)}</small> ({end})</li>"
    )


def _other_rows(case: Whole) -> Iterator[Row]:
    """What happened that is no line of the log."""
    record, opened = case.record, case.opened

    def row(at: datetime, what: str, status: str, *more: str, author: str = "") -> Row:
        by = f" by {_text(author)}" if author else ""
        return _row(case, at, "", f"<p>{what}{by}</p>{''.join(more)}", status, "other")

    yield row(opened.logged_at, "the log was opened", "log", author=opened.author)
    for resumed in record.resumed:
        back = resumed.clock_set_back_s
        clock = f"<p>The machine's clock read {back:.0f} s less; times go on from the last fact.</p>" if back else ""
        yield row(resumed.logged_at, "the log was taken up again", "log", clock, author=resumed.author)
    for missed in record.missed:
        yield row(missed.said_at, _heard(missed.origin), f"no entry: {_text(missed.reason)}")
    for gap in record.gaps:
        yield row(
            gap.began_at, f"nothing could be heard for {gap.seconds:.1f} s: {_text(gap.reason)}", "gap in hearing"
        )
    for found in record.findings:
        if found.raised.number is None:
            yield row(found.raised.logged_at, "beside no line", "finding", f"<ul>{_finding(case, found)}</ul>")
    for written in record.notes:
        if written.number is None:
            yield row(written.said_at, _note(written), "note")
    for changed in record.ways:
        yield row(changed.logged_at, f"listening: {_text(way(changed))}", "log", author=changed.author)
    for removed in record.removals:
        what = "sounds were removed" if removed.fact == "sounds_removed" else "identifiers were removed"
        yield row(removed.logged_at, f"{what} ({_text(removed.reason)})", "log", author=removed.author)
    for played in record.played:
        yield row(played.said_at, _text(played_in_words(played)), "played by the simulation, no entry")
    if record.identified is not None:
        yield row(record.identified.logged_at, "identifiers were written down", "log", author=record.identified.author)
    if record.closed is not None:
        yield row(record.closed.logged_at, f"the log was closed: {_text(record.closed.reason)}", "log")


# ---- how it looks ---------------------------------------------------------------------------------------------------


def _variables(colours: Iterable[tuple[str, str]]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in colours)


_TONES = "".join(
    f".line.{name},.shape.{name}{{stroke:var(--{name})}}text.{name},.{name}-inside{{fill:var(--{name})}}"
    for name in COLOURS
)
_STYLE = f"""
:root{{color-scheme:light dark;{_variables(COLOURS.items())}}}
@media screen and (prefers-color-scheme:dark){{:root{{{_variables(_DARK.items())}}}}}
{_TONES}
body{{font:1rem/1.45 system-ui,sans-serif;color:var(--ink);background:var(--paper);max-width:62rem;margin:0 auto;
padding:0 .75rem;overflow-wrap:anywhere}}
h1{{font-size:1.4rem}}h2{{font-size:1.15rem;margin-top:2rem}}
.caution{{border:2px solid var(--limit);padding:.25rem .75rem;margin:1rem 0}}.caution p{{margin:.3rem 0}}
.simulation{{border:4px double var(--limit);padding:.4rem .75rem;font-size:1.2rem}}
.wide{{overflow-x:auto}}.wide svg{{display:block;width:100%;min-width:40rem;height:auto}}
table{{border-collapse:collapse;width:100%}}
caption{{text-align:left;color:var(--soft);padding-bottom:.5rem}}
th,td{{text-align:left;vertical-align:top;padding:.35rem .4rem;border-bottom:1px solid var(--soft);font-weight:normal}}
thead th{{font-weight:bold}}tbody th{{font-weight:bold}}thead th:first-child{{width:2.7rem}}
td:nth-child(2){{width:9.5rem;font-variant-numeric:tabular-nums}}td:nth-child(4){{width:6rem}}
td p{{margin:0}}ul{{margin:.25rem 0 0;padding-left:1.1rem}}
li.note{{color:var(--soft);font-size:.9rem}}small{{color:var(--soft)}}
.high,.medium,.low,.information{{list-style:none;border-left:.3rem solid var(--soft);padding-left:.5rem;
margin:.3rem 0 0 -1rem}}
.high{{border-left:.5rem double var(--limit)}}.medium{{border-left-color:var(--second)}}
.other{{background:color-mix(in srgb,var(--faint) 45%,transparent)}}
.heard-only{{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}}
footer{{margin:2rem 0;font-size:.9rem}}
@media (max-width:36rem){{body{{font-size:.9rem}}th,td{{padding:.3rem .2rem}}td:nth-child(2){{width:6rem;
font-size:.72rem}}td:nth-child(4){{width:4.4rem}}}}
@media print{{body{{max-width:none;font-size:9pt}}tr,.wide{{break-inside:avoid}}h2{{break-after:avoid}}
thead{{display:table-header-group}}.wide svg{{min-width:0}}}}
"""
