"""The resources around the lines: patient, tube, procedure, people, and this software.

Nothing is guessed. A case has no patient's name, and its label is never taken for one.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from log.definition.kinds import Group
from log.exports.fhir.parts import Draft, Json, concept, identifier, named, of_tube, paragraphs
from log.state.episode import Episode
from log.summaries.complications import complications
from log.summaries.whole import Whole
from log.words.wording import shown

PATIENT, SOFTWARE, TUBE, PROCEDURE, USE = "patient", "software", "tube", "procedure", "use"
ENCOUNTER = "encounter"
"""The names of these parts inside the bundle."""

NULL_FLAVOR = "http://terminology.hl7.org/CodeSystem/v3-NullFlavor"

TAMPONADE = "Balloon tamponade of bleeding varices"

WITHOUT_A_TUBE: tuple[Group, ...] = ("kit", "test", "given", "vital", "beside")
"""Groups of kinds of entry that say nothing of a tube in the patient."""

ROLES = ("operator", "assistant", "scribe", "anaesthetist")
"""Fields of the block of identifiers that name people who were there."""

WRITERS = ("operator", "scribe")
"""Those whose entries the log is made of."""

USE_STATUS = {"preparation": "intended", "in-progress": "active", "completed": "completed"}
"""Procedure.status -> DeviceUseStatement.status."""


def people(draft: Draft) -> dict[str, str]:
    """Role -> name, for those who are named."""
    return {role: text for role in ROLES if (text := getattr(draft.identifiers, role))}


def person(role: str) -> str:
    """The name of a person's resource inside the bundle."""
    return f"practitioner/{role}"


def resources(draft: Draft) -> Iterator[tuple[str, Json]]:
    """Everything but the lines, each with its name inside the bundle."""
    yield PATIENT, _patient(draft)
    yield ENCOUNTER, _encounter(draft)
    yield SOFTWARE, _software(draft)
    for role, text in people(draft).items():
        yield person(role), _practitioner(role, text)
    for tube in draft.case.tubes:
        yield of_tube(TUBE, tube.number), _tube(draft, tube)
        yield of_tube(PROCEDURE, tube.number), _procedure(draft, tube)
        if use_known(draft.case, tube):
            yield of_tube(USE, tube.number), _use(draft, tube)


def use_known(case: Whole, tube: Episode) -> bool:
    """True if there is anything to say of the tube's use: DeviceUseStatement has no status for "not known"."""
    return status(case, tube) in USE_STATUS


def status(case: Whole, tube: Episode) -> str:
    """Procedure.status, which runs until the tube is out, not until it is placed.

    `completed`: the tube came out. `in-progress`: the log has it in, whether or not anybody still listens.
    `preparation`: the log is open and nothing was said that needs a tube in the patient. `unknown`: whatever else,
    above all entries about a tube that nobody said was put in. Never `not-done` or `stopped`: that nothing was said
    of it does not mean that nothing happened, and why a tube came out is not for the log to judge.
    """
    if tube.removed is not None:
        return "completed"
    if tube.inserted is not None:
        return "in-progress"
    without = case.procedure.kinds_of(*WITHOUT_A_TUBE)
    only_prepared = all(step.entry.kind in without for step in tube.steps)
    return "preparation" if only_prepared and case.record.closed is None else "unknown"


def _numbered(draft: Draft, tube: Episode) -> str:
    return f", tube {tube.number}" if len(draft.case.tubes) > 1 else ""


def _period(draft: Draft, tube: Episode) -> Json:
    """From when the tube went in first to when it came out; open while it is in."""
    return {
        "start": draft.when(tube.inserted.said_at) if tube.inserted else None,
        "end": draft.when(tube.removed.said_at) if tube.removed else None,
    }


def _patient(draft: Draft) -> Json:
    """With both identifiers if they were written down; of which register they are is not known, so each has a system
    of our own. One that is a date in full, as ISO 8601 writes it, is the date of birth."""
    given = draft.identifiers
    values = (("first", given.patient_first), ("second", given.patient_second))
    known = [
        {"type": {"text": f"{which} identifier"}, **identifier(f"patient-{which}", value)}
        for which, value in values
        if value
    ]
    known_as = ", ".join(str(each["value"]) for each in known)
    return {
        "resourceType": "Patient",
        "text": paragraphs(f"Patient, identified by: {known_as}" if known_as else "Patient, not identified here"),
        "identifier": known,
        "birthDate": next((value for _, value in values if _is_birth_date(value, draft.case.opened.logged_at)), None),
    }


def _is_birth_date(text: str, opened: datetime) -> bool:
    """A day before the case, written in full: 1961-05-04. No other writing of a date can be read in one way only."""
    try:
        return len(text) == len("1961-05-04") and date.fromisoformat(text) <= opened.date()
    except ValueError:
        return False


def _encounter(draft: Draft) -> Json:
    """The stay in which it happened: the log knows no more of it than that it went on while it was kept. Its class is
    not known, and the log's end is not that of the stay."""
    opened, closed = draft.case.opened, draft.case.record.closed
    return {
        "resourceType": "Encounter",
        "text": paragraphs("The stay in which the log was kept; nothing else of it is known here"),
        "status": "in-progress" if closed is None else "unknown",
        "class": {"system": NULL_FLAVOR, "code": "UNK", "display": "unknown"},
        "subject": draft.ref(PATIENT),
        "period": {"start": draft.when(opened.logged_at)},
        "location": [{"location": {"display": draft.identifiers.place}}] if draft.identifiers.place else [],
    }


def _software(draft: Draft) -> Json:
    opened, cautions = draft.case.opened, draft.case.procedure.cautions
    return {
        "resourceType": "Device",
        "text": paragraphs(f"Software: {opened.software}", *cautions),
        "deviceName": [{"name": named(opened.software), "type": "other"}],
        "type": {"text": "software that keeps a procedure log"},
        "note": [{"text": caution} for caution in cautions],
    }


def _practitioner(role: str, text: str) -> Json:
    return {
        "resourceType": "Practitioner",
        "text": paragraphs(f"{role.capitalize()}: {text}"),
        "name": [{"text": text}],
    }


def _tube(draft: Draft, tube: Episode) -> Json:
    """One tube. Whether what was written down is a lot or a serial number nobody said, so it is an identifier; of which
    of several tubes it is nobody said either."""
    of_several = len(draft.case.tubes) > 1
    procedure, lot, size = draft.case.procedure, draft.identifiers.device_lot, draft.identifiers.device_size
    return {
        "resourceType": "Device",
        "text": paragraphs(f"{procedure.title}, {procedure.tube.lumens} lumens{_numbered(draft, tube)}"),
        "identifier": [{"type": {"text": "lot or serial number"}, **identifier("device-lot-or-serial", lot)}]
        if lot and not of_several
        else [],
        "type": concept("definition", procedure.id, procedure.title),
        "property": [{"type": {"text": "size"}, "valueCode": [{"text": size}]}] if size else [],
        "note": [{"text": f"lot or serial number of one of the tubes: {lot}"}] if lot and of_several else [],
    }


def _procedure(draft: Draft, tube: Episode) -> Json:
    state = status(draft.case, tube)
    return {
        "resourceType": "Procedure",
        "text": paragraphs(f"{TAMPONADE}{_numbered(draft, tube)}, according to the log: {state.replace('-', ' ')}"),
        "status": state,
        "code": concept("procedure", "balloon-tamponade", TAMPONADE),
        "statusReason": _status_reason(draft, tube),
        "subject": draft.ref(PATIENT),
        "encounter": draft.ref(ENCOUNTER),
        "performedPeriod": _period(draft, tube),
        "performer": [
            {"function": {"text": role}, "actor": draft.ref(person(role))} for role in people(draft) if role != "scribe"
        ],
        "location": {"display": draft.identifiers.place},
        "reasonCode": [{"text": shown(line.entry)} for line in draft.case.said("indication")],
        "outcome": _outcome(draft, tube),
        "complication": [{"text": one.name} for one in complications(tube.steps)],
        "usedReference": [draft.ref(of_tube(TUBE, tube.number))] if state in ("in-progress", "completed") else [],
    }


def _status_reason(draft: Draft, tube: Episode) -> Json | None:
    """Why it ended, where the log has it: the tube was cut. It never guesses why a tube came out."""
    cut = any(line.entry.value == "cut" for line in tube.said("emergency"))
    return {"text": "cut in an emergency"} if cut and tube.removed is not None else None


def _outcome(draft: Draft, tube: Episode) -> Json | None:
    """The outcome that was said, else the last word on the bleeding."""
    said = tube.last("outcome") or tube.last("bleeding")
    if said is None:
        return None
    about = "" if said.entry.kind == "outcome" else "bleeding "
    return {"text": f"{about}{shown(said.entry)}"}


def _use(draft: Draft, tube: Episode) -> Json:
    """When the tube was in. The resource is of maturity 0 in R4: a draft that R5 replaced (reference 5.4)."""
    use = USE_STATUS[status(draft.case, tube)]
    return {
        "resourceType": "DeviceUseStatement",
        "text": paragraphs(f"{draft.case.procedure.title}{_numbered(draft, tube)}: use {use} according to the log"),
        "status": use,
        "subject": draft.ref(PATIENT),
        "timingPeriod": _period(draft, tube),
        "device": draft.ref(of_tube(TUBE, tube.number)),
    }
