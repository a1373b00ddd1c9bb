"""The top of the procedure note: who, what, when and where, and how things stood at the end.

What the log knows is filled in; everything else is a line to complete by hand. Nothing is guessed: not even the
case's label is taken for a patient's name.
"""

from __future__ import annotations

from collections.abc import Iterable

from log.basics.entry import Entry
from log.exports.markdown import BLANK, escaped, table
from log.exports.note_sections import what_came_out
from log.facts.line import Line
from log.state.fluid_balance import given
from log.summaries.whole import Whole
from log.words.totals import amount, balloon_totals, filling
from log.words.wording import elapsed, figure, listed, newtons, shown, stamp

Row = tuple[str, str]


def header(case: Whole) -> list[str]:
    """The elements a procedure note has to have."""
    rows = (*_people(case), *_tube(case), *_course(case), *_afterwards(case))
    return ["## Procedure", "", *table(("Element", "Entry"), rows)]


def _people(case: Whole) -> Iterable[Row]:
    who = case.identifiers
    yield "Patient, first identifier", _given(who.patient_first)
    yield "Patient, second identifier", _given(who.patient_second)
    if case.deidentified:
        yield "Identity", f"removed; times count from the opening of the log, in {case.opened.logged_at.year}"
    else:
        yield "Case", escaped(case.opened.case)
        yield "Label typed when the case was begun", _given(case.opened.label)
    yield "Place", _given(who.place)
    for element in ("Indication", "Diagnosis before and after", "Urgency (elective, urgent, emergency)"):
        yield element, BLANK
    yield "Operator", _given(who.operator)
    yield "Assistant", _given(who.assistant)
    yield "Scribe", _given(who.scribe)
    yield "Anaesthetist", _given(who.anaesthetist)
    for element in ("Anaesthesia or sedation", "Consent basis", "Time-out done (when, by whom)"):
        yield element, BLANK


def _given(text: str) -> str:
    return escaped(text) or BLANK


def _tube(case: Whole) -> Iterable[Row]:
    tube = case.procedure.tube
    balloons = " and ".join(tube.balloons)
    yield "Device type", escaped(f"{case.procedure.title} ({tube.lumens} lumens; balloons: {balloons})")
    yield "Device size", _given(case.identifiers.device_size)
    yield "Device lot or serial number", _given(case.identifiers.device_lot)


def _course(case: Whole) -> Iterable[Row]:
    closed, lines = case.record.closed, case.record.lines
    yield "Start: log opened", stamp(case.opened.logged_at)
    yield "End: log closed", f"{stamp(closed.logged_at)} ({escaped(closed.reason)})" if closed else BLANK
    yield "Last entry", stamp(max(line.said_at for line in lines)) if lines else BLANK
    for element, kind in (
        ("Airway", "airway"),
        ("Leak tests", "leak_test"),
        ("Tube in, secured, out", "tube"),
        ("Position checks", "position_check"),
        ("X-ray", "xray"),
    ):
        yield element, listed((_told(case, line) for line in case.said(kind)), BLANK)
    yield "X-ray position confirmed at", _confirmed_at(case)
    yield "X-ray position confirmed by", BLANK
    yield "Traction", listed((_told(case, line) for line in case.said("traction")), BLANK)
    yield "Bleeding", listed((_told(case, line) for line in case.said("bleeding")), BLANK)
    yield "Volumes, pressures and depths", "see state at the end, totals and timeline"


def _confirmed_at(case: Whole) -> str:
    """Only if it is the last word: an X-ray that was later read otherwise confirms nothing."""
    words = [line for line in case.said("xray") if line.entry.value in ("confirmed", "not_confirmed")]
    return _where(words[-1]) if words and words[-1].entry.value == "confirmed" else BLANK


def _afterwards(case: Whole) -> Iterable[Row]:
    blood = given(case.happened, case.situation, "blood_product")
    yield "Blood products", listed((escaped(f"{b.name} {amount(b.amount, b.unit)}") for b in blood), BLANK)
    drugs = dict.fromkeys(line.entry.detail or "name not said" for line in case.said("drug"))
    yield "Drugs given", f"{listed(map(escaped, drugs))}: see drugs and infusions" if drugs else BLANK
    for element in (
        "Findings of the procedure",
        "Complications",
        "Blood loss",
        "Specimens",
        "Plan: removal time",
        "Plan: definitive therapy",
        "Plan: monitoring and checks",
    ):
        yield element, BLANK
    lines = case.record.lines
    changes = [change.what for line in lines for change in line.changes]
    still_asked = sum(line.status == "asked" for line in lines)
    yield (
        "Amendments",
        (
            f"{changes.count('amended')} amended, {changes.count('struck')} struck, "
            f"{changes.count('answered')} confirmed when asked, {still_asked} not confirmed: see timeline"
        ),
    )


def state(case: Whole) -> list[str]:
    """How balloons, tube, traction and X-ray stood after the last standing line."""
    rows = (*_balloons(case), *_position(case), *_protocol(case))
    return ["## State at the end", "", *table(("What", "By the log"), rows)]


def _balloons(case: Whole) -> Iterable[Row]:
    for site in dict.fromkeys((*case.procedure.tube.balloons, *case.situation.balloons)):
        balloon = case.situation.balloon(site)
        readings = case.said("pressure", site, "both")
        told = (
            f"pressure {_reading(readings[-1])}" if readings and balloon.pressure is not None else "no pressure reading"
        )
        yield escaped(f"{site} balloon").capitalize(), f"{filling(balloon)}; {told}"
    nowhere = case.said("pressure", None)
    if nowhere:
        yield "Pressure, balloon not said", _reading(nowhere[-1])


def _position(case: Whole) -> Iterable[Row]:
    now = case.situation
    yield "Tube", "in" if now.tube_in else "not in"
    yield "Depth", _depth(now.depth)
    yield "Mark (first depth after traction)", _depth(now.mark)
    yield "Traction", _pull(case, now.traction)
    yield "X-ray", escaped((now.xray or "not logged").replace("_", " "))
    for kind in ("clamp", "bleeding"):
        for site in dict.fromkeys(line.entry.site for line in case.said(kind)):
            yield _title(case, kind, site), _reading(case.said(kind, site)[-1])


def _protocol(case: Whole) -> Iterable[Row]:
    """Which step would be next, and what is not in the log though something after it is."""
    if not case.procedure.milestone:
        return
    coming = case.course.next
    yield "Next by the protocol", escaped(coming.milestone.title) if coming.milestone else "nothing is left"
    passed_over = ", ".join(milestone.title for milestone in coming.passed_over)
    yield "Passed over by the log", escaped(passed_over) or "nothing"


def _title(case: Whole, kind: str, site: str | None) -> str:
    return escaped(", ".join(part for part in (case.procedure.title_of(kind), site) if part))


def _depth(entry: Entry | None) -> str:
    if entry is None:
        return "not logged"
    return escaped(shown(entry) + (f" at the {entry.site}" if entry.site else ", place not said"))


def _pull(case: Whole, entry: Entry | None) -> str:
    if entry is None:
        return "off" if case.said("traction") else "not logged"
    kind = entry.detail or "kind not said"
    force = newtons(entry.number) if entry.number is not None else "mass not said"
    return escaped(f"{shown(entry)}, {kind}, {force}")


def _told(case: Whole, line: Line) -> str:
    entry = line.entry
    said = ", ".join(word.replace("_", " ") for word in (entry.site, shown(entry), entry.detail) if word)
    force = f", {newtons(entry.number)}" if entry.kind == "traction" and entry.number is not None else ""
    return f"{escaped(said + force)} at {_where(line)}"


def _reading(line: Line) -> str:
    return f"{escaped(shown(line.entry))} at {_where(line)}"


def _where(line: Line) -> str:
    return f"{stamp(line.said_at)} (line {line.number})"


def totals(case: Whole) -> list[str]:
    """What went in, what came out, and the clocks that still run."""
    return ["## Totals", "", *_air(case), *what_came_out(case), *_running(case)]


def _air(case: Whole) -> list[str]:
    found = balloon_totals(case.procedure, case.happened, case.situation)
    rows = (
        (escaped(t.site), *(f"{figure(n)} mL" for n in (t.put_in, t.taken_out, t.set_by_total, t.let_down, t.now)))
        for t in found
    )
    return table(("Balloon", "In", "Out", "Changed by a total said", "Let down as a whole", "Now"), rows)


def _running(case: Whole) -> list[str]:
    running = tuple(case.course.end.clocks.values())
    if not running:
        return ["No clock was running at the end.", ""]
    rows = ((escaped(c.title), f"{stamp(c.since)} (line {c.number})", elapsed(c.since, case.until)) for c in running)
    return table(("Running clock", "Since", f"At {stamp(case.until)}"), rows)
