"""The part of the procedure note on what surrounds the tube: preparation and kit, leak tests, pressures before
insertion, what came out, drugs, blood, fluids and vital signs. A table stands only where the log has something for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from log.exports.document import Block, Cells, Paragraph, Strong, Table, table, unless_empty
from log.exports.lines import in_the_room, place, reading
from log.facts.line import Line
from log.rules.gauges import Gauge, gauges
from log.state.fluid_balance import (
    GivenInAll,
    Infusion,
    PortBalance,
    Reading,
    balances,
    doses,
    given,
    infusions,
    vitals,
)
from log.state.tube import Step, given_of
from log.summaries.whole import Whole
from log.words.totals import amount, limits_in_words, port, rate_in_words
from log.words.wording import elapsed, figure, listed, shown

HOUR = timedelta(hours=1)

HOURLY_SIGNS = ("heart rate", "blood pressure", "oxygen saturation")
"""The vital signs that stand hour by hour; the others are read too seldom for a column."""


@dataclass(frozen=True, slots=True)
class LeakTest:
    """A leak test of one balloon, or of both: what began it and how it came out."""

    site: str
    started: Line | None
    """With the volume, if that was said."""
    ended: Line | None
    """None while it is held."""


def surroundings(case: Whole) -> Iterator[Block]:
    """All of these sections."""
    steps = case.happened
    tables = (
        ("Hour by hour", _hourly(case)),
        ("Preparation and kit", table(("What", "According to the log"), _preparation(case))),
        (
            "Leak tests",
            table(
                ("Balloon", "Volume", "Started", "Held for", "Result"),
                (_leak_test(case, test) for test in leak_tests(steps)),
            ),
        ),
        ("Pressure before insertion", table(("Balloon", "Volume", "Pressure", "Read"), _manometry(case))),
        ("Drugs", table(("Time", "Drug", "Dose"), (_dose(case, line) for line in doses(steps)))),
        (
            "Infusions",
            table(("Drug", "Started", "Stopped", "Ran for"), (_infusion(case, ran) for ran in infusions(steps))),
        ),
        ("Blood products and fluids", table(("What", "In all", "Each"), _given(case))),
        (
            "Vital signs",
            table(("Sign", "First", "Last", "Worst"), (_read(case, sign) for sign in vitals(case.procedure, steps))),
        ),
        (
            "Readings",
            table(
                ("What", "First", "Last", "Lowest and highest", "Limit"),
                (_gauge(case, one) for one in gauges(case.procedure, steps)),
            ),
        ),
    )
    for title, found in tables:
        yield from unless_empty(title, found)


def _hourly(case: Whole) -> Table:
    """The last reading of each hour since the opening, once there is more than one hour."""
    columns = list(_columns(case))
    by_hour: dict[int, dict[str, str]] = {}
    for name, lines in columns:
        for line in lines:
            hour = (line.said_at - case.opened.logged_at) // HOUR
            by_hour.setdefault(hour, {})[name] = f"{shown(line.entry)} ({line.said_at:%H:%M})"
    names = [name for name, lines in columns if lines]
    rows = (
        (f"{hour} to {hour + 1} h", *(said.get(name, "") for name in names)) for hour, said in sorted(by_hour.items())
    )
    return table(("After the opening", *names), rows if len(by_hour) > 1 else ())


def _columns(case: Whole) -> Iterator[tuple[str, list[Line]]]:
    """Title and readings: pressures and volumes by balloon, mark, vital signs."""
    for site in case.procedure.tube.balloons:
        yield f"{site.capitalize()} pressure", list(case.said("pressure", site))
    yield "Depth", list(case.said("depth"))
    yield "Traction", list(case.said("traction"))
    vital = [line for kind in case.procedure.kinds_of("vital") for line in case.said(kind)]
    for sign in HOURLY_SIGNS:
        yield sign.capitalize(), [line for line in vital if line.entry.detail == sign]


def what_came_out(case: Whole) -> Iterator[Block]:
    """Aspirate and lavage of each port with the rate over time."""
    known = balances(case.procedure, case.happened, case.until)
    rows = [*(_port(case, one) for one in known), *([_all_ports(known)] if len(known) > 1 else [])]
    kinds = (case.procedure.title_of(kind) for kind in case.procedure.kinds_added("by-port"))
    head = ("Port", *kinds, "Net out", "Last hour", "Since the first", "Looked")
    yield table(head, rows, "No aspirate or lavage is logged.")
    if known:
        said = "Net out is aspirate and lavage out less lavage in."
        yield Paragraph(f"{said} A rate is of the net, over the time that entries cover.")


def leak_tests(steps: Sequence[Step]) -> tuple[LeakTest, ...]:
    """Each leak test in the order in which it began. A result ends the test of its balloon that is being held; one that
    nobody said was begun stands alone."""
    found: list[LeakTest] = []
    for step in steps:
        line, site = step.line, step.entry.site or ""
        if step.entry.kind != "leak_test":
            continue
        if step.entry.value == "started":
            found.append(LeakTest(site, line, None))
            continue
        held = [n for n, test in enumerate(found) if test.ended is None and site in (test.site, "both")]
        for n in held:
            found[n] = LeakTest(found[n].site, found[n].started, line)
        if not held:
            found.append(LeakTest(site, None, line))
    return tuple(found)


def _leak_test(case: Whole, test: LeakTest) -> Cells:
    started, ended = test.started, test.ended
    held = elapsed(started.said_at, ended.said_at) if started and ended else ""
    return (
        test.site or "not said",
        _volume(started, ended),
        place(case, started) if started else "not said",
        held,
        f"{ended.entry.value} {_at(case, ended)}" if ended else Strong("no result logged"),
    )


def _volume(*lines: Line | None) -> str:
    """The volume of a test: said when it began, or with its result."""
    return next((_second(line) for line in lines if line is not None and line.entry.second is not None), "not said")


def _manometry(case: Whole) -> Iterator[Cells]:
    lines = sorted(case.said("manometry"), key=lambda line: (line.entry.site or "", line.entry.second or 0))
    for line in lines:
        pressure = shown(line.entry.model_copy(update={"second": None}))
        yield line.entry.site or "not said", _second(line), pressure, place(case, line)


def _second(line: Line) -> str:
    second = line.entry.second
    return "not said" if second is None else f"{figure(second)} {line.entry.second_unit or ''}".strip()


def _preparation(case: Whole) -> Iterator[Cells]:
    """Where the scissors are is asked for even where nobody said it, once anything of the preparation was logged."""
    kit_kinds = case.procedure.kinds_of("kit")
    if not any(case.said(kind) for kind in (*kit_kinds, "companion")):
        return
    for line in case.said("preparation"):
        yield (line.entry.detail or "preparation").capitalize(), f"{_word(line)} {_at(case, line)}"
    kit = {line.entry.detail or "kit": line for line in case.said("kit")}
    for name, line in kit.items():
        yield f"Kit: {name}" if name != "kit" else "Kit", f"{_word(line)} {_at(case, line)}"
    scissors = case.said("scissors")
    yield "Scissors", f"{_word(scissors[-1])} {_at(case, scissors[-1])}" if scissors else Strong("not logged")
    for kind in kit_kinds:
        for line in case.said(kind)[-1:] if kind not in ("preparation", "kit", "scissors") else ():
            yield case.procedure.title_of(kind), f"{_word(line)} {_at(case, line)}"
    for line in case.said("companion"):
        where = f", {line.entry.site}" if line.entry.site else ""
        yield f"Companion tube{where}", f"{_word(line)} {_at(case, line)}"


def _word(line: Line) -> str:
    return shown(line.entry).replace("_", " ")


def _dose(case: Whole, line: Line) -> Cells:
    return in_the_room(case, line.said_at), line.entry.detail or "name not said", shown(line.entry) or "not said"


def _infusion(case: Whole, ran: Infusion) -> Cells:
    started, stopped = ran.started, ran.stopped
    until = stopped.said_at if stopped else case.until
    return (
        ran.name or "name not said",
        place(case, started) if started else "not logged",
        place(case, stopped) if stopped else Strong("running"),
        elapsed(started.said_at, until) if started else "",
    )


def _given(case: Whole) -> Iterator[Cells]:
    for each in given(case.procedure, case.happened, case.situation):
        yield each.name or "name not said", amount(each.amount, each.unit), _each(case, each)


def _each(case: Whole, of: GivenInAll) -> str:
    what = (of.kind, of.name, of.unit)
    lines = (line for line in case.said(of.kind) if line.entry.number is not None and given_of(line.entry) == what)
    return listed(f"{amount(line.entry.number or 0, of.unit)} {_at(case, line)}" for line in lines)


def _read(case: Whole, sign: Reading) -> Cells:
    worst = (sign.worst[0],) if len({line.number for line in sign.worst}) == 1 else sign.worst
    return (
        sign.name.capitalize(),
        reading(case, sign.first),
        reading(case, sign.last),
        listed(reading(case, line) for line in worst),
    )


def _gauge(case: Whole, one: Gauge) -> Cells:
    read = one.reading
    extremes = dict.fromkeys(reading(case, line) for line in (read.lowest, read.highest))
    first, last = reading(case, read.first), reading(case, read.last)
    return read.name.capitalize(), first, last, listed(extremes), limits_in_words(one.held)


def _port(case: Whole, balance: PortBalance) -> Cells:
    volumes = (*balance.sums.values(), balance.net)
    looked = balance.appearance
    return (
        port(balance.port),
        *(f"{figure(volume)} mL" for volume in volumes),
        rate_in_words(balance.last_hour),
        rate_in_words(balance.since_first),
        f"{_word(looked)} {_at(case, looked)}" if looked else "",
    )


def _all_ports(known: Sequence[PortBalance]) -> Cells:
    volumes = (*(sum(each.sums[kind] for each in known) for kind in known[0].sums), sum(each.net for each in known))
    return "all ports", *(f"{figure(volume)} mL" for volume in volumes), "", "", ""


def _at(case: Whole, line: Line) -> str:
    return f"at {place(case, line)}"
