"""Totals as Observations: for how long each balloon of each tube was up and the most that was in it, what came out of
the ports, and the units of blood. They follow from the lines and are `preliminary` while the log can still change.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from log.exports.fhir.around import PATIENT, PROCEDURE
from log.exports.fhir.parts import Draft, Json, concept, of_tube, paragraphs, quantity
from log.state.episode import Episode
from log.state.fluid_balance import balances, given

HOUR = timedelta(hours=1)


def resources(draft: Draft) -> Iterator[tuple[str, Json]]:
    """Each with its name inside the bundle."""
    for tube in draft.case.tubes:
        for site in draft.case.procedure.tube.balloons:
            yield from _balloon(draft, tube, site)
    yield from _of_the_case(draft)


def _balloon(draft: Draft, tube: Episode, site: str) -> Iterator[tuple[str, Json]]:
    """Nothing of a balloon that was never up in the patient."""
    up = tube.up_for(site, draft.case.until)
    if not up:
        return
    whose = f"{site} balloon{f', tube {tube.number}' if len(draft.case.tubes) > 1 else ''}"
    period = {
        "start": draft.when(tube.inserted.said_at) if tube.inserted else None,
        "end": draft.when(tube.removed.said_at if tube.removed else draft.case.until),
    }
    where = {
        "partOf": [draft.ref(of_tube(PROCEDURE, tube.number))],
        "bodySite": concept("site", f"{site}-balloon", f"{site} balloon"),
        "effectivePeriod": period,
    }
    name = f"total/{tube.number}/{site}"
    hours = round(up / HOUR, 2)
    yield f"{name}/h", _total(draft, "inflated-time", f"Inflated time, {whose}", hours, "h", where)
    if most := tube.most_in(site):
        yield f"{name}/mL", _total(draft, "most-volume", f"Most volume, {whose}", most, "mL", where)


def _of_the_case(draft: Draft) -> Iterator[tuple[str, Json]]:
    case = draft.case
    when = {"effectiveDateTime": draft.when(case.until)}
    ports = balances(case.procedure, case.happened, case.until)
    if ports:
        net = sum(one.net for one in ports)
        yield "total/out", _total(draft, "net-output", "Out of the ports, net of lavage", net, "mL", when)
    for number, one in enumerate(given(case.procedure, case.happened, case.situation)):
        text = f"{one.name or 'name not said'}, in all"
        yield f"total/given/{number}", _total(draft, "given-in-all", text, one.amount, one.unit, when)


def _total(draft: Draft, code: str, text: str, value: float, unit: str, where: Json) -> Json:
    amount = quantity(value, unit)
    return {
        "resourceType": "Observation",
        "text": paragraphs(f"{text}: {amount['value']} {unit}"),
        "status": "final" if draft.case.record.closed is not None else "preliminary",
        "code": {**concept("total", code, text), "text": text},
        "subject": draft.ref(PATIENT),
        "encounter": draft.ref("encounter"),
        "valueQuantity": amount,
        **where,
    }
