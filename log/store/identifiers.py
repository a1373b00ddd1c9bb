"""Names of patient and team and the tube's serial number: an optional block that lies beside the facts.

A case needs none of it: it is known by its label. Where a site wants names in the note, they are written here, and can
be removed again without a fact being touched.

The facts hold only a salted hash of the block, so a name cannot be found by trying names.
"""

from __future__ import annotations

import secrets
from typing import Annotated

from pydantic import Field, ValidationError

from log.basics.entry import Frozen
from log.basics.errors import InputError
from log.store.chain import canonical

Text = Annotated[str, Field(max_length=200)]


class Identifiers(Frozen):
    """Names for the top of a procedure note, which the log cannot know. Everything may be left out."""

    patient_first: Text = ""
    """First of the patient's two identifiers."""
    patient_second: Text = ""
    place: Text = ""
    operator: Text = ""
    assistant: Text = ""
    scribe: Text = ""
    anaesthetist: Text = ""
    device_size: Text = ""
    device_lot: Text = ""
    """Lot or serial number of the tube."""
    salt: str = ""
    """A random part: without it a name could be found by trying out which one gives the fingerprint."""


def sealed(identifiers: Identifiers) -> bytes:
    """The block with a new random part, as it is kept."""
    return canonical(identifiers.model_copy(update={"salt": secrets.token_hex(16)}).model_dump()).encode()


def read(block: bytes) -> Identifiers:
    """The block as it was written. Raises InputError for what is none."""
    try:
        return Identifiers.model_validate_json(block)
    except ValidationError:
        raise InputError("the block of identifiers cannot be read", "write it again with: tamponade identify") from None
