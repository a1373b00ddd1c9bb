"""Codes of others: LOINC for vital signs and laboratory values (reference 5.5), and HL7's categories.

LOINC may be used free of charge under its licence, which asks for a notice: the document carries it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal

Json = dict[str, Any]

LOINC = "http://loinc.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"

NOTICE = "The LOINC codes in this document are the copyright of their owner and used under the licence at loinc.org."

SIGNS: Mapping[str, tuple[tuple[str, str], ...]] = MappingProxyType(
    {
        "blood pressure": (("85354-9", "Blood pressure panel"),),  # published: P85
        "systolic pressure": (("8480-6", "Systolic blood pressure"),),  # published: P85
        "heart rate": (("8867-4", "Heart rate"),),  # from memory, no citation
        "respiratory rate": (("9279-1", "Respiratory rate"),),  # partly seen in P85
        "oxygen saturation": (  # from memory, no citation
            ("2708-6", "Oxygen saturation in arterial blood"),
            ("59408-5", "Oxygen saturation by pulse oximetry"),
        ),
        "haemoglobin": (("718-7", "Haemoglobin in blood"),),  # from memory, no citation
    }
)
"""Detail of a vital sign -> its LOINC codes. Those that the reference does not list have a code of our own alone."""

SYSTOLIC, DIASTOLIC = ("8480-6", "Systolic blood pressure"), ("8462-4", "Diastolic blood pressure")

LABORATORY = frozenset({"haemoglobin", "lactate", "inr"})
"""Details that are measured in blood; every other vital sign is read at the bedside."""

NO_SIGN = frozenset({"encephalopathy grade", "gcs", "urine output"})
"""Details that are examined and no vital sign in FHIR's sense."""


def loinc(*codes: tuple[str, str]) -> list[Json]:
    """Codings of LOINC."""
    return [{"system": LOINC, "code": code, "display": display} for code, display in codes]


def category(detail: str) -> Json:
    """The category of a vital sign or laboratory value."""
    code: Literal["laboratory", "exam", "vital-signs"] = "vital-signs"
    if detail in LABORATORY:
        code = "laboratory"
    elif detail in NO_SIGN:
        code = "exam"
    return {"coding": [{"system": CATEGORY, "code": code}]}
