"""The rows of the hand-over on what was done beside the tube: airway, drugs, blood, who was called, decisions."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from log.facts.line import Line
from log.summaries.night import Night, died
from log.words.rows import Row
from log.words.wording import away, clock, figure, shown

NOT_LOGGED = "NOT LOGGED"

IN_SHORT = frozenset({"drugs", "infusions", "decided", "called", "went wrong"})
"""Rows of short items, the newest first."""


def night_rows(night: Night, now: datetime) -> Iterator[Row]:
    """Row by row; a row that has nothing to say is left out, but for the bundle, in which a gap says something."""
    yield Row("bundle", (_bundle(night, now),))
    if night.cut is not None:
        yield Row("CUT", (f"the tube was cut, said {clock(night.cut.said_at, now)}",))
    lists = (
        ("drugs", tuple(_dose(line, now) for line in night.drugs), "dose"),
        ("infusions", tuple(_running(night, now)), "infusion"),
        ("decided", tuple(said(line, now) for line in night.decisions), "decision"),
        ("called", tuple(_called(line, now) for line in night.called), "call"),
        ("went wrong", tuple(_went_wrong(night, now)), "complication"),
    )
    for lead, texts, sort in lists:
        if texts:  # the newest count most
            yield Row(lead, texts[::-1], tuple(sort for _ in texts))
    if night.transfused.units or night.infused_ml or night.blood_loss:
        yield Row("blood and fluid", (_balance(night, now),))
    if reckoned := _reckoned(night, now):
        yield Row("reckoned", (reckoned,))
    if night.outcome is not None and not died(night.outcome):
        yield Row("outcome", (said(night.outcome, now),))


def _reckoned(night: Night, now: datetime) -> str:
    mean, index = night.reckoned.mean_pressure, night.reckoned.shock_index
    parts = [f"mean pressure {mean} mmHg"] if mean is not None else []
    parts += [f"shock index {index:g} (heart rate by upper pressure)"] if index is not None else []
    read_at = night.reckoned.read_at
    when = f" at {clock(read_at, now)} ({away(read_at, now, ahead=False)})" if read_at is not None else ""
    return f"{'; '.join(parts)}, from the last blood pressure{when}" if parts else ""


def bundle_in_short(night: Night, now: datetime) -> str:
    """ "airway 14:00, vasoactive 14:11; NOT LOGGED: antibiotic, endoscopy, plan"."""
    each = {
        "airway": night.airway,
        "vasoactive": night.vasoactive,
        "antibiotic": night.antibiotic,
        "endoscopy": night.called[-1] if night.called else None,
        "plan": night.definitive,
    }
    done = ", ".join(f"{name} {clock(line.said_at, now)}" for name, line in each.items() if line is not None)
    missing = ", ".join(name for name, line in each.items() if line is None)
    return "; ".join(part for part in (done, f"{NOT_LOGGED}: {missing}" if missing else "") if part)


def _bundle(night: Night, now: datetime) -> str:
    """Airway, vasoactive drug, antibiotic, endoscopy, definitive plan, each with its time."""
    parts = [
        f"airway {_at(night.airway, now)}",
        f"vasoactive {_at(night.vasoactive, now, named=True)}",
        f"antibiotic {_at(night.antibiotic, now, named=True)}",
        _at(night.called[-1], now, named=True) if night.called else f"endoscopy {NOT_LOGGED}",
        f"definitive plan {_at(night.definitive, now)}",
    ]
    ends = night.bridge_ends
    if ends is not None:
        parts.append(f"bridge ends {clock(ends, now)} ({away(ends, now, ahead=ends > now)})")
    return "; ".join(parts)


def _at(line: Line | None, now: datetime, named: bool = False) -> str:
    if line is None:
        return NOT_LOGGED
    word = (line.entry.detail or "") if named else shown(line.entry)
    return f"{word} {clock(line.said_at, now)}"


def _dose(line: Line, now: datetime) -> str:
    return f"{clock(line.said_at, now)} {line.entry.detail or 'name not said'} {shown(line.entry)}"


def _running(night: Night, now: datetime) -> Iterator[str]:
    for one in night.infusions:
        if one.started is not None and one.stopped is None:
            yield f"{one.name or 'name not said'} running since {clock(one.started.said_at, now)}"


def said(line: Line, now: datetime) -> str:
    return f"{shown(line.entry)} {clock(line.said_at, now)}"


def _called(line: Line, now: datetime) -> str:
    ahead = f" in {shown(line.entry)}" if line.entry.number is not None else ""
    return f"{line.entry.detail}{ahead}, said {clock(line.said_at, now)}"


def _went_wrong(night: Night, now: datetime) -> Iterator[str]:
    for one in night.complications:
        again = f", {one.times} times, last {clock(one.last.said_at, now)}" if one.times > 1 else ""
        yield f"{one.name} {clock(one.first.said_at, now)}{again}"
    if not night.complications and night.no_complications is not None:
        yield f"none, said {clock(night.no_complications.said_at, now)}"


def _balance(night: Night, now: datetime) -> str:
    """Units by product with their ratio, then millilitres in and out. A unit is in no sum of millilitres."""
    blood = night.transfused
    units = ", ".join(f"{name} {figure(amount)}" for name, amount in blood.units.items())
    last_hour = ", ".join(f"{name} {figure(amount)}" for name, amount in blood.last_hour.items()) or "none"
    last = f", last {clock(blood.last_at, now)}" if blood.last_at is not None else ""
    parts = [f"units: {units}{last}; in the last hour {last_hour}"] if units else []
    parts += [f"ratio {blood.ratio}"] if blood.ratio else []
    net = night.infused_ml - night.came_out_ml
    estimates = ", ".join(said(line, now) for line in night.blood_loss)
    lost = (
        f"; blood loss said{' (not added up)' if len(night.blood_loss) > 1 else ''}: {estimates}" if estimates else ""
    )
    fluid = f"fluid in {figure(night.infused_ml)} mL, out of the ports net {figure(night.came_out_ml)} mL"
    without = " without blood products" if units else ""
    return "; ".join([*parts, f"{fluid}, balance{without} {net:+g} mL{lost}"])
