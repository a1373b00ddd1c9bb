"""The case as an HL7 FHIR document, for the hospital's record system: every line with its value, unit, time, status
and origin, and a narrative that says the same to readers.

Written for FHIR R4 (4.0.1), whose status codes and invariants hold (reference 5.4). R4B (4.3.0) reworked other
resources than these and should read it alike: tried with a library for R4B, not checked page by page. R5 replaced
DeviceUseStatement and cannot read all of it.

Units are UCUM codes. Vital signs and haemoglobin have LOINC codes too, those that the reference lists (5.5). All else
is coded in systems of our own, named urn:tamponade-log:..., beside its text: for volume and pressure of these
balloons no LOINC code was found, none of LOINC's document types fits, and SNOMED CT, CPT and ACHI may only be used
under licences that are a hospital's to hold. The FHIR specification is in the public domain (CC0); UCUM codes may be
used free of charge (both from memory).
"""

from __future__ import annotations

from log.exports.fhir.document import written
from log.exports.fhir.parts import Draft
from log.store.chain import fingerprint
from log.summaries.whole import Whole


def as_fhir(case: Whole) -> str:
    """The document as JSON; the same case gives the same bytes.

    All ids are made from the fingerprint of the case's first fact, so that a later export of the same case speaks of
    the same things under the same ids. Those of a case without identity are made from its own content instead: they
    must not lead back to the case it came from, and must differ between two cases.
    """
    if not case.deidentified:
        return written(Draft(case, case.links[0].sha256))
    return written(Draft(case, fingerprint(written(Draft(case, "")))))
