"""What FHIR R4 (4.0.1) asks of the resources we write and the library does not look at: required value sets,
invariants, references and narrative. Source of all of it: [from memory: M25], HL7 FHIR R4 resource pages, unless said
otherwise beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree

Json = dict[str, Any]

EVENT_STATUS = {
    "preparation",
    "in-progress",
    "not-done",
    "on-hold",
    "stopped",
    "completed",
    "entered-in-error",
    "unknown",
}
OBSERVATION_STATUS = {
    "registered",
    "preliminary",
    "final",
    "amended",
    "corrected",
    "cancelled",
    "entered-in-error",
    "unknown",
}

CODES: dict[tuple[str, str], set[str]] = {
    ("Bundle", "type"): {
        "document",
        "message",
        "transaction",
        "transaction-response",
        "batch",
        "batch-response",
        "history",
        "searchset",
        "collection",
    },
    ("Composition", "status"): {"preliminary", "final", "amended", "entered-in-error"},
    ("Observation", "status"): OBSERVATION_STATUS,
    ("DetectedIssue", "status"): OBSERVATION_STATUS,
    ("DetectedIssue", "severity"): {"high", "moderate", "low"},
    ("Communication", "status"): EVENT_STATUS,
    ("Procedure", "status"): EVENT_STATUS,
    ("MedicationAdministration", "status"): EVENT_STATUS - {"preparation"},
    ("Encounter", "status"): {
        "planned",
        "arrived",
        "triaged",
        "in-progress",
        "onleave",
        "finished",
        "cancelled",
        "entered-in-error",
        "unknown",
    },
    ("DeviceUseStatement", "status"): {"active", "completed", "entered-in-error", "intended", "stopped", "on-hold"},
}
"""Codes of the required value sets, by resource and element."""

REQUIRED: dict[str, tuple[str, ...]] = {
    "Bundle": ("type",),
    "Composition": ("status", "type", "date", "author", "title"),
    "Communication": ("status",),
    "Procedure": ("status", "subject"),
    "Observation": ("status", "code"),
    "DetectedIssue": ("status",),
    "DeviceUseStatement": ("status", "subject", "device"),
    "MedicationAdministration": ("status", "medicationCodeableConcept", "subject"),
    "Provenance": ("target", "recorded", "agent"),  # published: P83
    "Encounter": ("status", "class"),
    "Patient": (),
    "Practitioner": (),
    "Device": (),
}

NARRATIVE_STATUS = {"generated", "extensions", "additional", "empty"}
NAME_TYPE = {
    "udi-label-name",
    "user-friendly-name",
    "patient-reported-name",
    "manufacturer-name",
    "model-name",
    "other",
}
ENTITY_ROLE = {"derivation", "revision", "quotation", "source", "removal"}
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
OPERATION = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
CODE_SYSTEMS: dict[str, set[str]] = {
    ABSENT: {
        "unknown",
        "asked-unknown",
        "temp-unknown",
        "not-asked",
        "asked-declined",
        "masked",
        "not-applicable",
        "unsupported",
        "as-text",
        "error",
        "not-a-number",
        "negative-infinity",
        "positive-infinity",
        "not-performed",
        "not-permitted",
    },
    OPERATION: {"CREATE", "DELETE", "UPDATE", "APPEND", "NULLIFY"},
    "http://terminology.hl7.org/CodeSystem/observation-category": {"vital-signs", "laboratory", "exam"},
    "http://terminology.hl7.org/CodeSystem/v3-NullFlavor": {"UNK"},
    "http://loinc.org": {"85354-9", "8480-6", "8462-4", "8867-4", "9279-1", "2708-6", "59408-5", "718-7"},
}
"""The systems of others that we take codes from, LOINC only what reference 5.5 lists. SNOMED CT, CPT and ACHI are none
of them."""

UCUM = {
    "mL": "from memory: M24",
    "mm[Hg]": "published: P79",
    "cm": "published: P80",
    "kg": "published: P80",
    "s": "from memory: M24",
    "g": "from memory: M24",
    "mg": "from memory: M24",  # the metric prefix m on g
    "ug": "from memory: M24",  # the metric prefix u on g
    "[IU]": "from memory: M24",
    "{unit}": "from memory: M24",
    "/min": "published: P80",
    "%": "published: P80",
    "g/L": "from memory: M24",
    "h": "from memory: M24",
    "deg": "from memory, no citation",
}
"""The codes of reference 5.3 that may occur, with their standing there."""

ELEMENTS = {"div", "p", "ul", "li", "span", "strong", "table", "thead", "tbody", "tr", "th", "td"}
"""Those of the elements that invariant txt-1 allows which we use; `del` and `script` are not among the allowed."""

DATE_TIME = re.compile(r"\d{4}(-\d\d(-\d\d(T\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d))?)?)?")
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
CODE = re.compile(r"[^\s]+(\s[^\s]+)*")


def resources(bundle: Json, kind: str = "") -> list[Json]:
    """The resources in a bundle, of one kind or all."""
    found = [entry["resource"] for entry in bundle["entry"]]
    return [each for each in found if kind in ("", each["resourceType"])]


def problems(bundle: Json) -> list[str]:
    """Everything that is wrong, in words."""
    return [*_bundle(bundle), *(f for each in resources(bundle) for f in _resource(each)), *_anywhere(bundle)]


def _bundle(bundle: Json) -> Iterator[str]:
    yield from _resource(bundle)
    urls = [entry.get("fullUrl", "") for entry in bundle["entry"]]
    if len(set(urls)) != len(urls) or "" in urls:
        yield "bdl-7: fullUrl missing or twice"
    if bundle["type"] == "document":
        if not all(bundle.get("identifier", {}).get(part) for part in ("system", "value")):
            yield "bdl-9: a document must have an identifier with a system and a value"
        if not INSTANT.fullmatch(bundle.get("timestamp", "")):
            yield "bdl-10: a document must have a date"
    if bundle["entry"][0]["resource"]["resourceType"] != "Composition":
        yield "bdl-11: a document must begin with a Composition"
    known = set(urls)
    yield from (f"{ref} is not in the bundle" for ref in _references(bundle) if ref not in known)
    yield from (f"{url} is not spoken of" for url in sorted(known - _reachable(bundle)))


def _references(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(part.get("reference"), str):
            yield part["reference"]
        for each in part.values():
            yield from _references(each)
    if isinstance(part, list):
        for each in part:
            yield from _references(each)


def _reachable(bundle: Json) -> set[str]:
    """What the Composition leads to, and the Provenance of it."""
    by_url = {entry["fullUrl"]: entry["resource"] for entry in bundle["entry"]}
    found, todo = set[str](), [bundle["entry"][0]["fullUrl"]]
    while todo:
        url = todo.pop()
        if url in by_url and url not in found:
            found.add(url)
            todo += _references(by_url[url])
    about = {url for url, each in by_url.items() if each["resourceType"] == "Provenance"}
    return found | {url for url in about if set(_references(by_url[url]["target"])) <= found}


def _resource(resource: Json) -> Iterator[str]:
    kind = resource["resourceType"]
    if kind not in REQUIRED:
        yield f"{kind} is not known here"
        return
    yield from (f"{kind} has no {name}" for name in REQUIRED[kind] if name not in resource)
    for name in (name for of, name in CODES if of == kind and name in resource):
        if resource[name] not in CODES[kind, name]:
            yield f"{kind}.{name} {resource[name]!r} is not in its value set"
    match kind:
        case "Composition":
            sections = resource.get("section", [])
            if any("text" not in section and "entry" not in section for section in sections):
                yield "cmp-1: a section must contain text, entries or sections"
        case "Observation":
            values = [name for name in resource if name.startswith("value")]
            measured = [part for part in resource.get("component", []) if "valueQuantity" in part]
            if len(values) + ("dataAbsentReason" in resource) != (0 if _is_pressure(measured) else 1):
                yield f"obs-6: {values} and dataAbsentReason, or neither"
            codes = [part["code"] for part in resource.get("component", [])]
            if values and resource.get("code") in codes:
                yield "obs-7: a component repeats the code of the value"
        case "MedicationAdministration":
            if ("effectiveDateTime" in resource) + ("effectivePeriod" in resource) != 1:
                yield "MedicationAdministration.effective[x] is missing or there twice"
            if "dosage" in resource and "dose" not in resource["dosage"]:
                yield "mad-1: a dosage has to have a dose or a rate"
        case "Provenance":  # published: P83
            if not all(agent.get("who") for agent in resource.get("agent", [])):
                yield "Provenance.agent has no who"
            if any(entity["role"] not in ENTITY_ROLE for entity in resource.get("entity", [])):
                yield "Provenance.entity.role is not in its value set"
        case "Device":
            if any(name.get("type") not in NAME_TYPE or "name" not in name for name in resource.get("deviceName", [])):
                yield "Device.deviceName without a name, or of a type that is not in its value set"


def _is_pressure(measured: list[Json]) -> bool:
    """A blood pressure has two components and no value of its own (R4, vital signs: bp)."""
    codes = {coding["code"] for part in measured for coding in part["code"]["coding"]}
    return {"systolic", "diastolic"} <= codes


def _anywhere(part: Any, name: str = "") -> Iterator[str]:
    """What holds in every place."""
    match part:
        case dict():
            yield from _object(part)
            for key, each in part.items():
                yield from _anywhere(each, key)
        case list():
            if not part:
                yield f"{name}: an empty list"
            for each in part:
                yield from _anywhere(each, name)
        case str():
            yield from _text(part, name)


def _object(part: Json) -> Iterator[str]:
    if not part:
        yield "ele-1: an element without content"
    if "div" in part and part.get("status") not in NARRATIVE_STATUS:
        yield "Narrative.status is not in its value set"
    if "start" in part and "end" in part and part["start"] > part["end"]:
        yield "per-1: a period ends before it starts"
    if "code" in part and "system" not in part and isinstance(part["code"], str):
        yield "a code without its system (qty-3)"
    system = part.get("system", "")
    if system in CODE_SYSTEMS and part["code"] not in CODE_SYSTEMS[system]:
        yield f"{part['code']} is not in {system}"
    if system == "http://unitsofmeasure.org" and part["code"] not in UCUM and not part["code"].startswith("{"):
        yield f"{part['code']} is no UCUM code of ours"
    ours = system.startswith("urn:tamponade-log:")
    if system and not ours and system not in {*CODE_SYSTEMS, "http://unitsofmeasure.org"}:
        yield f"{system} is not for us to use"


def _text(text: str, name: str) -> Iterator[str]:
    if not text.strip():
        yield f"{name}: an empty text"
    if name in ("effectiveDateTime", "occurredDateTime", "identifiedDateTime", "date", "time", "start", "end"):
        if not DATE_TIME.fullmatch(text):
            yield f"{name}: {text} is no dateTime"
    elif name in ("issued", "recorded", "timestamp") and not INSTANT.fullmatch(text):
        yield f"{name}: {text} is no instant"
    elif name in ("code", "status", "severity") and not CODE.fullmatch(text):
        yield f"{name}: {text!r} is no code"
    elif name == "div":
        yield from _narrative(text)


def _narrative(div: str) -> Iterator[str]:
    try:
        root = ElementTree.fromstring(div)
    except ElementTree.ParseError as error:
        yield f"narrative is not well-formed: {error}"
        return
    if not "".join(root.itertext()).strip():
        yield "txt-2: narrative without content"
    for element in root.iter():
        namespace, _, tag = element.tag.rpartition("}")
        if namespace != "{http://www.w3.org/1999/xhtml" or tag not in ELEMENTS:
            yield f"txt-1: <{element.tag}> in narrative"
        if element.attrib not in ({}, {"style": "text-decoration: line-through"}):
            yield f"txt-1: attributes {element.attrib} in narrative"
