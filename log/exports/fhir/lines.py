"""The lines of the log as FHIR: an Observation each; for what was given to the patient an administration."""

from __future__ import annotations

from log.basics.entry import Entry
from log.definition.kinds import Group
from log.exports.fhir import codes
from log.exports.fhir.parts import (
    UNITS,
    Draft,
    Json,
    absent,
    concept,
    identifier,
    named,
    paragraphs,
    quantity,
)
from log.exports.fhir.remarks import notes
from log.exports.lines import unconfirmed
from log.facts.line import Line
from log.state.fluid_balance import STARTED, STOPPED, Infusion, infusions
from log.summaries.whole import Whole
from log.words.totals import port
from log.words.wording import candidates, sentence, shown

AT_A_PORT: tuple[Group, ...] = ("port", "out", "in")
"""Groups of kinds whose site is a port of the tube and not the balloon of the same name."""


def exported(case: Whole) -> tuple[Line, ...]:
    """The lines that become resources, in the order in which things happened. A command that had to be asked is a
    line too, but nothing that was observed: it stands in the narrative alone."""
    lines = sorted(case.record.lines, key=lambda line: (line.said_at, line.number))
    return tuple(line for line in lines if not _is_command(case, line))


def _is_command(case: Whole, line: Line) -> bool:
    kind = case.procedure.kind_named(line.entry.kind)
    return kind is not None and kind.role == "command"


def name(number: int) -> str:
    """The name of a line's resource inside the bundle."""
    return f"line/{number}"


def resource(draft: Draft, line: Line) -> Json:
    """The resource of a line. What was given is no observation, and blood no exception: R4 has no resource for a
    transfusion, and the one for a medicine can hold an amount (reference 5.4)."""
    of = draft.case.procedure.traits(line.entry.kind)
    given = of.group == "given" and line.entry.value != STOPPED  # that a drug no longer runs gives nothing
    if given and not unconfirmed(line):
        return _administration(draft, line)
    return _observation(draft, line)


def status(line: Line) -> str:
    """Observation.status by the definitions of R4.

    `preliminary` may be unverified: nobody has confirmed the line. `corrected` and `amended` both mean changed after
    it was final; `corrected` is the narrower one, an error in the result, so a changed value is corrected, while one
    whose time or detail alone was changed is amended. `entered-in-error` withdraws what should never have existed.
    `final` says that the line is complete; that the note as a whole is unsigned is said by the Composition.
    """
    amended = [change for change in line.holding if change.what == "amended"]
    match line.status:
        case "struck":
            return "entered-in-error"
        case "asked":
            return "preliminary"
        case "stands" if any(_result(change.before) != _result(change.after) for change in amended):
            return "corrected"
        case "stands":
            return "amended" if amended else "final"


def _result(entry: Entry) -> tuple[object, ...]:
    return entry.kind, entry.site, entry.value, entry.unit, entry.second, entry.second_unit


def _observation(draft: Draft, line: Line) -> Json:
    procedure = draft.case.procedure
    known = None if unconfirmed(line) else line.entry
    text = sentence(procedure, known) if known else f"NOT CONFIRMED: {candidates(procedure, line)}"
    return {
        "resourceType": "Observation",
        "text": paragraphs(f"Line {line.number}, {status(line)}: {text}"),
        "identifier": _identifiers(draft, line),
        "partOf": [draft.of_its_tube("procedure", line)],
        "status": status(line),
        "category": _category(draft, line),
        "code": _code(draft, line),
        "subject": draft.ref("patient"),
        "encounter": draft.ref("encounter"),
        "effectiveDateTime": draft.when(line.said_at),
        "issued": draft.exactly(line.logged_at),
        **(_value(known) if known else {"dataAbsentReason": absent("unknown", "not confirmed")}),
        "note": notes(draft, line),
        "bodySite": _site(draft.case, line),
        "component": [*_elapsed(draft, line), *_numbers(known), *_detail(known)],
    }


def _identifiers(draft: Draft, line: Line) -> list[Json]:
    return [] if draft.case.deidentified else [identifier("line", f"{draft.case.opened.case}/{line.number}")]


def _code(draft: Draft, line: Line) -> Json:
    """The kind of entry; of an unconfirmed line only if all that it could be are of one kind."""
    kinds = {entry.kind for entry in (line.candidates if unconfirmed(line) else (line.entry,))}
    if len(kinds) > 1:
        return concept("entry", "unconfirmed", "Entry of unconfirmed kind")
    kind = concept("entry", line.entry.kind, draft.case.procedure.title_of(line.entry.kind))
    signs = {entry.detail for entry in (line.candidates if unconfirmed(line) else (line.entry,))}
    vital = draft.case.procedure.traits(line.entry.kind).group == "vital"
    if not vital or len(signs) > 1 or not line.entry.detail:
        return kind
    sign = concept("vital", line.entry.detail.replace(" ", "-"), line.entry.detail)
    known = codes.loinc(*codes.SIGNS.get(line.entry.detail, ()))
    return {"coding": [*known, *sign["coding"], *kind["coding"]], "text": sign["text"]}


def _category(draft: Draft, line: Line) -> list[Json]:
    """Of a vital sign or laboratory value; nothing of a line that may be another."""
    vital = draft.case.procedure.traits(line.entry.kind).group == "vital"
    if not vital or unconfirmed(line) or not line.entry.detail:
        return []
    return [codes.category(line.entry.detail)]


def _is_pair(entry: Entry) -> bool:
    """True if both its numbers are the result, as in a blood pressure of 90/60: then it has components and no value."""
    return entry.number is not None and entry.second is not None and entry.unit == entry.second_unit


def _value(entry: Entry) -> Json:
    if _is_pair(entry):
        return {}
    if entry.number is not None:
        return {"valueQuantity": quantity(entry.number, entry.unit)}
    text = shown(entry.model_copy(update={"second": None})).replace("_", " ").strip()
    if not text:
        return {"dataAbsentReason": absent("not-applicable", "the entry says only that and when it happened")}
    return {"valueCodeableConcept": concept("value", str(entry.value), text)}


def _site(case: Whole, line: Line) -> Json | None:
    sites = {entry.site for entry in (line.candidates if unconfirmed(line) else (line.entry,))}
    site = line.entry.site
    if len(sites) > 1 or site is None:
        return None
    if case.procedure.traits(line.entry.kind).group in AT_A_PORT:
        return concept("site", f"{site}-port", "both ports" if site == "both" else port(site))
    if site == "both":
        return concept("site", "both-balloons", "both balloons")
    if site in case.procedure.tube.balloons:
        return concept("site", f"{site}-balloon", f"{site} balloon")
    return concept("site", site, site)


def _elapsed(draft: Draft, line: Line) -> list[Json]:
    """Without dates the distance from the opening of the log is all that can be given of the time."""
    if not draft.case.deidentified:
        return []
    seconds = {"value": draft.since_opening(line.said_at), "unit": "s", "system": UNITS, "code": "s"}
    return [{"code": concept("part", "elapsed", "Time since the log was opened"), "valueQuantity": seconds}]


def _numbers(entry: Entry | None) -> list[Json]:
    """The two pressures of a blood pressure; or the number that was said beside
    the value: the volume at which a pressure was read or a leak test begun."""
    if entry is None or entry.second is None:
        return []
    second = quantity(entry.second, entry.second_unit)
    if _is_pair(entry) and entry.number is not None:
        first = quantity(entry.number, entry.unit)
        return [
            {"code": _part("systolic", "Systolic pressure", codes.SYSTOLIC), "valueQuantity": first},
            {"code": _part("diastolic", "Diastolic pressure", codes.DIASTOLIC), "valueQuantity": second},
        ]
    code, text = ("volume", "Volume") if entry.second_unit == "mL" else ("second", "Second number")
    return [{"code": concept("part", code, text), "valueQuantity": second}]


def _part(code: str, text: str, loinc: tuple[str, str]) -> Json:
    own = concept("part", code, text)
    return {"coding": [*codes.loinc(loinc), *own["coding"]], "text": text}


def _detail(entry: Entry | None) -> list[Json]:
    if entry is None or not entry.detail:
        return []
    return [{"code": concept("part", "detail", "Detail"), "valueString": entry.detail}]


def _administration(draft: Draft, line: Line) -> Json:
    """An administration. The medication is named as it was said; no code is guessed for it."""
    entry = line.entry
    title = draft.case.procedure.title_of(entry.kind)
    said = named(entry.detail or "", entry.value if isinstance(entry.value, str) else "", title)
    since = f"{draft.since_opening(line.said_at):g} s after the log was opened"
    return {
        "resourceType": "MedicationAdministration",
        "text": paragraphs(f"Line {line.number}, {status(line)}: {sentence(draft.case.procedure, entry)}"),
        "identifier": _identifiers(draft, line),
        "partOf": [draft.of_its_tube("procedure", line)],
        "status": "entered-in-error"
        if line.status == "struck"
        else "in-progress"
        if _runs(draft, line)
        else "completed",
        "medicationCodeableConcept": {"text": said},
        "subject": draft.ref("patient"),
        "context": draft.ref("encounter"),
        **_when_given(draft, line),
        "note": [*([{"text": since}] if draft.case.deidentified else []), *notes(draft, line)],
        "dosage": {
            "text": sentence(draft.case.procedure, entry),
            "dose": quantity(entry.number, entry.unit),
        }
        if entry.number is not None
        else None,
    }


def _ran(draft: Draft, line: Line) -> Infusion | None:
    """The infusion that this line began, if it stands and did."""
    if line.entry.value != STARTED:
        return None
    began = (ran for ran in infusions(draft.case.happened) if ran.started and ran.started.number == line.number)
    return next(began, None)


def _runs(draft: Draft, line: Line) -> bool:
    ran = _ran(draft, line)
    return ran is not None and ran.stopped is None


def _when_given(draft: Draft, line: Line) -> Json:
    """A moment; of an infusion from when to when it ran, open while it runs."""
    ran = _ran(draft, line)
    if ran is None:
        return {"effectiveDateTime": draft.when(line.said_at)}
    end = draft.when(ran.stopped.said_at) if ran.stopped else None
    return {"effectivePeriod": {"start": draft.when(line.said_at), "end": end}}
