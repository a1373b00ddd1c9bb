"""The definition that a case was kept by: the copy that lies in the case itself, so that files edited since then change
nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from functools import lru_cache

from pydantic import ValidationError

from log.basics.errors import InputError
from log.basics.visible import harmless
from log.definition.problem import spelled_out
from log.definition.procedure import Procedure
from log.definition.reads import Read, lacking
from log.facts.events import CaseOpened, Fact


def of_case(facts: Iterable[Fact], reads: Sequence[Read]) -> Procedure:
    """The definition of a case. `reads`: what the rules read; what came later than the case may be missing.

    Raises InputError if the case has none that this version can use.
    """
    opened = next((fact for fact in facts if isinstance(fact, CaseOpened)), None)
    if opened is None:
        raise InputError("the case has no opening, so its definition is not known", "restore a backup")
    try:
        procedure = _read(opened.definition)
        lacks = lacking(procedure, reads, old=True)
    except ValidationError as error:
        lacks = spelled_out(error)
    for where, what in lacks:
        raise InputError(
            f"case {opened.case}: its definition cannot be used ({where}: {what})",
            "open it with the version that made it",
        )
    return procedure


@lru_cache(maxsize=8)
def _read(text: str) -> Procedure:
    """One object for one text: a folder of cases, or a case that is opened again, is kept by the same definition.
    Raises ValidationError."""
    return Procedure.model_validate_json(_harmless(text))


def _harmless(text: str) -> str:
    """A definition's JSON, with nothing in it that would steer a terminal: the case may come from anywhere."""
    if "\\u" not in text and text.isprintable():
        return text
    try:
        return json.dumps(harmless(json.loads(text)))
    except (ValueError, RecursionError):  # said better where it is read
        return text
