"""The registry page: many cases on one page for a browser, which loads nothing and runs nothing.

It shows no case by itself: distributions of times, control charts by month, findings by rule, sites beside each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from statistics import median

from log.basics.visible import visible
from log.exports.document import Block, Document, Figure, Heading, Notice, Paragraph, Strong, Table, table
from log.exports.drawing import ticks
from log.exports.review import Plain, Review
from log.exports.review.control_chart import FEWEST, ControlChart, individuals, proportions
from log.exports.review.pictures import Marks, Said, control, histogram, times
from log.exports.web_page import web_page
from log.rules.definitions import read_procedure
from log.words.wording import many, priority, span

TIMES: Mapping[str, str] = {
    "to_gastric_s": "To the first air in the gastric balloon",
    "to_xray_s": "To the X-ray that confirms the position",
    "xray_delay_s": "From the first X-ray requested or taken to the one that confirms",
    "dwell_s": "Tube in, all tubes of a case together",
    "oesophageal_s": "Longest stretch with air in the oesophageal balloon",
}
PARTS = (("5 %", 0.05), ("quarter", 0.25), ("median", 0.5), ("three quarters", 0.75), ("95 %", 0.95))

NOTICE = (
    "These are counts of what was said and logged. What was not said is not in here; a case that was kept badly looks "
    "like a case that went badly. Sites differ in their patients: a difference is a question, not an answer.",
    "Few cases make wide limits, and few periods make limits for trial alone. Whether small numbers could identify "
    "somebody is for a person to judge before this page is passed on.",
)


def as_page(result: Review) -> str:
    """The page, as text to be written in UTF-8."""
    return web_page("Registry of balloon tamponade", page(result).blocks, "registry")


def page(result: Review) -> Document:
    """The content of the page."""
    cases = result.cases
    months = sorted({case["month"] for case in cases})
    when = f", {months[0]} to {months[-1]}" if len(months) > 1 else "".join(f", {month}" for month in months)
    return Document(
        "Registry",
        (
            Heading("Registry of balloon tamponade", level=1),
            Paragraph(f"{many(len(cases), 'case')}{when}. {_sites(cases)}"),
            _cautions(),
            *_by_month(cases),
            Heading("Times"),
            Paragraph(
                "Hours, minutes and seconds, from the arrival of the tube or, where that was not said, from the "
                "opening of the log."
            ),
            _times(cases),
            *_distributions(cases),
            Heading("Findings by rule"),
            _rules(result),
            *_by_site(cases),
            _cautions(),
        ),
    )


def _cautions() -> Notice:
    """Those of every definition, and those of counting."""
    return Notice(
        tuple((Strong("Caution:"), f" {text}") for text in (*read_procedure("three-lumen").cautions, *NOTICE))
    )


def _sites(cases: Sequence[Plain]) -> str:
    sites = sorted({case["site"] for case in cases if case["site"]})
    return f"{many(len(sites), 'site')}: {', '.join(sites)}." if sites else "From this machine and exports alone."


# ---- times ----------------------------------------------------------------------------------------------------------


def known(cases: Sequence[Plain], name: str) -> list[float]:
    """The values that there are, in ascending order."""
    return sorted(case[name] for case in cases if case[name] is not None)


def part(values: Sequence[float], share: float) -> float:
    """The value below which that share of them lies, between two of them as far as needed. `values`: in order."""
    place = share * (len(values) - 1)
    below = int(place)
    above = min(below + 1, len(values) - 1)
    return values[below] + (values[above] - values[below]) * (place - below)


def _said(seconds: float) -> str:
    return span(timedelta(seconds=round(seconds)))


def _times(cases: Sequence[Plain]) -> Table:
    rows = (
        (title, str(len(values)), *(_said(part(values, share)) for _, share in PARTS))
        for name, title in TIMES.items()
        if (values := known(cases, name))
    )
    return table(("Time", "Cases", *(name for name, _ in PARTS)), rows, "No time is known.")


def _distributions(cases: Sequence[Plain]) -> Iterator[Figure]:
    for name, title in TIMES.items():
        if values := known(cases, name):
            marks = [(word, part(values, share)) for word, share in PARTS if word == "median"]
            yield Figure(title, histogram(title, values, marks, _said))


# ---- by month -------------------------------------------------------------------------------------------------------


def _by_month(cases: Sequence[Plain]) -> Iterator[Block]:
    yield Heading("By month")
    yield Paragraph(
        "Control charts after Shewhart: the line is the centre of all periods, broken lines are the limits, three "
        "standard deviations away (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 and 6.3.3.2). A period "
        "outside is worth a look. Where a month was withheld, the period is the year."
    )
    periods = _grouped(cases, "month")
    medians = [(m, median(v), len(v)) for m, some in periods.items() if (v := known(some, "xray_delay_s"))]
    high = [(month, sum(case["high_raised"] > 0 for case in some), len(some)) for month, some in periods.items()]
    yield from _controlled("Median X-ray delay", individuals(medians, least=0), _said, times)
    yield from _controlled(
        "Cases with a finding of high priority", proportions(high), lambda share: f"{share:.0%}", ticks
    )


def _controlled(title: str, chart: ControlChart | None, said: Said, marks: Marks) -> Iterator[Block]:
    if chart is None:
        yield Paragraph(f"{title}: too few periods for a chart.")
        return
    yield Figure(title, control(title, chart, said, marks))
    if chart.is_trial:
        yield Paragraph(f"{len(chart.points)} periods, fewer than {FEWEST}: limits for trial alone.")


def _grouped(cases: Sequence[Plain], name: str) -> dict[str, list[Plain]]:
    found: dict[str, list[Plain]] = defaultdict(list)
    for case in cases:
        if case[name] is not None:
            found[visible(case[name])].append(case)
    return dict(sorted(found.items()))


# ---- findings, sites ------------------------------------------------------------------------------------------------


def _rules(result: Review) -> Table:
    rows = (
        (
            one["rule"],
            priority(one["level"]),
            str(one["raised"]),
            str(one["still_open"]),
            f"{one['cases']} of {len(result.rows)}",
        )
        for one in result.rules
    )
    return table(("Rule", "Level", "Raised", "Still open", "Cases"), rows, "No rule had anything to say.")


def _by_site(cases: Sequence[Plain]) -> Iterator[Block]:
    sites = _grouped(cases, "site")
    if len(sites) < 2:
        return
    yield Heading("Sites")
    rows = (
        (site, str(len(some)), _median(some, "to_xray_s"), _median(some, "xray_delay_s"), _share(some, "high_raised"))
        for site, some in sites.items()
    )
    head = ("Site", "Cases", "Median to X-ray confirmed", "Median X-ray delay", "With a high finding")
    yield table(head, rows)


def _median(cases: Sequence[Plain], name: str) -> str:
    values = known(cases, name)
    return _said(median(values)) if values else ""


def _share(cases: Sequence[Plain], name: str) -> str:
    some = sum(case[name] > 0 for case in cases)
    return f"{some} ({some / len(cases):.0%})"
