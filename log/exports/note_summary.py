"""The summary of the procedure note, which is signed: who, what, when and where, what went wrong and what is planned.

What the log knows is filled in; everything else is a line to complete by hand. Nothing is guessed: not even the
case's label is taken for a patient's name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import zip_longest

from log.basics.entry import Entry
from log.exports.document import BOX, Block, Box, Cells, Item, Points, Strong, Table, table
from log.exports.lines import in_the_room, place, reading
from log.facts.line import Line
from log.state.episode import Episode
from log.state.fluid_balance import balances, given
from log.summaries.complications import Complication, complications
from log.summaries.night import DEFINITIVE, ENDOSCOPY, bridge_ends, died
from log.summaries.whole import Whole
from log.words.totals import amount
from log.words.wording import SIGNS, clock_moved, figure, listed, many, newtons, shown, stamp

MOST_OPEN = 6
"""Open findings of high priority on the first page; the rest is counted there and stands in the appendix."""


def header(case: Whole) -> Table:
    """The elements of a procedure note that the log knows, and whose note it is."""
    known = (row for row in _elements(case) if row[1] is not BOX or row[0] in PATIENT)
    return table(("Element", "Entry"), known)


def to_complete(case: Whole) -> Table:
    """The elements that a procedure note has to have and nobody said: boxes to fill in, two beside each other."""
    blank = [row for row in _elements(case) if row[1] is BOX and row[0] not in PATIENT]
    half = (len(blank) + 1) // 2
    pairs = zip_longest(blank[:half], blank[half:], fillvalue=("", ""))
    return table(("Element", "Entry", "Element", "Entry"), ((*left, *right) for left, right in pairs))


PATIENT = ("Patient, first identifier", "Patient, second identifier")
"""They stand on the first page even where they have to be filled in: it is signed."""


def _elements(case: Whole) -> tuple[Cells, ...]:
    return (*_people(case), *_tube(case), *_course(case), *_afterwards(case))


def _people(case: Whole) -> Iterator[Cells]:
    who = case.identifiers
    yield from zip(PATIENT, (_given(who.patient_first), _given(who.patient_second)), strict=True)
    if case.deidentified:
        yield "Identity", f"removed; times count from the opening of the log, in {case.opened.logged_at.year}"
    else:
        yield "Case", case.opened.case
        yield "Label typed when the case was begun", _given(case.opened.label)
    yield "Place", _given(who.place)
    yield "Indication", _said_of(case, "indication")
    yield "Diagnosis before and after", BOX
    yield "Urgency (elective, urgent, emergency)", "emergency" if _prepared(case, NO_CONSENT) else BOX
    yield "Operator", _given(who.operator)
    yield "Assistant", _given(who.assistant)
    yield "Scribe", _given(who.scribe)
    yield "Anaesthetist", _given(who.anaesthetist)
    yield "Anaesthesia or sedation", listed(_sedation(case)) or BOX
    yield "Consent basis", listed(_detailed(case, _prepared(case, "consent", NO_CONSENT))) or BOX
    yield "Time-out done (when, by whom)", listed(place(case, line) for line in _prepared(case, "time-out")) or BOX


def _sedation(case: Whole) -> Iterator[str]:
    """Drugs for sedation or relaxation, each where it was said first."""
    meant = {one.id for one in case.procedure.medicine or () if one.use in ("sedation", "relaxant")}
    first: dict[str, Line] = {}
    for line in case.said("drug"):
        if line.entry.detail in meant:
            first.setdefault(line.entry.detail, line)
    return (f"{name} {shown(line.entry)} at {place(case, line)}" for name, line in first.items())


NO_CONSENT = "emergency, no consent possible"


def _prepared(case: Whole, *details: str) -> list[Line]:
    return [line for line in case.said("preparation") if line.entry.detail in details]


def _detailed(case: Whole, lines: Iterable[Line]) -> Iterator[str]:
    for line in lines:
        ahead = f" in {shown(line.entry)}" if line.entry.number is not None else ""
        yield f"{line.entry.detail}{ahead} at {place(case, line)}"


def _given(text: str) -> str | Box:
    return text or BOX


def _tube(case: Whole) -> Iterator[Cells]:
    tube = case.procedure.tube
    balloons = " and ".join(tube.balloons)
    yield "Device type", f"{case.procedure.title} ({tube.lumens} lumens; balloons: {balloons})"
    yield "Device size", _given(case.identifiers.device_size)
    yield "Device lot or serial number", _given(case.identifiers.device_lot)


def _course(case: Whole) -> Iterator[Cells]:
    closed, lines = case.record.closed, case.record.lines
    yield "Start: log opened", stamp(case.opened.logged_at)
    yield "End: log closed", f"{stamp(closed.logged_at)} ({closed.reason})" if closed else BOX
    if case.record.clocks:
        yield "Clock corrected", listed(clock_moved(one) for one in case.record.clocks)
    yield "Last entry", in_the_room(case, max(line.said_at for line in lines)) if lines else BOX
    yield "Airway", listed(_said(case, line) for line in _first_and_last(case.said("airway"))) or BOX
    yield "Leak tests", _by_tube(case, _said_of_its("leak_test"))
    yield "Tube in, secured, out", _said_of(case, "tube")
    yield "Position checks", _by_tube(case, _said_of_its("position_check"))
    yield "X-ray", _said_of(case, "xray")
    yield "X-ray position confirmed at", _by_tube(case, _confirmed_at)
    yield "X-ray position confirmed by", _by_tube(case, _confirmed_by)
    yield "Traction", _by_tube(case, _said_of_its("traction"))
    yield "Bleeding", _said_of(case, "bleeding")
    numbers = _by_tube(case, _numbers)
    yield "Volumes, pressures and depths", numbers if isinstance(numbers, str) else "none is logged"
    yield "Decisions", _said_of(case, "decision")
    yield "Called", listed(_detailed(case, _prepared(case, *ENDOSCOPY))) or BOX


def _said_of(case: Whole, kind: str) -> str | Box:
    """The lines of a kind, each change once: one that only repeats the line before it stands in the timeline."""
    return listed(_said(case, line) for line in _changes(case.said(kind))) or BOX


def _said_of_its(kind: str) -> Callable[[Whole, Episode], str]:
    """The same of the lines of one tube."""
    return lambda case, tube: listed(_said(case, line) for line in _changes(tube.said(kind)))


def _first_and_last(lines: Sequence[Line]) -> Sequence[Line]:
    """An airway that was secured anew is not the one that was lost."""
    return (lines[0], lines[-1]) if len(lines) > 1 else lines


def _said(case: Whole, line: Line) -> str:
    entry = line.entry
    said = ", ".join(word.replace("_", " ") for word in (entry.site, shown(entry), entry.detail) if word)
    force = f", {newtons(entry.number)}" if entry.kind == "traction" and entry.number is not None else ""
    return f"{said}{force} at {place(case, line)}"


def _changes(lines: Sequence[Line]) -> Iterator[Line]:
    last: dict[str | None, Entry] = {}
    for line in sorted(lines, key=lambda line: (line.said_at, line.number)):
        if last.get(line.entry.site) != line.entry:
            yield line
        last[line.entry.site] = line.entry


def _by_tube(case: Whole, of_one: Callable[[Whole, Episode], str]) -> str | Box:
    """The words for each tube; its number stands before them where there are several."""
    found = ((tube.number, of_one(case, tube)) for tube in case.tubes)
    named = (f"tube {number}: {words}" if len(case.tubes) > 1 else words for number, words in found if words)
    return listed(named) or BOX


def _confirmed(tube: Episode) -> Line | None:
    """Only if it is the last word: an X-ray that was later read otherwise confirms nothing."""
    words = [line for line in tube.said("xray") if line.entry.value in ("confirmed", "not_confirmed")]
    return words[-1] if words and words[-1].entry.value == "confirmed" else None


def _confirmed_at(case: Whole, tube: Episode) -> str:
    last = _confirmed(tube)
    return place(case, last) if last is not None else ""


def _confirmed_by(case: Whole, tube: Episode) -> str:
    """Who read it; a film that was read before by somebody who was named is named too."""
    last = _confirmed(tube)
    if last is None:
        return ""
    read = [one for one in tube.said("xray") if one.entry.value == "confirmed" and one.entry.detail]
    if last in read:
        return last.entry.detail or ""
    return listed(("reader not said", *(f"earlier film: {one.entry.detail}, {place(case, one)}" for one in read[-1:])))


def _numbers(case: Whole, tube: Episode) -> str:
    """Of each balloon the most that was in it and its pressures, then the depth."""
    return listed(_each_number(case, tube))


def _each_number(case: Whole, tube: Episode) -> Iterator[str]:
    for site in case.procedure.tube.balloons:
        most = tube.most_in(site)
        if most:
            yield f"{site} at most {figure(most)} mL"
        yield _range(f"{site} pressure", tube.said("pressure", site))
    yield _range("depth", tube.said("depth"))


def _range(name: str, lines: Sequence[Line]) -> str:
    read = [(line.entry.number, line.entry.unit or "") for line in lines if line.entry.number is not None]
    if not read:
        return ""
    low, high, unit = min(read)[0], max(read)[0], read[-1][1]
    between = figure(low) if low == high else f"{figure(low)} to {figure(high)}"
    return f"{name} {between} {unit} ({many(len(read), 'reading')}, last {figure(read[-1][0])})"


def _afterwards(case: Whole) -> Iterator[Cells]:
    all_given = given(case.procedure, case.happened, case.situation)
    blood = (one for one in all_given if one.kind == "blood_product")
    yield "Blood products", listed(f"{b.name} {amount(b.amount, b.unit)}" for b in blood) or BOX
    drugs = dict.fromkeys(line.entry.detail or "name not said" for line in case.said("drug"))
    yield "Drugs given", f"{listed(drugs)}: see drugs and infusions" if drugs else BOX
    yield "Findings of the procedure", BOX
    yield "Outcome", _said_of(case, "outcome")
    yield "Complications", listed(_complications(case)) or BOX
    yield "Blood loss", _blood_loss(case)
    yield "Specimens", BOX
    yield "Plan: removal time", _removal(case)
    yield "Plan: definitive therapy", _definitive(case)
    yield "Plan: monitoring and checks", BOX
    yield "Amendments", _amendments(case)


def _complications(case: Whole) -> Iterator[str]:
    """Those that are logged; "none" is the word of somebody, never of the log."""
    found = complications(case.happened)
    if not found:
        yield from (reading(case, line) for line in case.said("complication"))
    yield from (_complication(case, one) for one in found)


def _complication(case: Whole, one: Complication) -> str:
    again = f", {one.times} times, last at {place(case, one.last)}" if one.times > 1 else ""
    return f"{one.name} at {place(case, one.first)}{again}"


def _blood_loss(case: Whole) -> str | Box:
    """As somebody estimated it; beside it what came out of the ports, which is no estimate of a loss."""
    net = sum(one.net for one in balances(case.procedure, case.happened, case.until))
    said = case.said("blood_loss")
    several = " (not added up)" if len(said) > 1 else ""
    estimate = f"estimated{several} {', '.join(reading(case, line) for line in said)}" if said else "not said"
    came_out = f"out of the ports, net of lavage: {figure(net)} mL" if net else ""
    return listed((estimate, came_out)) if said or net else BOX


def _removal(case: Whole) -> str | Box:
    out = [line for line in case.said("tube") if line.entry.value == "out"]
    if out and not case.situation.tube_in:
        return f"tube out at {place(case, out[-1])}"
    outcome = case.said("outcome")
    ends = None if outcome and died(outcome[-1]) else bridge_ends(case.procedure, case.happened)
    return f"tube in; the bridge ends at {in_the_room(case, ends)}" if ends is not None else BOX


def _definitive(case: Whole) -> str | Box:
    decided = [line for line in case.said("decision") if line.entry.value in DEFINITIVE]
    return _said(case, decided[-1]) if decided else BOX


def _amendments(case: Whole) -> str:
    lines = case.record.lines
    changes = [change.what for line in lines for change in line.changes]
    still_asked = sum(line.status == "asked" for line in lines)
    return (
        f"{changes.count('amended')} amended, {changes.count('struck')} struck, "
        f"{changes.count('answered')} confirmed when asked, {still_asked} not confirmed: see timeline"
    )


def still_open(case: Whole) -> tuple[Block, ...]:
    """The findings of high priority that nobody and nothing has settled."""
    high = [one for one in case.record.findings if one.settled is None and one.raised.level == "high"]
    shown_here = high[-MOST_OPEN:][::-1]
    items = [
        Item((Strong(SIGNS["high"]), f" {in_the_room(case, one.raised.logged_at)} {one.raised.message}"))
        for one in shown_here
    ]
    if len(high) > MOST_OPEN:
        items.append(Item(f"and {many(len(high) - MOST_OPEN, 'earlier finding')} of high priority: see findings"))
    return (Points(tuple(items)),) if items else ()
