"""The top of the procedure note: who, what, when and where, and how things stood at the end.

What the log knows is filled in; everything else is a line to complete by hand. Nothing is guessed: not even the
case's label is taken for a patient's name.
"""

from __future__ import annotations

from collections.abc import Iterable

from log.basics.entry import Entry
from log.exports.document import BOX, Block, Box, Cells, Table, table
from log.exports.lines import place, reading
from log.exports.note_sections import what_came_out
from log.facts.line import Line
from log.state.fluid_balance import given
from log.summaries.whole import Whole
from log.words.totals import amount, balloon_totals, filling
from log.words.wording import elapsed, figure, listed, newtons, shown, stamp


def header(case: Whole) -> Table:
    """The elements a procedure note has to have."""
    rows = (*_people(case), *_tube(case), *_course(case), *_afterwards(case))
    return table(("Element", "Entry"), rows)


def _people(case: Whole) -> Iterable[Cells]:
    who = case.identifiers
    yield "Patient, first identifier", _given(who.patient_first)
    yield "Patient, second identifier", _given(who.patient_second)
    if case.deidentified:
        yield "Identity", f"removed; times count from the opening of the log, in {case.opened.logged_at.year}"
    else:
        yield "Case", case.opened.case
        yield "Label typed when the case was begun", _given(case.opened.label)
    yield "Place", _given(who.place)
    for element in ("Indication", "Diagnosis before and after", "Urgency (elective, urgent, emergency)"):
        yield element, BOX
    yield "Operator", _given(who.operator)
    yield "Assistant", _given(who.assistant)
    yield "Scribe", _given(who.scribe)
    yield "Anaesthetist", _given(who.anaesthetist)
    for element in ("Anaesthesia or sedation", "Consent basis", "Time-out done (when, by whom)"):
        yield element, BOX


def _given(text: str) -> str | Box:
    return text or BOX


def _tube(case: Whole) -> Iterable[Cells]:
    tube = case.procedure.tube
    balloons = " and ".join(tube.balloons)
    yield "Device type", f"{case.procedure.title} ({tube.lumens} lumens; balloons: {balloons})"
    yield "Device size", _given(case.identifiers.device_size)
    yield "Device lot or serial number", _given(case.identifiers.device_lot)


def _course(case: Whole) -> Iterable[Cells]:
    closed, lines = case.record.closed, case.record.lines
    yield "Start: log opened", stamp(case.opened.logged_at)
    yield "End: log closed", f"{stamp(closed.logged_at)} ({closed.reason})" if closed else BOX
    yield "Last entry", stamp(max(line.said_at for line in lines)) if lines else BOX
    for element, kind in (
        ("Airway", "airway"),
        ("Leak tests", "leak_test"),
        ("Tube in, secured, out", "tube"),
        ("Position checks", "position_check"),
        ("X-ray", "xray"),
    ):
        yield element, listed(_said(case, line) for line in case.said(kind)) or BOX
    yield "X-ray position confirmed at", _confirmed_at(case)
    yield "X-ray position confirmed by", BOX
    yield "Traction", listed(_said(case, line) for line in case.said("traction")) or BOX
    yield "Bleeding", listed(_said(case, line) for line in case.said("bleeding")) or BOX
    yield "Volumes, pressures and depths", "see state at the end, totals and timeline"


def _confirmed_at(case: Whole) -> str | Box:
    """Only if it is the last word: an X-ray that was later read otherwise confirms nothing."""
    words = [line for line in case.said("xray") if line.entry.value in ("confirmed", "not_confirmed")]
    return place(words[-1]) if words and words[-1].entry.value == "confirmed" else BOX


def _afterwards(case: Whole) -> Iterable[Cells]:
    all_given = given(case.procedure, case.happened, case.situation)
    blood = (one for one in all_given if one.kind == "blood_product")
    yield "Blood products", listed(f"{b.name} {amount(b.amount, b.unit)}" for b in blood) or BOX
    drugs = dict.fromkeys(line.entry.detail or "name not said" for line in case.said("drug"))
    yield "Drugs given", f"{listed(drugs)}: see drugs and infusions" if drugs else BOX
    for element in (
        "Findings of the procedure",
        "Complications",
        "Blood loss",
        "Specimens",
        "Plan: removal time",
        "Plan: definitive therapy",
        "Plan: monitoring and checks",
    ):
        yield element, BOX
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


def state(case: Whole) -> Table:
    """Balloons, tube, traction and X-ray as they stood after the last standing line."""
    rows = (*_balloons(case), *_position(case), *_protocol(case))
    return table(("What", "According to the log"), rows)


def _balloons(case: Whole) -> Iterable[Cells]:
    for site in dict.fromkeys((*case.procedure.tube.balloons, *case.situation.balloons)):
        balloon = case.situation.balloon(site)
        readings = case.said("pressure", site, "both")
        reading_now = (
            f"pressure {reading(readings[-1])}" if readings and balloon.pressure is not None else "no pressure reading"
        )
        yield f"{site} balloon".capitalize(), f"{filling(balloon)}; {reading_now}"
    nowhere = case.said("pressure", None)
    if nowhere:
        yield "Pressure, balloon not said", reading(nowhere[-1])


def _position(case: Whole) -> Iterable[Cells]:
    now = case.situation
    yield "Tube", "in" if now.tube_in else "not in"
    yield "Depth", _depth(now.depth)
    yield "Mark (first depth after traction)", _depth(now.mark)
    yield "Traction", _pull(case, now.traction)
    yield "X-ray", (now.xray or "not logged").replace("_", " ")
    for kind in ("clamp", "bleeding"):
        for site in dict.fromkeys(line.entry.site for line in case.said(kind)):
            yield _title(case, kind, site), reading(case.said(kind, site)[-1])


def _protocol(case: Whole) -> Iterable[Cells]:
    """The next step, and the steps that are not in the log though later ones are."""
    if not case.procedure.milestone:
        return
    coming = case.course.next
    yield "Next by the protocol", coming.milestone.title if coming.milestone else "nothing is left"
    passed_over = ", ".join(milestone.title for milestone in coming.passed_over)
    yield "Earlier steps not logged", passed_over or "nothing"


def _title(case: Whole, kind: str, site: str | None) -> str:
    return ", ".join(part for part in (case.procedure.title_of(kind), site) if part)


def _depth(entry: Entry | None) -> str:
    if entry is None:
        return "not logged"
    return shown(entry) + (f" at the {entry.site}" if entry.site else ", place not said")


def _pull(case: Whole, entry: Entry | None) -> str:
    if entry is None:
        return "off" if case.said("traction") else "not logged"
    kind = entry.detail or "kind not said"
    force = newtons(entry.number) if entry.number is not None else "mass not said"
    return f"{shown(entry)}, {kind}, {force}"


def _said(case: Whole, line: Line) -> str:
    entry = line.entry
    said = ", ".join(word.replace("_", " ") for word in (entry.site, shown(entry), entry.detail) if word)
    force = f", {newtons(entry.number)}" if entry.kind == "traction" and entry.number is not None else ""
    return f"{said}{force} at {place(line)}"


def totals(case: Whole) -> tuple[Block, ...]:
    """Volumes in and out, and the clocks that still run."""
    return _air(case), *what_came_out(case), _running(case)


def _air(case: Whole) -> Table:
    found = balloon_totals(case.procedure, case.happened, case.situation)
    rows = (
        (t.site, *(f"{figure(n)} mL" for n in (t.put_in, t.taken_out, t.set_by_total, t.deflated, t.now)))
        for t in found
    )
    return table(("Balloon", "In", "Out", "Set by stated total", "Deflated completely", "Now"), rows)


def _running(case: Whole) -> Table:
    running = tuple(case.course.end.clocks.values())
    rows = ((c.title, f"{stamp(c.since)} (line {c.number})", elapsed(c.since, case.until)) for c in running)
    return table(("Running clock", "Since", f"At {stamp(case.until)}"), rows, "No clock was running at the end.")
